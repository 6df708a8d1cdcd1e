"""Protecting diodes that conduct at work."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

PAIRS = Path(__file__).parents[3] / "samples" / "mistakes"
RULE = "tube.guard-diode-conducts"


def test_a_diode_that_takes_a_tail_s_current(
    sample: Callable[..., Review], only: Callable[..., object]
) -> None:
    looked = sample(RULE, "wrong")
    found = only(looked, RULE)
    assert (found.at, found.level, found.state) == (("D1", "V1A"), "notice", "warm")
    assert looked.solutions["warm"].wave("TAIL").dc == pytest.approx(0.65, abs=0.1)
    assert found.evidence["current"].value > 1e-3
    assert found.remedy == "Turn D1 round, so that it blocks at work"


def test_a_diode_that_ties_grid_and_cathode(
    sample: Callable[..., Review], only: Callable[..., object]
) -> None:
    found = only(sample(f"{RULE}/grid", "wrong"), RULE)
    assert (found.at, found.level) == (("D1", "V1B"), "notice")


@pytest.mark.parametrize(
    "cathode",
    [
        # A diode makes the bias of a stage whose cathode has no negative supply.
        "V1.cathode --[D1 1N4007]-> gnd",
        "V1.cathode --[D1 1N4007]-> gnd\nV1.cathode --[R9 1k]-- gnd",
    ],
)
def test_a_diode_that_makes_the_bias(cathode: str, review: Callable[[str], Review]) -> None:
    looked = review(
        "tube V1 6C4\nB1 --+[E1 200 V 50 mA]-- gnd\nsignal IN 0.1 V 1 kHz\nIN -- V1.grid\n"
        f"V1.grid --[R1 470k]-- gnd\nB1 --[R2 22k 2 W]-- V1.plate\n{cathode}\n"
        "V1.plate --[C1 100 nF 400 V]-- OUT --[R3 470k]-- gnd\n"
    )
    assert looked.solutions["warm"].converged
    assert [f.rule for f in looked.findings if f.rule == RULE] == []
