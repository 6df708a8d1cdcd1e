"""Switches in the mains with nothing behind them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "mains.switch-cuts-nothing"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_the_switch_of_a_cover(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(RULE, "wrong"), RULE)
    assert found.at == ("F2", "S2", "SAFE", "ON")
    assert (found.level, found.state, found.certainty) == ("danger", "drawing", "likely")
    assert "F2, which leads to T1, is on ON, ahead of it, and stays on the mains" in found.message
    assert found.remedy.startswith("Take F2 from ON to SAFE, behind S2")
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize(
    ("written", "instead", "fires"),
    [
        ("winding ht    290 V", "winding ht    6.3 V", False),  # no plate supply
        (
            "250 Vac 6 A]-- SAFE",
            "250 Vac 6 A]-- SAFE\nSAFE --[PL1 lamp 120 V]-- neutral",
            False,
        ),  # a lamp behind it
        ("ON --[F2 0.315 A slow 250 V]-- T1.pri.1", "ON -- T1.pri.1", True),  # no fuse of its own
        (
            "ON --[S2 switch lid 250 Vac 6 A]-- SAFE",
            "RES --[S2 switch 500 V 6 A]-- SAFE",
            False,
        ),  # not in the mains
    ],
)
def test_what_is_behind_a_switch(
    written: str, instead: str, fires: bool, changed: Callable[[str, str, str, str], Review]
) -> None:
    assert bool(told(changed(RULE, "wrong", written, instead))) is fires
