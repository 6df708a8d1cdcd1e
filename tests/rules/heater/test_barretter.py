"""Barretters against the range in which they hold their current."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "heater.barretter-out-of-range"


@pytest.mark.parametrize(("volts", "limit"), [(91, None), (126, None), (129, 80), (89, 30)])
def test_its_volts(volts: int, limit: float | None, review: Callable[[str], Review]) -> None:
    """150 mA in 400 ohm are 60 V: in range from 90 V to 140 V, which 127 V have at high line.

    Beyond, Ohm's law with the resistance of that end.
    """
    text = (
        f"mains {volts} V 60 Hz tolerance 10 %\nneutral -- gnd\n"
        "line --[BAL1 barretter 150 mA 30 V 80 V]-- A --[R1 400 ohm 20 W]-- neutral\n"
    )
    found = [f for f in review(text).findings if f.rule == RULE]
    assert [f.limit.value for f in found] == ([] if limit is None else [limit])
    for f in found:
        share = limit / 0.15 / (400 + limit / 0.15)
        line = volts * 1.1 if limit == 80 else volts
        assert f.evidence["used"].value == pytest.approx(line * share, rel=1e-3)
        assert f.state == ("high line" if limit == 80 else "warm")


def test_one_without_a_range_is_a_resistor(review: Callable[[str], Review]) -> None:
    text = "B --+[E1 100 V]-- gnd\nB --[BAL1 ballast 50 V 0.1 A]-- gnd\n"
    assert not [f for f in review(text).findings if f.rule == RULE]


def test_a_broken_line_is_told_elsewhere(review: Callable[[str], Review]) -> None:
    text = "B --+[E1 100 V]-- gnd\nB --[BAL1 barretter 30 V 80 V 0.1 A]-- A --[R1 100M]-- gnd\n"
    assert not [f for f in review(text).findings if f.rule == RULE]
