"""Output transformer rules."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from coldcheck.judge.figure import figure

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

STAGE = """output T2 5k : 8 ohm  250 ohm
tube V1 6V6GT
B1 --+[E1 250 V]-- gnd
B1 -- T2.p1
T2.p2 -- V1.plate
B1 --[R1 1k 1 W]-- V1.screen
V1.grid --[R2 470k]-- gnd
V1.cathode --[R3 330 ohm 3 W]-- gnd
"""
SPEAKER = "T2.s1 --[LS1 speaker 8 ohm]-- T2.s2\n"


def rules(looked: Review) -> set[str]:
    assert not [n for n in looked.not_judged if n.kind.broken]
    return {f.rule for f in looked.findings if f.rule.startswith("output.")}


@pytest.mark.parametrize(
    ("load", "open_"),
    [
        (SPEAKER, False),
        ("T2.s1 --[R9 270 ohm 5 W]-- T2.s2\n", False),
        ("T2.s1 --[R9 180 ohm 5 W]-- M --[R10 200 ohm 5 W]-- T2.s2\n", False),
        ("T2.s1 --[R9 430 ohm 5 W]-- T2.s2\n", True),  # more than 400 ohm on 8 ohm
        ("T2.s1 --[R9 10k 1 W]-- T2.s2\n", True),
        ("T2.s1 --[C9 100 nF 400 V]-- T2.s2\n", True),
        ("jack J1\nT2.s1 -- J1.tip\nT2.s2 -- J1.sleeve\n", False),
        ("T2.s1 --[S1 switch]-- A --[LS1 speaker 8 ohm]-- T2.s2\n", False),
        ("T2.s1 --[LS1 speaker 8 ohm]-- gnd\nT2.s2 -- gnd\n", False),
        (  # a hum-bucking coil in series
            "transformer FLD gapped\n    winding field 3000 turns 12 H 1200 ohm\n"
            "    winding buck 20 turns 0.3 ohm dot 2\nT2.s1 -- FLD.buck.1\n"
            "FLD.buck.2 --[LS1 speaker 8 ohm]-- T2.s2\n",
            False,
        ),
        ("T2.s1 --[LS1 speaker 8 ohm]-- A\nT2.s2 -- gnd\n", True),
        ("", True),
    ],
)
def test_is_there_a_load(load: str, open_: bool, review: Callable[[str], Review]) -> None:
    assert ("output.open-secondary" in rules(review(STAGE + load))) is open_


@pytest.mark.parametrize(
    ("ties", "floating"),
    [
        ("", True),
        ("T2.s2 -- gnd\n", False),
        ("T2.s1 -- gnd\n", False),
        ("T2.s2 --[R8 47 ohm 1 W]-- gnd\n", False),
        ("T2.s2 --[R8 10k 1 W]-- gnd\n", True),
        ("T2.s2 -- chassis\nchassis -- gnd\n", False),
        ("T2.s2 --[C8 100 nF 400 V]-- gnd\n", True),
    ],
)
def test_is_the_secondary_tied(ties: str, floating: bool, review: Callable[[str], Review]) -> None:
    looked = review(STAGE + SPEAKER + "T2.s1 --[R4 15k]-- V1.cathode\n" + ties)
    assert ("output.floating-secondary" in rules(looked)) is floating


@pytest.mark.parametrize("part", ["C4 1 nF 400 V", "R4 15k"])
def test_a_capacitor_takes_feedback_as_well(
    part: str, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    looked = review(STAGE + SPEAKER + f"T2.s1 --[{part}]-- V1.cathode\n")
    assert only(looked, "output.floating-secondary").at == ("T2", part[:2])


def test_without_feedback_a_floating_secondary_is_left_alone(
    review: Callable[[str], Review],
) -> None:
    assert rules(review(STAGE + SPEAKER)) == set()


def test_floating_pair(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    found = only(sample("output.floating-secondary", "wrong"), "output.floating-secondary")
    assert (found.level, found.at, found.state) == ("warning", ("T2", "R4"), "drawing")


def test_open_pair(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    found = only(sample("output.open-secondary", "wrong"), "output.open-secondary")
    assert (found.level, found.at) == ("notice", ("T2",))
    assert found.evidence == {"load": "open"}
    assert found.limit == figure(400, "ohm")


@pytest.mark.parametrize(
    ("load", "ohms"),
    [
        (SPEAKER, None),
        ("T2.s1 --[LS1 speaker 4 ohm]-- T2.s2\n", None),  # half: the edge
        ("T2.s1 --[LS1 speaker 16 ohm]-- T2.s2\n", None),
        ("T2.s1 --[LS1 speaker 3.2 ohm]-- T2.s2\n", 3.2),
        ("T2.s1 --[LS1 speaker 4 ohm]-- T2.s2\nT2.s1 --[LS2 speaker 4 ohm]-- T2.s2\n", 2.0),
        (SPEAKER + "T2.s1 --[R9 270 ohm 5 W]-- T2.s2\n", None),
        ("T2.s1 --[LS1 speaker 32 ohm]-- T2.s2\n", 32.0),
        ("T2.s1 --[R9 270 ohm 5 W]-- T2.s2\n", None),  # the resistor that protects
    ],
)
def test_does_the_load_fit(load: str, ohms: float | None, review: Callable[[str], Review]) -> None:
    looked = review(STAGE + load)
    found = [f for f in looked.findings if f.rule == "output.wrong-load"]
    assert [f.evidence["load"].value for f in found] == pytest.approx([ohms] if ohms else [])
