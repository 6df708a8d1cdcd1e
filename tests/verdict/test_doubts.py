"""Drawings that must not be let through, since something drawn could not be judged; and some
partial ones that may be."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import pytest

from coldcheck.drawing import parse_drawing
from coldcheck.judge.finding import Unjudged
from coldcheck.verdict.engine import review_drawing
from coldcheck.verdict.ruling import Verdict, undecided

if TYPE_CHECKING:
    from coldcheck.verdict.review import Review

BENCH = "B1 --+[E1 250 V]-- gnd\n"
STAGE = (
    "B1 --[R1 100k 1 W]-- V1A.plate\nV1A.cathode --[R2 1k5]-- gnd\n"
    "V1A.grid --[R3 1M]-- gnd\nV1B.plate -- V1B.grid -- V1B.cathode -- gnd\n"
)
TUBE = "tube V1 12AX7\n"


def reviewed(text: str) -> Review:
    return review_drawing(parse_drawing(text, "a.tube"), date(2026, 6, 1))


CASES = {
    "empty": ("", Unjudged.NOTHING_DRAWN),
    "only a name": ('drawing "nothing yet"\n', Unjudged.NOTHING_DRAWN),
    "sources that fight": (
        "B1 --+[E1 250 V]-- gnd\nB1 --+[E2 100 V]-- gnd\nB1 --[R1 1M 1 W]-- gnd\n",
        Unjudged.SOURCES_FIGHT,
    ),
    "a shorted source": (
        "B1 --+[E1 250 V]-- gnd\nB1 -- gnd\nB1 --[R1 1M 1 W]-- gnd\n",
        Unjudged.SOURCES_FIGHT,
    ),
    "nothing powered": ("A --[R1 10k]-- B --[R2 10k]-- gnd\n", Unjudged.NOTHING_POWERED),
    "no gnd": ("A --+[E1 9 V]-- B\nA --[R1 10k]-- B\n", Unjudged.NO_REFERENCE),
    "no point with a voltage": ("A --+[E1 9 V]-- B\nA --[R1 10k]-- B\n", Unjudged.NO_VOLTAGES),
    "all unknown": ("B1 --+[E1 ?]-- gnd\nB1 --[R1 ?]-- gnd\n", Unjudged.UNKNOWN_VALUES),
    "a state that is not there": (
        BENCH + "B1 --[R1 100k 1 W]-- gnd\nexpect B1 = 250 V within 10 % in standby S9\n",
        Unjudged.EXPECTATION,
    ),
    "a stage without its supply": (TUBE + STAGE + "X --+[E1 9 V]-- gnd\nX --[R9 1k]-- gnd\n",
                                   Unjudged.NOT_FED),
    "a rectifier fed from nothing": (
        "mains 120 V 60 Hz\ntransformer T1\n  primary pri 120 V 4 ohm\n  winding fil 5 V 2 A\n"
        "tube V1 5Y3GT heater T1.fil\nA -- V1.plate1\nB -- V1.plate2\n"
        "A --[R1 100k]-- gnd\nB --[R2 100k]-- gnd\n"
        "V1.f1 --+[C1 10 uF 450 V]-- gnd\nV1.f1 --[R3 220k 1 W]-- gnd\n",
        Unjudged.NOT_FED,
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_what_could_not_be_judged_is_not_let_through(name: str) -> None:
    text, kind = CASES[name]
    looked = reviewed(text)
    assert looked.readable, [f.message for f in looked.findings]
    assert kind in {item.kind for item in undecided(looked)}
    assert looked.verdict() in (Verdict.HELD, Verdict.UNDECIDED)
    # Whatever else is found: at a gate nothing reaches, doubt alone keeps it.
    assert looked.verdict("danger") is Verdict.UNDECIDED


PARTIAL = {
    "a stage on a bench supply, its heater not drawn": BENCH + TUBE + STAGE,
    "one value open among others": (
        BENCH + "B1 --[R1 10k 10 W]-- A --[R2 ?]-- C\nA --[R3 10k 10 W]-- gnd\n"
    ),
    "a winding without a load": (
        "mains 120 V 60 Hz\ntransformer T1\n  primary pri 120 V 4 ohm\n  winding w 6.3 V ct 1 A\n"
        "T1.w.ct -- gnd\n"
    ),
    "a section that is not wired": BENCH + TUBE + STAGE.replace(
        "V1B.plate -- V1B.grid -- V1B.cathode -- gnd\n", ""),
    "a tube cut off": BENCH + TUBE + STAGE.replace("--[R2 1k5]--", "--[R2 10M]--"),
}  # fmt: skip


@pytest.mark.parametrize("name", PARTIAL)
def test_a_partial_drawing_stays_reviewable(name: str) -> None:
    looked = reviewed(PARTIAL[name])
    assert looked.readable, [f.message for f in looked.findings]
    assert [(i.kind, i.at, i.reason) for i in undecided(looked)] == []
