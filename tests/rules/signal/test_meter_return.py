"""Rectifiers of meters that return past the feedback."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "signal.meter-return-on-gnd"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_a_bridge_on_gnd(sample: Callable[[str, str], Review], only: Callable[..., object]) -> None:
    found = only(sample(RULE, "wrong"), RULE)
    assert found.at == ("D3", "D4", "FB", "R4", "M1")
    assert (found.level, found.state, found.certainty) == ("notice", "drawing", "likely")
    assert "nothing comes to FB, across R4 (39 ohm) below the cathode of V1" in found.message
    assert found.remedy.startswith("Take D3 and D4 from gnd to FB")
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize(
    ("written", "instead", "fires"),
    [
        (
            "FB --[R4 39 ohm]-- gnd",
            "FB --[R4 390 ohm]-- gnd",
            False,
        ),  # a stage that is stabilised by itself
        (
            "FB --[R4 39 ohm]-- gnd",
            "FB --[R4 39 ohm]-- gnd\nV2.plate --[C9 1 uF 400 V]--[R19 47k]-- FB",
            False,
        ),  # feedback from elsewhere
        (
            "V1.cathode --+[C1 220 uF 16 V]-- FB",
            "V1.cathode --+[C1 220 uF 16 V]-- gnd",
            True,
        ),  # bypassed to gnd
        ("V1.cathode --[R3 1k]-- FB", "V1.cathode --[R3 1k]-- gnd", False),  # no point below
        (
            "P --[M1 meter 1 mA 100 ohm]-- N",
            "P --[R11 100 ohm]-- N",
            True,
        ),  # a movement drawn as a resistor
        (
            "P --[M1 meter 1 mA 100 ohm]-- N",
            "P --[M1 meter 1 mA 100 ohm]-- gnd",
            False,
        ),  # no bridge
    ],
)
def test_what_else_may_be_there(
    written: str, instead: str, fires: bool, changed: Callable[[str, str, str, str], Review]
) -> None:
    assert bool(told(changed(RULE, "wrong", written, instead))) is fires
