"""Electrolytics in series."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.rules.model import Review


def pair(rating: str, more: str = "", volts: int = 450) -> str:
    return (
        f"B1 --+[E1 {volts} V]-- gnd\nB1 --+[C1 40 uF {rating}]-- MID\n"
        f"MID --+[C2 40 uF {rating}]-- gnd\n{more}"
    )


@pytest.mark.parametrize(
    ("rating", "found"),
    # The worst split of 450 V is 270 V and 180 V (derived).
    [("250 V", True), ("260 V", True), ("275 V", False), ("350 V", False)],
)
def test_the_worst_split(rating: str, found: bool, review: Callable[[str], Review]) -> None:
    hits = [f for f in review(pair(rating)).findings if f.rule == "capacitor.series-unbalanced"]
    assert bool(hits) is found
    for f in hits:
        assert (f.level, f.at) == ("notice", ("C1", "C2"))
        assert f.evidence["share_v"] == pytest.approx(270, rel=1e-3)


def test_resistors_across_them_balance_the_pair(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    more = "B1 --[R1 220k 1 W]-- MID --[R2 220k 1 W]-- gnd\n"
    only(review(pair("250 V", more)), "capacitor.series-unbalanced", count=0)


def test_without_a_working_voltage_it_is_not_judged(review: Callable[[str], Review]) -> None:
    looked = review(pair(""))
    said = [n for n in looked.not_judged if n.rule == "capacitor.series-unbalanced"]
    assert [n.at for n in said] == [("C1", "C2")]


def test_the_resistor_proposed(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    # (2 * 350 - 600) / 0.5 mA = 200 kohm (formula found): the nearest E12 value is 220 kohm.
    found = only(review(pair("350 V", volts=600)), "capacitor.series-unbalanced")
    assert "220 kohm" in found.remedy
