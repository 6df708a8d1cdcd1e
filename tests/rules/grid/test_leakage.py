"""Leakage into grids and off their lines, by Ohm's law."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from coldcheck.rules.grid.leakage import LEAK_OHMS

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

STAGE = """tube V1 6V6GT
B1 --+[E1 250 V]-- gnd
B1 --[C1 22 nF 400 V {kind}]-- V1.grid
V1.grid --[R1 {leak}]-- gnd
V1.cathode --[R2 330 ohm 5 W]-- gnd
B1 --[R3 10k 2 W]-- V1.screen
B1 --[R4 2k2 10 W]-- V1.plate
"""


def found(review: Review, rule: str) -> list[Finding]:
    return [f for f in review.findings if f.rule == rule]


@pytest.mark.parametrize(
    ("leak", "kind", "shift"),
    [
        # Derived: 250 V, 100 Mohm, 470k: 1.17 V.
        ("470k", "paper", 1.17),
        ("220k", "paper", 0.549),
        ("180k", "paper", None),  # 0.449 V
        ("470k", "film", None),
        ("470k", "mica", None),
        ("470k", "Y2", None),
    ],
)
def test_100_megohm(
    leak: str, kind: str, shift: float | None, review: Callable[[str], Review]
) -> None:
    findings = found(review(STAGE.format(leak=leak, kind=kind)), "grid.leakage-moves-bias")
    assert [f.evidence["shift"].value for f in findings] == (
        [] if shift is None else [pytest.approx(shift, abs=0.005)]
    )
    assert {f.level for f in findings} <= {"advice"}


def test_the_remedy_is_a_leak_that_shifts_by_the_limit(review: Callable[[str], Review]) -> None:
    (one,) = found(review(STAGE.format(leak="470k", kind="paper")), "grid.leakage-moves-bias")
    # R / (R + 100M) = 0.5 / 250.
    assert one.evidence["across"].value == pytest.approx(250, rel=1e-3)
    assert pytest.approx(200.4e3, rel=1e-3) == 0.5 * LEAK_OHMS.value / 249.5
    assert "grid leak of 200 kohm or less" in one.remedy


def test_a_divider_behind_the_capacitor_hands_on_its_share(
    review: Callable[[str], Review],
) -> None:
    text = STAGE.format(leak="470k", kind="paper").replace(
        "400 V paper]-- V1.grid", "400 V paper]-- X\nX --[R5 530k]-- V1.grid"
    )
    (one,) = found(review(text), "grid.leakage-moves-bias")
    # 1 Mohm in all, of which the grid sees 470k: 250 x 0.47 / 101.
    assert one.evidence["shift"].value == pytest.approx(250 * 0.47 / 101, rel=2e-3)


def test_all_grids_are_one_advice_with_the_worst_ones_figures(
    review: Callable[[str], Review],
) -> None:
    second = STAGE.format(leak="1M", kind="paper").split("\n", 2)[2]
    for old, new in (("V1", "V2"), ("C1", "C11"), ("R", "R1")):
        second = second.replace(old, new)
    text = STAGE.format(leak="470k", kind="paper") + "tube V2 6V6GT\n" + second
    (one,) = found(review(text), "grid.leakage-moves-bias")
    assert one.at == ("C11", "C1", "V2", "V1")
    assert one.evidence["shift"].value == pytest.approx(250 / 101, rel=2e-3)


LINE = """tube V1 6BA6
B1 --+[E1 250 V]-- gnd
gnd --+[E2 3 V]-- SRC
SRC --[R1 {ohms} 0.5 W]-- AVC
AVC {capacitor}-- gnd
AVC --[L1 1 mH 15 ohm air]-- V1.grid
V1.cathode --[R2 68]-- gnd
B1 --[R3 56k 1 W]-- V1.screen
B1 --[L2 1 mH 15 ohm air]-- V1.plate
"""


@pytest.mark.parametrize(
    ("ohms", "capacitor", "limit"),
    [
        ("4M7", "--[C1 47 nF 200 V]", None),  # 20 x 4.7 M is below 100 M
        ("5M6", "--[C1 47 nF 200 V]", 5e6),
        ("5M6", "--[C1 47 nF 200 V film]", None),
        # An electrolytic of 10 uF leaks like 10 M: a line of 470k is too much, 0.5 M just is not.
        ("470k", "--[C1 10 uF 25 V]+", None),
        ("560k", "--[C1 10 uF 25 V]+", 0.5e6),
    ],
)
def test_a_line_through_megohms(
    ohms: str, capacitor: str, limit: float | None, review: Callable[[str], Review]
) -> None:
    findings = found(
        review(LINE.format(ohms=ohms, capacitor=capacitor)), "grid.bypass-leaks-on-line"
    )
    assert [f.limit.value for f in findings] == ([] if limit is None else [pytest.approx(limit)])
    assert {(f.level, f.at) for f in findings} <= {("advice", ("C1", "V1"))}


def test_the_reservoir_of_the_plate_supply_is_no_line(review: Callable[[str], Review]) -> None:
    text = (
        "tube V1 12AX7\nB1 --+[E1 250 V]-- gnd\nB1 --[R1 1M]-- B2\nB2 --+[C1 47 uF 350 V]-- gnd\n"
        "B2 --[R2 220k]-- V1A.plate\nV1A.cathode --[R3 1k5]-- gnd\nV1A.grid --[R4 1M]-- gnd\n"
        "V1A.plate -- V1B.grid\nB1 -- V1B.plate\nV1B.cathode --[R5 100k]-- gnd\n"
    )
    assert found(review(text), "grid.bypass-leaks-on-line") == []
