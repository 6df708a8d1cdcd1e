"""Direct current of a plate through coils to gnd, and coils that are its load."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

RULE = "signal.coil-passes-dc"
STAGE = (
    "tube V1 6C4\nB1 --+[E1 250 V 0.1 A]-- gnd\nsignal IN 0.1 V 1 kHz\nIN -- V1.grid\n"
    "IN --[R3 470k]-- gnd\nV1.cathode --[R4 1k5]-- gnd\n"
)
FED = "B1 --[R1 47k 2 W]-- V1.plate\n"


def told(looked: Review) -> list[Finding]:
    assert looked.readable
    return [f for f in looked.findings if f.rule == RULE]


@pytest.mark.parametrize(
    ("way", "at"),
    [
        ("V1.plate --[R5 68k]-- HD --[L1 100 mH 90 ohm]-- gnd\n", ("R5", "L1", "V1")),
        ("V1.plate --[L1 10 H 2k]-- gnd\n", ("L1", "V1")),
        ("V1.plate --[R5 68k]-- HD --[LS1 speaker 2k 0.5 W]-- gnd\n", ("R5", "LS1", "V1")),
        ("V1.plate --[S1 switch closed]-- M --[L1 1 H 2k]-- N --[R6 10k]-- chassis\n"
         "chassis -- gnd\n", ("S1", "L1", "V1")),
        # Through a capacitor, an open switch, or to a supply point the bypass of which holds still.
        ("V1.plate --[C1 1 uF 400 V film]-- M --[L1 1 H 2k]-- gnd\n", None),
        ("V1.plate --[S1 switch open]-- M --[L1 1 H 2k]-- gnd\n", None),
        ("V1.plate --[R5 68k]-- X --+[C1 10 uF 400 V]-- gnd\nX --[L1 1 H 2k]-- gnd\n", None),
        # 80 V over 2 Mohm are 40 uA.
        ("V1.plate --[R5 2M]-- HD --[L1 100 mH 90 ohm]-- gnd\n", None),
        # Each coil says what it is made for, one of them less than flows.
        ("V1.plate --[R5 68k]-- HD --[L1 100 mH 90 ohm 5 mA]-- gnd\n", None),
        ("V1.plate --[R5 68k]-- HD --[L1 100 mH 90 ohm 1 mA]-- gnd\n", ("R5", "L1", "V1")),
        ("V1.plate --[L2 1 mH 9 ohm 5 mA]-- N --[R5 68k]-- HD --[L1 0.1 H 90 ohm]-- gnd\n",
         ("L2", "L1", "V1")),
    ],
)  # fmt: skip
def test_what_leaves_a_plate_for_gnd(
    way: str, at: tuple[str, ...] | None, review: Callable[[str], Review]
) -> None:
    hits = told(review(STAGE + FED + way))
    assert [(f.at, f.level, f.state) for f in hits] == ([(at, "notice", "warm")] if at else [])


def test_the_current_is_that_of_the_plate_over_the_way(review: Callable[[str], Review]) -> None:
    (f,) = told(review(STAGE + FED + "V1.plate --[R5 68k]-- HD --[L1 100 mH 90 ohm]-- gnd\n"))
    assert f.evidence["current"].value == pytest.approx(
        f.evidence["plate"].value / (68e3 + 90), rel=1e-3
    )
    assert f.limit.value == 1e-4


@pytest.mark.parametrize(
    "load",
    [
        "B1 --[L1 20 H 500 ohm]-- V1.plate\n",
        "output T1 10k : 600 ohm gapped 30 mA\nB1 -- T1.p1\nT1.p2 -- V1.plate\n"
        "T1.s1 --[R6 600]-- T1.s2\nT1.s2 -- gnd\n",
    ],
)
def test_a_load_is_fed_through_its_coil(load: str, review: Callable[[str], Review]) -> None:
    assert not told(review(STAGE + load))


def test_a_plate_at_gnd_has_its_load_there(review: Callable[[str], Review]) -> None:
    """The supply is below gnd: the current goes from gnd through the coil into the plate."""
    text = (
        "tube V1 6C4\ngnd --+[E1 250 V 0.1 A]-- BM\n"
        "signal IN 0.1 V 1 kHz\nIN --[C1 100 nF 400 V]-- V1.grid --[R3 470k]-- BM\n"
        "V1.cathode --[R4 1k5]-- BM\nV1.plate --[L1 20 H 500 ohm]-- gnd\n"
    )
    assert not told(review(text))


def test_a_transformer_between_stages_takes_its_signal_alone(
    review: Callable[[str], Review],
) -> None:
    text = (
        "transformer T1\n    winding pri 20 H 500 ohm\n    winding sec 80 H 1000 ohm\n"
        "V1.plate -- T1.pri.1\nT1.pri.2 -- gnd\nT1.sec.1 --[R6 100k]-- T1.sec.2\nT1.sec.2 -- gnd\n"
    )
    (f,) = told(review(STAGE + FED + text))
    assert f.at == ("T1.pri", "V1")
    assert not told(review(STAGE + text.replace("T1.pri.2 -- gnd", "T1.pri.2 -- B1")))


def test_a_core_without_a_gap_follows_from_it(review: Callable[[str], Review]) -> None:
    way = "V1.plate -- T1.p1\nT1.p2 -- gnd\nT1.s1 --[R6 600]-- T1.s2\nT1.s2 -- gnd\n"
    looked = review(STAGE + FED + "output T1 10k : 600 ohm ungapped\n" + way)
    (cause,) = told(looked)
    assert cause.at == ("T1", "V1")
    assert "output.ungapped-core" in str(cause.evidence)
