"""The second grid of a long-tailed pair: held by a capacitor, by gnd, or by nothing."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

PAIRS = Path(__file__).parents[3] / "samples" / "mistakes"
RULE = "signal.second-grid-loose"
PAIR = """
tube V1 12AX7
B1 --+[E1 300 V]-- gnd
signal IN 0.2 V 1 kHz
IN --[C1 22 nF 400 V]-- V1A.grid --[R1 1M]-- JN
{grid}
V1A.cathode -- K -- V1B.cathode
K --[R3 820 ohm]-- JN --[R4 47k 0.5 W]-- gnd
B1 --[R5 82k 0.5 W]-- V1A.plate --[C3 22 nF 400 V]-- OUT1 --[R7 1M]-- gnd
B1 --[R6 100k 0.5 W]-- V1B.plate --[C4 22 nF 400 V]-- OUT2 --[R8 1M]-- gnd
"""


@pytest.mark.parametrize(
    ("grid", "ohm"),
    [
        ("V1B.grid --[R2 1M]-- JN", 1e6),
        ("V1B.grid --[R2 47k]-- JN", 47e3),
        ("V1B.grid --[R2 46k9]-- JN", None),
        ("V1B.grid --[R2 1M]-- JN\nV1B.grid --[C2 100n 400 V]-- gnd", None),
        ("V1B.grid --[R2 1M]-- gnd", None),
        ("V1B.grid --[R2 1M]-- JN\nIN2 --[C2 22n 400 V]-- V1B.grid\nsignal IN2 0.2 V 1 kHz", None),
        ("V1B.grid --[R2 1M]-- JN\nK --+[C9 100 uF 100 V]-- gnd", None),
        # From a microfarad on a point holds still; a nanofarad against hum does not hold a tail.
        ("V1B.grid --[R2 1M]-- JN\nK --[C9 1.05 uF 100 V]-- gnd", None),
        ("V1B.grid --[R2 1M]-- JN\nK --[C9 0.95 uF 100 V]-- gnd", 1e6),
        ("V1B.grid --[R2 1M]-- JN\nK --[C9 1 nF 100 V]-- gnd", 1e6),
    ],
)
def test_what_holds_the_second_grid(
    grid: str, ohm: float | None, review: Callable[[str], Review]
) -> None:
    looked = review(PAIR.format(grid=grid))
    found = [f for f in looked.findings if f.rule == RULE]
    assert [(f.at, f.level) for f in found] == ([(("V1B", "R2"), "notice")] if ohm else [])
    assert [f.evidence["grid leak"].value for f in found] == ([pytest.approx(ohm)] if ohm else [])


def test_a_capacitor_to_the_pairs_own_tail_holds_nothing(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample("signal.second-grid-loose/tail", "wrong"), "signal.second-grid-loose")
    assert found.at == ("V1B", "C2")
    assert "C2 ties its grid to TOP" in found.message
    assert found.remedy.startswith("Take C2 to gnd")


OFF = "signal.second-grid-off-feedback"


def test_a_second_grid_at_gnd_with_the_feedback_below_the_tail(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(OFF, "wrong"), OFF)
    assert (found.at, found.level) == (("C2", "V1B", "R14"), "notice")
    assert found.evidence["feedback"] == "FB"
    assert found.remedy == "Take C2 from gnd to FB"
    assert [f.rule for f in sample(OFF, "right").findings if f.rule == OFF] == []


@pytest.mark.parametrize(
    ("old", "new", "fires"),
    [
        ("T2.s1 --[R14 1k2 0.5 W]-- FB", "T2.s1 --[R14 1k2 0.5 W]-- gnd", False),
        ("GB --[R2 1M]-- TJ", "GB --[R2 49k]-- TJ", True),
        ("GB --[R2 1M]-- TJ", "GB --[R2 45k]-- TJ", False),
        # Fed back to the second grid as well: the pair has it there.
        ("GB --[R2 1M]-- TJ", "GB --[R2 1M]-- TJ\nT2.s1 --[R15 33k]-- GB", False),
    ],
)
def test_which_pairs_miss_the_feedback(
    old: str, new: str, fires: bool, review: Callable[[str], Review]
) -> None:
    text = (PAIRS / OFF / "wrong.tube").read_text("utf-8")
    assert old in text
    assert bool([f for f in review(text.replace(old, new)).findings if f.rule == OFF]) is fires


LOADS = "signal.inverter-loads-exchanged"
BRIDGE = "signal.bridge-driven-alike"


def test_the_larger_load_belongs_to_the_half_that_is_not_driven(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """100 kohm at the driven half, 82 at the other: 1.22 times."""
    found = only(sample(LOADS, "wrong"), LOADS)
    assert (found.at, found.level) == (("R5", "R6", "V1A"), "notice")
    assert found.evidence["ratio"].value == pytest.approx(100 / 82)
    assert found.remedy == "Exchange R5 and R6"


@pytest.mark.parametrize(("ohm", "told"), [("91k1", 0), ("90k9", 1), ("50k1", 1), ("49k9", 0)])
def test_how_unequal_the_loads_are(
    ohm: str, told: int, changed: Callable[[str, str, str, str], Review]
) -> None:
    looked = changed(LOADS, "wrong", "[R6 82k 0.5 W]", f"[R6 {ohm} 0.5 W]")
    assert len([f for f in looked.findings if f.rule == LOADS]) == told


def test_an_inverter_of_which_one_plate_is_used(
    changed: Callable[[str, str, str, str], Review],
) -> None:
    looked = changed(LOADS, "wrong", "GB -- V2B.grid", "gnd -- V2B.grid")
    assert [f for f in looked.findings if f.rule == LOADS] == []


def test_a_bridge_with_one_signal_on_both_grids(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(BRIDGE, "wrong"), BRIDGE)
    assert (found.at, found.level) == (("R4", "R3", "V1A", "V1B"), "notice")
    assert found.evidence["driven from"] == "DIV"


def test_two_followers_in_parallel_are_no_bridge(
    changed: Callable[[str, str, str, str], Review],
) -> None:
    written = "V1A.cathode --[R7 12k]-- --[M1 meter 200 uA 1k]-- V1B.cathode"
    instead = "V1A.cathode --[R7 47]-- OUT --[R9 47]-- V1B.cathode"
    looked = changed(BRIDGE, "wrong", written, instead)
    assert [f for f in looked.findings if f.rule == BRIDGE] == []
