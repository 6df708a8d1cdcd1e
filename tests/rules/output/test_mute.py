"""Relays that mute: make and break contact exchanged, and what may be meant as it is."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

RULE = "output.muted-at-work"
PAIR = Path("samples/mistakes") / RULE
SERIES, SHUNT = "wrong.tube", "to-gnd/wrong.tube"
FEED = "C -- K1.coil.1"


def told(looked: Review) -> list[Finding]:
    assert looked.readable
    return [f for f in looked.findings if f.rule == RULE]


def drawn(name: str, *edits: tuple[str, str]) -> str:
    text = (PAIR / name).read_text("utf-8")
    for old, new in edits:
        assert old in text
        text = text.replace(old, new)
    return text


@pytest.mark.parametrize(
    ("name", "at", "sure"),
    [(SERIES, ("K1", "J1.tip", "LS1"), "certain"), (SHUNT, ("K1", "J1.tip"), "likely")],
)
def test_the_sound_is_at_the_wrong_contact(
    name: str, at: tuple[str, ...], sure: str, review: Callable[[str], Review]
) -> None:
    (one,) = told(review(drawn(name)))
    assert (one.at, one.level, one.state, one.certainty) == (at, "notice", "warm", sure)


@pytest.mark.parametrize(
    ("name", "edits", "found"),
    [
        # Drawn released, and pulled in by what its coil gets; at rest, since 12 V of 400 let it go.
        (SERIES, [("spdt 12 V 270 ohm", "spdt 12 V 270 ohm released")], True),
        (SERIES, [("spdt 12 V", "spdt 400 V")], False),
        # Without a delay: pulled in with the mains, or let go by a switch, a tube or a transistor.
        (SERIES, [(" delay 45 s", "")], True),
        (SERIES, [(" delay 45 s", ""), (FEED, "C --[S1 switch]-- K1.coil.1")], False),
        (SERIES, [(FEED, "C --[S1 switch]-- K1.coil.1")], True),
        (SHUNT, [("K1.coil.2 -- gnd", "V2.plate -- K1.coil.2\ntube V2 6C4\nV2.grid -- gnd\n"
                  "V2.cathode -- gnd")], False),
        (SHUNT, [("K1.coil.2 -- gnd", "K1.coil.2 -- Q1.drain\ntransistor Q1 BS170\n"
                  "Q1.source -- gnd\nQ1.gate --[R9 1k]-- C")], False),
        (SHUNT, [("C --[R6", "U1.out -- D\nU1.in -- C\nU1.common -- gnd\nregulator U1 7812\n"
                  "D --[R6"), ("E2 12 V", "E2 18 V")], True),
        # Phones at work, the speaker at rest: a choice, and no muting.
        (SERIES, [("--[R5 270 ohm 1 W]-- gnd", "--[LS2 speaker 600 ohm 1 W]-- gnd")], False),
        # The other contact shorts nothing, or shorts only a part of a divider.
        (SHUNT, [("K1.no -- gnd", "K1.no --[R8 1k]-- gnd")], False),
    ],
)  # fmt: skip
def test_what_may_be_meant(
    name: str, edits: list[tuple[str, str]], found: bool, review: Callable[[str], Review]
) -> None:
    assert bool(told(review(drawn(name, *edits)))) is found


def test_a_secondary_is_cut_off(review: Callable[[str], Review]) -> None:
    """A transformer's winding gives a signal as a cathode does, from both its ends."""
    edits = [
        ("V1.cathode --[C1 47 uF 200 V film]-- OUT --[R4 10k 0.5 W]-- gnd",
         "output T2 10k : 300 ohm gapped 20 mA\nV1.cathode -- T2.p1\nT2.p2 -- gnd\nT2.s1 -- OUT"),
        ("J1.sleeve -- gnd", "J1.sleeve -- T2.s2"),
        ("J1.tip --[LS1 speaker 300 ohm 0.5 W]-- gnd",
         "J1.tip --[LS1 speaker 300 ohm 0.5 W]-- T2.s2"),
    ]  # fmt: skip
    (one,) = told(review(drawn(SERIES, *edits)))
    assert one.at == ("K1", "J1.tip", "LS1")
