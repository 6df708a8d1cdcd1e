"""Gain controls that leave no bias."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "grid.control-without-minimum"
WRONG = Path(__file__).parents[3] / "samples" / "mistakes" / RULE / "wrong.tube"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_a_control_alone_in_the_cathode(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(RULE, "wrong"), RULE)
    assert (found.at, found.level, found.certainty) == (("P1", "V1"), "notice", "likely")
    assert "about 180 ohm in series with P1" in found.remedy
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize(
    ("old", "new", "found"),
    [
        ("V1.cathode -- P1.top", "V1.cathode --[R9 1k]-- gnd\nV1.cathode -- P1.top", False),
        # A plate resistor.
        (
            "V1.plate -- L2.pri.1 --[C5 100p 500 V]-- B1\nL2.pri.2 -- B1",
            "B1 --[R9 22k 2 W]-- V1.plate",
            False,
        ),
        (
            "L1.sec.2 -- gnd",
            "L1.sec.2 -- AVC --[C9 100 nF 200 V]-- gnd\ngnd --+[E2 2 V]-- AVC",
            False,
        ),
        ("P1.bottom -- gnd\n", "P1.bottom -- P1.top\n", True),  # the other half joined to it
    ],
)
def test_who_has_another_bias_or_a_load(
    old: str, new: str, found: bool, review: Callable[[str], Review]
) -> None:
    """A second resistor, a plate resistor and a bias supply each hold the current."""
    text = WRONG.read_text("utf-8")
    assert old in text
    assert bool(told(review(text.replace(old, new)))) is found
