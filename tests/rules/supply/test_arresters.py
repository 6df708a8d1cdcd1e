"""Surge arresters across more than they stand."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "supply.arrester-over-voltage"


def told(looked: Review) -> list[tuple[tuple[str, ...], float]]:
    return [(f.at, f.evidence["used"].value) for f in looked.findings if f.rule == RULE]  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("arrester", "dc", "used"),
    [
        # Makers' sheets (from memory): 130 V rms goes with 170 V DC, 275 V with 350 V.
        ("MOV1 130 Vac", 165, None), ("MOV1 130 Vac", 175, 175 / 1.28), ("MOV2 275 Vac", 345, None),
        ("SG1 150 V", 149, None), ("SG1 150 V", 151, 151.0), ("GDT1 90 V", 250, 250.0),
    ],
)  # fmt: skip
def test_direct_voltage(
    arrester: str, dc: float, used: float | None, review: Callable[[str], Review]
) -> None:
    name = arrester.split()[0]
    found = told(review(f"B1 --+[E1 {dc} V]-- gnd\nB1 --[{arrester}]-- gnd\n"))
    assert found == ([] if used is None else [((name,), pytest.approx(used, rel=1e-3))])


@pytest.mark.parametrize(
    ("arrester", "used"),
    [("MOV1 130 Vac", None), ("MOV1 110 Vac", 120.0), ("SG1 200 V", None), ("SG1 150 V", 169.7)],
)
def test_across_the_line(
    arrester: str, used: float | None, review: Callable[[str], Review]
) -> None:
    """120 V rms is 169.7 V at its highest; 130 V is what is sold for it."""
    text = (
        "mains 120 V 60 Hz\ntransformer T1\n primary pri 120 V 4 ohm\n winding w 6.3 V 1 A\n"
        f"line --[F1 200 mA slow]-- L --[{arrester}]-- neutral\n"
        "L -- T1.pri.1\nT1.pri.2 -- neutral\n"
        "T1.w.2 -- gnd -- chassis -- earth\nT1.w.1 --[R1 12 ohm 10 W]-- gnd\n"
    )
    found = told(review(text))
    name = arrester.split()[0]
    assert found == ([] if used is None else [((name,), pytest.approx(used, rel=5e-3))])


def test_it_conducts_nothing(review: Callable[[str], Review]) -> None:
    looked = review(
        "B1 --+[E1 90 V]-- gnd\nB1 --[R1 1k]-- X --[SG1 400 V]-- gnd\nX --[R2 1k]-- gnd\n"
    )
    assert looked.solutions["warm"].waves["X"].dc == pytest.approx(45.0, rel=1e-3)
