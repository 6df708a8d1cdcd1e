"""Small tubes on gnd whose leak makes no bias."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "grid.leak-makes-no-bias"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_a_leak_of_a_hundredth(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """100 kohm where this use of the tube has 10 Mohm (common practice)."""
    found = only(sample(RULE, "wrong"), RULE)
    assert found.at == ("R1", "V1")
    assert (found.level, found.state, found.certainty) == ("notice", "warm", "likely")
    assert found.evidence["leak"].value == pytest.approx(100e3, rel=0.01)
    assert -0.5 < found.evidence["bias"].value < 0
    assert found.excess == pytest.approx(10, rel=0.01)
    assert "conducts on every other half" in found.message
    assert "10 Mohm" in found.remedy
    assert told(sample(RULE, "right")) == []


STAGE = """tube V1 12AX7
B1 --+[E1 250 V]-- gnd
signal IN 0.3 V 1 kHz
IN --[C1 {coupling} 400 V film]-- V1A.grid
V1A.grid --[R1 220k]-- {foot}
V1A.cathode --[R2 {cathode}]-- gnd
B1 --[R3 220k]-- V1A.plate --[C2 10 nF 400 V film]-- OUT --[R4 1M]-- gnd
{more}
"""


@pytest.mark.parametrize(
    ("coupling", "foot", "cathode", "more", "fires"),
    [
        ("10 nF", "gnd", "1.5 ohm", "", False),  # not on gnd: a resistor is drawn
        ("10 nF", "gnd", "1.5 ohm", "V1A.cathode -- gnd", True),
        ("250 pF", "gnd", "1.5 ohm", "V1A.cathode -- gnd", False),  # a grid-leak detector
        ("10 nF", "C-", "1.5 ohm", "V1A.cathode -- gnd\ngnd --+[E2 1.5 V]-- C-", False),
        (
            "10 nF",
            "gnd",
            "1.5 ohm",
            "V1A.cathode -- gnd\nV1A.grid --[C3 100 nF 400 V film]-- V1B.plate --[R5 100k]-- B1\n"
            "V1B.cathode -- gnd\nV1B.grid --[R6 220k]-- gnd\n"
            "V1B.grid --[C4 100 nF 400 V film]-- V1A.plate",
            False,
        ),  # a multivibrator
    ],
)
def test_other_ways_of_biasing_are_left_alone(
    coupling: str, foot: str, cathode: str, more: str, fires: bool, review: Callable[[str], Review]
) -> None:
    """Detectors, bias supplies, cathode resistors and multivibrators have small leaks on gnd."""
    text = STAGE.format(coupling=coupling, foot=foot, cathode=cathode, more=more)
    assert told(review(text)) == ([("R1", "V1A")] if fires else [])


OWN = "grid.leak-on-own-cathode"
PAIR = Path(__file__).parents[3] / "samples" / "mistakes" / OWN / "wrong.tube"


def test_a_leak_that_ends_on_the_cathode(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(OWN, "wrong"), OWN)
    assert (found.at, found.level) == (("R1", "V1A", "R3", "R4"), "notice")
    assert found.evidence["leak"].value == pytest.approx(470e3)
    assert found.remedy == "Take R1 to FOOT, below the cathode's resistor"
    assert [f for f in sample(OWN, "right").findings if f.rule == OWN] == []


@pytest.mark.parametrize(
    ("old", "new", "fires"),
    [
        ("R1 470k", "R1 950k", True),
        ("R1 470k", "R1 1M05", True),  # megohms make a little bias, but the tap is left over
        ("C1 100 nF 250 V", "C1 1.05 nF 250 V", True),
        ("C1 100 nF 250 V", "C1 0.95 nF 250 V", False),
        ("GF --[R2 1k]-- V1A.grid", "GF --[R2 1k]-- V1A.grid --[R9 10M]-- gnd", False),
        ("IN --[C1 100 nF 250 V film]-- GF", "GF", False),  # nothing comes to it
        ("V1A.cathode --[R3 1k5]-- FOOT --[R4 22k 2 W]-- gnd", "V1A.cathode --[R4 22k 2 W]-- gnd",
         True),
    ],
)  # fmt: skip
def test_which_leaks_leave_a_tube_without_bias(
    old: str, new: str, fires: bool, review: Callable[[str], Review]
) -> None:
    text = PAIR.read_text("utf-8")
    assert old in text
    found = [f for f in review(text.replace(old, new)).findings if f.rule == OWN]
    assert bool(found) is fires
    if "FOOT" in old:
        assert found[0].remedy.startswith("Put a resistor for the bias below V1A.cathode")


def test_where_the_cathodes_resistor_makes_the_bias_the_leak_goes_to_gnd(
    sample: Callable[..., Review], only: Callable[..., object], review: Callable[[str], Review]
) -> None:
    """1.5 kohm below a cathode is a bias resistor, 47 kohm a follower's load."""
    text = (
        "tube V1 12AX7\nB1 --+[E1 250 V]-- gnd\nsignal IN 0.1 V 1 kHz\n"
        "IN --[C1 100n 400 V]-- V1A.grid --[R1 470k]-- V1A.cathode --[R2 {ohms}]-- gnd\n"
        "B1 --[R3 100k]-- V1A.plate --[C2 100n 400 V]-- OUT --[R4 1M]-- gnd\n"
    )
    stage = only(review(text.format(ohms="1k5")), "grid.leak-on-own-cathode")
    assert stage.remedy == "Take R1 to gnd: R2 makes the bias"
    load = only(review(text.format(ohms="47k")), "grid.leak-on-own-cathode")
    assert load.remedy.startswith("Put a resistor for the bias below V1A.cathode")


