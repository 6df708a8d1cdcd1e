"""Jacks with the plug out: what is left across a secondary, and at an input."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from coldcheck.judge.figure import figure

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

OUT, IN = "output.shorting-defeated", "signal.jack-open"
STAGE = """output T2 5k : 8 ohm  250 ohm  gapped 60 mA
tube V1 6V6GT
jack J1
B1 --+[E1 250 V]-- gnd
B1 -- T2.p1
T2.p2 -- V1.plate
B1 --[R1 1k 1 W]-- V1.screen
V1.grid --[R2 470k]-- gnd
V1.cathode --[R3 330 ohm 3 W]-- gnd
T2.s2 -- gnd
J1.sleeve -- gnd
"""
PLUG = "J1.tip --[LS1 speaker 8 ohm]-- J1.sleeve\n"


def rules(looked: Review) -> set[str]:
    assert not [n for n in looked.not_judged if n.kind.broken]
    return {f.rule for f in looked.findings}


@pytest.mark.parametrize(
    ("wires", "open_"),
    [
        ("T2.s1 -- J1.tip\nJ1.switch -- gnd\n", False),
        ("T2.s1 -- J1.tip\nJ1.switch -- J1.sleeve\n", False),
        ("T2.s1 -- J1.tip\nJ1.switch --[R9 270 ohm 5 W]-- gnd\n", False),
        ("T2.s1 -- J1.tip\nJ1.switch --[R9 2k2 5 W]-- gnd\n", True),  # beyond 1 kohm
        ("T2.s1 -- J1.tip\nJ1.switch -- T2.s1\n", True),
        ("T2.s1 -- J1.tip\nJ1.switch --[C9 100n]-- gnd\n", True),
        ("T2.s1 -- J1.tip\nJ1.switch -- T2.s1\nT2.s1 --[R9 270 ohm 5 W]-- T2.s2\n", False),
        ("T2.s1 -- J1.tip\nJ1.switch --[LS2 speaker 8 ohm]-- gnd\n", False),  # the one inside
        ("T2.s1 --[F1 fuse 2 A]-- J1.tip\nJ1.switch -- T2.s1\n", True),
    ],
)
def test_what_the_contact_leaves(wires: str, open_: bool, review: Callable[[str], Review]) -> None:
    assert (OUT in rules(review(STAGE + PLUG + wires))) is open_


def test_a_second_jack_with_a_good_contact_serves_both(review: Callable[[str], Review]) -> None:
    text = "jack J2\nJ2.sleeve -- gnd\nJ2.tip -- J1.tip\nJ2.switch -- gnd\n"
    looked = review(STAGE + PLUG + text + "T2.s1 -- J1.tip\nJ1.switch -- T2.s1\n")
    assert OUT not in rules(looked)


def test_shorting_pair(sample: Callable[[str, str], Review], only: Callable[..., object]) -> None:
    looked = sample(OUT, "wrong")
    found = only(looked, OUT)
    assert (found.level, found.at, found.state) == ("notice", ("J1", "T2"), "unplugged")
    assert (found.evidence, found.limit) == ({"left": "open"}, figure(400, "ohm"))


INPUT = """tube V1 12AX7
jack J1
B1 --+[E1 250 V]-- gnd
signal J1.tip 20 mV 1 kHz
J1.sleeve -- gnd
B1 --[R3 100k 0.5 W]-- V1A.plate
V1A.cathode --[R4 1k5]-- gnd
V1B.grid -- gnd
V1B.cathode -- gnd
"""


@pytest.mark.parametrize(
    ("wires", "ohms"),
    [
        ("J1.tip --[R1 1M]-- gnd\nJ1.tip -- V1A.grid\n", 1e6),
        ("J1.tip --[R1 1M]-- gnd\nJ1.tip --[R2 68k]-- V1A.grid\nJ1.switch -- gnd\n", None),
        ("J1.tip --[R1 1M]-- gnd\nJ1.tip -- V1A.grid\nJ1.switch --[R9 4k7]-- gnd\n", None),
        ("J1.tip --[R1 1M]-- gnd\nJ1.tip -- V1A.grid\nJ1.switch --[R9 47k]-- gnd\n", 47e3),
        ("pot P1 100k\nJ1.tip -- P1.top\nP1.bottom -- gnd\nP1.wiper -- V1A.grid\n", 1e5),
        ("J1.tip --[R1 10k]-- gnd\nJ1.tip -- V1A.grid\n", None),
        (
            "J1.tip --[R1 1M]-- gnd\nJ1.tip --[C9 10n]-- V1A.grid --[R9 1M]-- gnd\n",
            1e6,
        ),
    ],
)
def test_what_an_empty_input_has(
    wires: str, ohms: float | None, review: Callable[[str], Review]
) -> None:
    looked = review(INPUT + wires)
    rules(looked)
    found = [f for f in looked.findings if f.rule == IN]
    assert [f.evidence["to_gnd"].value for f in found] == pytest.approx([ohms] if ohms else [])


def test_an_output_jack_is_no_input(review: Callable[[str], Review]) -> None:
    text = INPUT.replace("signal J1.tip 20 mV 1 kHz\n", "V1A.grid --[R1 1M]-- gnd\n")
    looked = review(text + "V1A.plate --[C1 100n 400 V]-- J1.tip --[R9 1M]-- gnd\n")
    assert IN not in rules(looked)


def test_input_pair(sample: Callable[[str, str], Review], only: Callable[..., object]) -> None:
    found = only(sample(IN, "wrong"), IN)
    assert (found.level, found.at, found.evidence["to_gnd"].value) == ("advice", ("J1",), 1e6)
    assert "switch contact of J1 is not wired" in found.message
