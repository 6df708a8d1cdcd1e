"""Ratings that are barely passed, and those of a tube that draws nothing in standby."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

STAGE = """tube V1 6AU6
B1 --+[E1 {volts} V]-- gnd
V1.grid --[R1 100k]-- gnd
V1.cathode --[R2 150 ohm]-- {foot}
V1.suppressor -- gnd
V1.screen --[R3 150k 1 W]-- B1
V1.screen --[C1 100 nF 400 V]-- gnd
B1 -- V1.plate
"""


def plate(looked: Review) -> list[tuple[str, str]]:
    return [(f.level, f.state) for f in looked.findings if f.rule == "tube.plate-voltage"]


@pytest.mark.parametrize(
    ("volts", "level"),
    [(295, None), (318, "advice"), (325, "advice"), (334, "notice")],
)
def test_a_design_centre_voltage_leaves_room_for_the_mains(
    volts: float, level: str | None, review: Callable[[str], Review]
) -> None:
    """6AU6: 300 V plate, design-centre (memory); the cathode stands some tenths of a volt up."""
    found = plate(review(STAGE.format(volts=volts, foot="gnd")))
    assert [x for x, _ in found] == ([] if level is None else [level])


@pytest.mark.parametrize(("volts", "told"), [(350, False), (395, True)])
def test_a_tube_that_a_key_cuts_off_may_have_a_fifth_more(
    volts: float, told: bool, review: Callable[[str], Review]
) -> None:
    """At work a resistor takes the volts down; with the key up all of the supply is there."""
    text = STAGE.format(volts=volts, foot="KEY").replace(
        "B1 -- V1.plate", "B1 --[R5 22k 5 W]-- V1.plate"
    )
    looked = review(text + "KEY --[S1 switch standby]-- gnd\n")
    assert any(s.startswith("standby") for _, s in plate(looked)) is told