TAP = "grid.bias-tap-unused"
OWN = "grid.leak-on-own-cathode"


def test_a_leak_on_gnd_above_a_tap_that_nothing_uses(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """1.5 and 22 kohm: 23.5 kohm of bias, the lower 14.7 times the upper."""
    found = only(sample(TAP, "wrong"), TAP)
    assert (found.at, found.level) == (("R1", "V1A", "R3", "R4"), "notice")
    assert found.evidence["together"].value == pytest.approx(23.5e3)
    assert found.evidence["ratio"].value == pytest.approx(22 / 1.5)
    assert found.remedy == "Take R1 from gnd to FOOT, between R3 and R4"


@pytest.mark.parametrize(
    ("written", "instead", "number"),
    [
        ("[R3 1k5]", "[R3 7k3]", 1),
        ("[R3 1k5]", "[R3 7k4]", 0),  # 22 over 7.4 is less than three
        ("V1B.grid -- gnd", "V1B.grid -- gnd\nFOOT --[C9 47 uF 63 V]-- gnd", 0),
        ("V1B.grid -- gnd", "V1B.grid -- gnd\nV1A.cathode --[C9 47 uF 63 V]-- FOOT", 1),
    ],
)
def test_what_is_a_tap(
    written: str, instead: str, number: int, changed: Callable[[str, str, str, str], Review]
) -> None:
    looked = changed(TAP, "wrong", written, instead)
    assert len([f for f in looked.findings if f.rule == TAP]) == number


@pytest.mark.parametrize(("foot", "number"), [("15k 2 W", 1), ("1k5 2 W", 0)])
def test_a_leak_of_a_megohm_on_two_cathodes(
    foot: str, number: int, sample: Callable[[str, str], Review], review: Callable[[str], Review]
) -> None:
    """A megohm makes a little bias of its own; above a tap that is left over it is a slip."""
    text = "\n".join(sample(f"{OWN}/tapped", "wrong").lines) + "\n"
    looked = review(text.replace("[R1 470k]", "[R1 1M]").replace("[R4 15k 2 W]", f"[R4 {foot}]"))
    assert len([f for f in looked.findings if f.rule == OWN]) == number


def test_a_reference_grid_held_by_a_capacitor(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(f"{OWN}/held", "wrong"), OWN)
    assert (found.at, found.level) == (("R7", "V1B"), "notice")
    assert found.remedy == "Take R7 to gnd, where C2 holds the grid for the signal"
    assert [f for f in sample(f"{OWN}/held", "right").findings if f.rule == OWN] == []
