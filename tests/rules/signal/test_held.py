"""Cathodes that give a signal and are held still, and grids tied to their own cathodes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

BYPASSED, TIED = "signal.output-cathode-bypassed", "signal.grid-tied-to-cathode"


def told(looked: Review, rule: str) -> list[tuple[str, tuple[str, ...]]]:
    return [(f.level, f.at) for f in looked.findings if f.rule == rule]


def test_a_split_load_with_the_bypass_of_an_ordinary_stage(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """47 uF beside 33 kohm: for anything above 0.1 Hz the cathode is at rest."""
    found = only(sample(BYPASSED, "wrong"), BYPASSED)
    assert (found.at, found.state, found.level) == (("C2", "V1A"), "drawing", "notice")
    assert found.evidence["capacitor"].value == pytest.approx(47e-6)
    assert "from which C4 is to take a signal" in found.message
    assert found.remedy.startswith("Leave C2 out")
    assert told(sample(BYPASSED, "right"), BYPASSED) == []


SPLIT = """tube V1 6SN7GT
tube V2 6SN7GT
B1 --+[E1 300 V]-- gnd
signal IN 1 V 1 kHz
IN --[C1 100 nF 400 V film]-- V1A.grid --[R1 1M]-- LEG
B1 --[R2 22k 2 W]-- V1A.plate --[C2 100 nF 400 V film]-- V2A.grid --[R5 330k]-- gnd
V1A.cathode --[R3 1k]-- LEG --[R4 22k 2 W]-- gnd
LEG --[C3 100 nF 400 V film]-- V2B.grid --[R6 330k]-- gnd
V2A.cathode --[R7 1k5]-- gnd
V2B.cathode --[R8 1k5]-- gnd
B1 --[R9 47k]-- V2A.plate
B1 --[R10 47k]-- V2B.plate
{bypass}
"""


@pytest.mark.parametrize(
    ("bypass", "fires"),
    [
        ("V1A.cathode --+[C9 47 uF 25 V]-- LEG", False),
        ("V1A.cathode --[C9 1.05 uF 160 V film]-- gnd", False),
        ("V2A.cathode --+[C9 47 uF 25 V]-- gnd", False),
    ],
)
def test_a_bypass_above_the_load_or_where_nothing_is_taken_is_in_order(
    bypass: str, fires: bool, review: Callable[[str], Review]
) -> None:
    """The signal is taken below the bias resistor here, from the load."""
    assert bool(told(review(SPLIT.format(bypass=bypass)), BYPASSED)) is fires


@pytest.mark.parametrize(("farads", "fires"), [("0.95 uF", False), ("1.05 uF", True)])
def test_the_least_bypass(farads: str, fires: bool, review: Callable[[str], Review]) -> None:
    text = SPLIT.format(bypass=f"V1A.cathode --[C9 {farads} 160 V film]-- gnd")
    text = text.replace("LEG --[C3", "V1A.cathode --[C3")
    assert bool(told(review(text), BYPASSED)) is fires


def test_the_upper_grid_of_a_cascode(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(TIED, "wrong"), TIED)
    assert (found.at, found.state, found.level) == (("C3", "V1B"), "drawing", "notice")
    assert found.remedy == "Take C3 from V1B.grid to gnd"
    assert told(sample(TIED, "right"), TIED) == []


STAGE = """tube V1 12AX7
B1 --+[E1 250 V]-- gnd
signal IN 0.1 V 1 kHz
IN --[C1 100 nF 400 V film]-- G --[R1 1M]-- gnd
G --[R4 {stopper}]-- V1A.grid
{at} --[C9 {farads} 400 V film]-- V1A.cathode --[R2 1k5]-- gnd
{bypass}B1 --[R3 100k 1 W]-- V1A.plate --[C2 100 nF 400 V film]-- OUT --[R5 1M]-- gnd
"""


@pytest.mark.parametrize(
    ("at", "stopper", "farads", "bypass", "fires"),
    [
        ("V1A.grid", "1k", "10.5 nF", "", True),
        ("V1A.grid", "1k", "9.5 nF", "", False),
        ("G", "1k", "22 nF", "", True),
        ("G", "150k", "22 nF", "", False),
        ("V1A.grid", "1k", "22 nF", "V1A.cathode --+[C3 25 uF 25 V]-- gnd\n", False),
    ],
)
def test_what_ties_a_grid_to_its_cathode(
    at: str, stopper: str, farads: str, bypass: str, fires: bool, review: Callable[[str], Review]
) -> None:
    """Behind a stopper it is the same; a bypassed cathode makes it a cut of the treble."""
    text = STAGE.format(at=at, stopper=stopper, farads=farads, bypass=bypass)
    assert bool(told(review(text), TIED)) is fires


@pytest.mark.parametrize(
    ("more", "fires"),
    [("", True), ("OUT -- V2B.plate\nB1 --[R30 47k]-- OUT\n", False)],
)
def test_an_end_with_its_leak_is_an_output(
    more: str, fires: bool, review: Callable[[str], Review]
) -> None:
    """A card's output leads on to another sheet; a capacitor to a plate is something else."""
    text = (
        "tube V1 6SN7GT\ntube V2 6SN7GT\nB1 --+[E1 300 V]-- gnd\nsignal IN 1 V 1 kHz\n"
        "IN --[C1 100 nF 400 V film]-- V1A.grid --[R1 1M]-- gnd\n"
        "B1 --[R2 22k 2 W]-- V1A.plate\nV1A.cathode --[R3 22k 2 W]-- gnd\n"
        "V1A.cathode --+[C9 47 uF 160 V]-- gnd\n"
        "V1A.cathode --[C2 100 nF 400 V film]-- OUT --[R5 330k]-- gnd\n"
    )
    found = told(review(text + more), BYPASSED)
    assert found == ([("notice", ("C9", "V1A"))] if fires else [])
