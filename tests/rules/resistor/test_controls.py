"""Pots and thermistors, by Ohm's law."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review


@pytest.mark.parametrize(("power", "found"), [("0.9 W", True), ("1.1 W", False), ("", False)])
def test_the_track_goes_by_its_current(
    power: str, found: bool, review: Callable[[str], Review]
) -> None:
    # 10 V over the 1 kohm below the wiper is 10 mA; in the whole 10 kohm that would be 1 W. What
    # R1 carries besides, 100 mA, is no matter of the track's.
    looked = review(
        f"pot P1 10k {power} at 10 %\nB1 --+[E1 10 V]-- gnd\nB1 -- P1.wiper -- P1.top\n"
        "P1.bottom -- gnd\nB1 --[R1 100 ohm 5 W]-- gnd\n"
    )
    assert not [n for n in looked.not_judged if "failed" in n.reason]
    hits = [f for f in looked.findings if f.rule == "resistor.control-overload"]
    assert [f.at for f in hits] == ([("P1",)] if found else [])
    for f in hits:
        assert f.evidence["used"].value == pytest.approx(10e-3, rel=1e-3)
        assert f.limit.value == pytest.approx((0.9 / 10e3) ** 0.5)


@pytest.mark.parametrize(
    ("written", "limit"),
    [("0.9 A", 0.9), ("1.1 A", None), ("0.9 W", 0.9), ("1.1 W", None), ("0.9 V", 0.9)],
)
def test_thermistors(written: str, limit: float | None, review: Callable[[str], Review]) -> None:
    # 10 V over 9 ohm and a hot ohm: 1 A, 1 W, 1 V.
    looked = review(
        f"B1 --+[E1 10 V]-- gnd\nB1 --[RT1 thermistor 20 ohm 1 ohm {written}]-- X\n"
        "X --[R1 9 ohm 25 W]-- gnd\n"
    )
    hits = [f for f in looked.findings if f.rule == "resistor.thermistor-overload"]
    assert [f.limit.value for f in hits] == pytest.approx([limit] if limit else [])
    assert all(f.evidence["used"].value == pytest.approx(1, rel=0.02) for f in hits)


@pytest.mark.parametrize(
    ("written", "state", "used", "limit"),
    [
        ("1M 10k 0.26 W", None, None, None),
        ("1M 10k 0.24 W", "lit LDR1", 0.25, 0.24),
        ("1M 10k 95 V", "warm", 100 / 1.01, 95.0),
        ("1M 10k 100 V", None, None, None),
        ("10k 0.24 W", "warm", 0.25, 0.24),
        ("1M 10k", None, None, None),
    ],
)
def test_photocells(
    written: str, state: str | None, used: float | None, limit: float | None,
    review: Callable[[str], Review],
) -> None:  # fmt: skip
    """100 V behind 10k: in the light half of it, (50 V)² / 10k; in the dark nearly all."""
    looked = review(f"B --+[E1 100 V]-- gnd\nB --[R1 10k 2 W]-- A --[LDR1 {written}]-- gnd\n")
    hits = [f for f in looked.findings if f.rule == "resistor.photocell-overload"]
    assert [f.state for f in hits] == ([] if state is None else [state])
    for f in hits:
        assert f.evidence["used"].value == pytest.approx(used, rel=1e-3)
        assert f.limit.value == limit
