"""Lost prefixes and false joints: couplings, electrolytics, cathodes, parts with a wire across."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

TWO = """tube V1 12AX7
B1 --+[E1 250 V]-- gnd
signal IN 0.1 V 1 kHz
IN --[C1 22 nF 400 V film]-- V1A.grid
V1A.grid --[R1 {leak}]-- gnd
V1A.cathode --[R2 {cathode}]-- gnd
B1 --[R3 100k 0.5 W]-- V1A.plate
V1A.plate --[C2 {coupling} 400 V film]-- V1B.grid
V1B.grid --[R4 {next_leak}]-- {foot}
V1B.cathode --[R5 {follows}]-- gnd
V1B.cathode --+[C3 {bypass} 25 V]-- gnd
B1 --[R6 100k 0.5 W]-- V1B.plate
"""


VALUE = "resistor.unlikely-value"


def found(review: Review, rule: str) -> list[Finding]:
    assert review.readable
    return [f for f in review.findings if f.rule == rule]


USUAL = {
    "leak": "1M",
    "cathode": "1k5",
    "coupling": "22 nF",
    "bypass": "22 uF",
    "next_leak": "470k",
    "foot": "gnd",
    "follows": "1k5",
}


def two(**values: str) -> str:
    return TWO.format(**(USUAL | values))


@pytest.mark.parametrize(
    ("values", "at", "meant"),
    [
        ({}, None, ""),
        ({"coupling": "10 uF"}, None, ""),
        ({"coupling": "22 uF"}, "C2", "22 nF would suit"),
        ({"bypass": "22 nF"}, "C3", "22 uF would suit"),
        ({"bypass": "47 pF"}, "C3", "47 uF would suit"),
        ({"bypass": "0.47 uF"}, None, ""),
    ],
)
def test_capacitors(
    values: dict[str, str], at: str | None, meant: str, review: Callable[[str], Review]
) -> None:
    findings = found(review(two(**values)), "capacitor.unlikely-value")
    assert [(f.level, f.at) for f in findings] == (
        [("notice", tuple(at.split(", ")))] if at else []
    )
    assert all(meant in f.remedy for f in findings)


def test_how_long_a_large_coupling_takes(sample: Callable[[str, str], Review]) -> None:
    (one,) = found(sample("capacitor.unlikely-value", "wrong"), "capacitor.unlikely-value")
    assert one.evidence["time_constant"].value == pytest.approx(22e-6 * 470e3)


def test_a_large_coupling_to_a_grid_without_a_leak(review: Callable[[str], Review]) -> None:
    text = two(coupling="22 uF").replace("V1B.grid --[R4 470k]-- gnd\n", "")
    (one,) = found(review(text), "capacitor.unlikely-value")
    assert one.at == ("C2",)
    assert one.message == "C2: 22 uF couples a plate to a grid"
    assert "time_constant_s" not in one.evidence


def held(part: str) -> str:
    """A line from which 1 Mohm and a capacitor go to gnd."""
    return f"AGC --[R8 1M]-- gnd\nAGC --[C8 {part} 25 V]-- gnd"


@pytest.mark.parametrize(
    ("values", "at", "meant"),
    [
        ({"leak": "470"}, "R1", "470 kohm would suit"),
        ({"leak": "1k2"}, None, ""),
        ({"cathode": "1R5"}, "R2", "1.5 kohm would suit"),
        ({"cathode": "22"}, None, ""),
        ({"cathode": "1M5"}, "R2", "1.5 kohm would suit"),
        ({"cathode": "470k"}, "R2, V1A", "4.7 kohm"),
        ({"follows": "1R5"}, "R5", "1.5 kohm would suit"),  # with a capacitor across it
        # From a nanofarad on it couples audio: 100 kohm ahead want a tenth of that behind.
        ({"next_leak": "470", "coupling": "1.05 nF"}, "R4", "470 kohm would suit"),
        ({"next_leak": "470", "coupling": "0.95 nF"}, None, ""),
        # A line that a microfarad holds is as good as gnd for the signal.
        ({"next_leak": "470", "foot": held("1.05 uF")}, "R4", "470 kohm would suit"),
        ({"next_leak": "470", "foot": held("0.95 uF")}, None, ""),
        ({"next_leak": "470k", "foot": held("1.05 uF")}, None, ""),
        # A little resistor under the cathode takes feedback, up to 150 ohm.
        ({"cathode": "1R5]-- F --[R9 143"}, "R2", "1.5 kohm would suit"),
        ({"cathode": "1R5]-- F --[R9 157"}, None, ""),
        # What else is at a cathode makes its bias.
        ({"cathode": "1R5]-- gnd\nB1 --[R9 100k]-- V1A.cathode --[C9 22 uF 25 V"}, None, ""),
    ],
)
def test_resistors(
    values: dict[str, str], at: str | None, meant: str, review: Callable[[str], Review]
) -> None:
    findings = found(review(two(**values)), "resistor.unlikely-value")
    assert [(f.level, f.at) for f in findings] == (
        [("notice", tuple(at.split(", ")))] if at else []
    )
    assert all(meant in f.remedy for f in findings)


def test_a_capacitor_across_a_plate_load_is_no_coupling(review: Callable[[str], Review]) -> None:
    """C9 goes from the plate to its supply; the next grid hangs on that plate directly."""
    text = (
        "tube V1 12AX7\nB1 --+[E1 250 V]-- gnd\nB1 --[R1 100k]-- V1A.plate\n"
        "V1A.plate --[C9 22 uF 400 V]-- B1\nV1A.grid --[R2 1M]-- gnd\n"
        "V1A.cathode --[R3 1k5]-- gnd\nV1A.plate -- V1B.grid\nB1 -- V1B.plate\n"
        "V1B.cathode --[R4 100k]-- gnd\n"
    )
    looked = review(text)
    assert found(looked, "resistor.unlikely-value") == []
    assert found(looked, "capacitor.unlikely-value") == []


def test_a_tail_with_a_biased_grid_is_no_slip(review: Callable[[str], Review]) -> None:
    text = (
        "tube V1 6J5\nB1 --+[E1 300 V]-- gnd\nG --+[E2 100 V]-- gnd\nG --[R1 470k]-- V1.grid\n"
        "B1 -- V1.plate\nV1.cathode --[R2 560k]-- gnd\n"
    )
    assert found(review(text), "resistor.unlikely-value") == []


@pytest.mark.parametrize(
    ("wires", "at"),
    [
        ("B1 --[R1 22k]-- B2\nB1 -- B2\n", ("R1",)),
        ("B1 --[R1 22k]-- B2\nB2 --+[C1 22 uF 350 V]-- gnd\n", None),
        ("B1 --[R1 22k 5 W]-- B2\nB2 --+[C1 22 uF 350 V]-- gnd\nB2 -- gnd\n", ("C1",)),
        ("pot P1 100k\nB1 -- P1.top\nP1.wiper -- P1.top\nP1.bottom -- B2\n", None),
        ("B1 --[S1 switch]-- B2\nB1 -- B2\n", None),
    ],
)
def test_a_wire_across(
    wires: str, at: tuple[str, ...] | None, review: Callable[[str], Review]
) -> None:
    looked = review("B1 --+[E1 250 V]-- gnd\n" + wires + "B2 --[R9 100k 2 W]-- gnd\n")
    names = [f.at for f in found(looked, "drawing.shorted-part")]
    assert names == ([] if at is None else [at if "B2 -- gnd" not in wires else (*at, "R9")])


def test_both_names_of_the_wire_are_said(sample: Callable[[str, str], Review]) -> None:
    (one,) = found(sample("drawing.shorted-part", "wrong"), "drawing.shorted-part")
    assert "B1 and B2 are one wire" in one.message


def test_a_plate_at_gnd_is_said_as_it_is(review: Callable[[str], Review]) -> None:
    text = two().replace("V1B.cathode --+", "V1B.plate -- gnd\nV1B.cathode --+")
    (one,) = found(review(text), "tube.no-plate-supply")
    assert one.message.endswith("it is joined to gnd")


def test_a_plate_on_the_heater_line(sample: Callable[[str, str], Review]) -> None:
    looked = sample("drawing.plate-on-heater-line", "wrong")
    (one,) = looked.at_or_above("notice")
    assert (one.rule, one.at) == ("drawing.plate-on-heater-line", ("V1", "V1.plate"))
    # 200 V across 47 kohm is 0.85 W, more than 60 % of the 1 W.
    assert "resistor.over-power at R3" in str(one.evidence["explains"])


def test_a_directly_heated_filament_is_its_cathode(review: Callable[[str], Review]) -> None:
    text = (
        "mains 120 V 60 Hz\ntransformer T1\nprimary pri 120 V 10 ohm\nwinding fil 2.5 V 3 A\n"
        "tube V1 2A3 heater T1.fil\nB1 --+[E1 250 V]-- gnd\nB1 --[L1 10 H 100 ohm]-- V1.plate\n"
        "V1.grid --[R1 100k]-- gnd\nT1.fil.1 --[R2 910 ohm 10 W]-- gnd\n"
    )
    assert found(review(text), "drawing.plate-on-heater-line") == []


def test_a_resistor_that_decouples_a_plate_is_no_load(review: Callable[[str], Review]) -> None:
    """A follower's plate rests at its supply, held still by a capacitor; 2.2 kohm is usual."""
    text = (
        "tube V1 12AX7\nB1 --+[E1 250 V]-- gnd\nB1 --[R3 2k2 1 W]-- V1A.plate\n"
        "V1A.plate --+[C1 22 uF 450 V]-- gnd\nsignal IN 1 V 1 kHz\n"
        "IN --[C2 22 nF 400 V film]-- V1A.grid --[R1 1M]-- LOW\nV1A.cathode --[R2 1k5]-- LOW\n"
        "LOW --[R4 47k]-- gnd\nV1A.cathode --[C3 220 nF 400 V film]-- OUT --[R5 470k]-- gnd\n"
    )
    assert found(review(text), "resistor.unlikely-value") == []


def test_two_slips_are_told_each(review: Callable[[str], Review]) -> None:
    """One lost its k, the other is a hundred times too large: neither hides the other."""
    names = {f.at for f in found(review(two(cathode="1R5", follows="470k")), VALUE)}
    assert names == {("R2",), ("R5", "V1B")}


@pytest.mark.parametrize(("volts", "told"), [(0.475, True), (0.525, False)])
def test_a_grid_half_a_volt_up_is_biased(
    volts: float, told: bool, review: Callable[[str], Review]
) -> None:
    text = two(cathode="1M5", leak="1M]-- BIAS --+[E2 0.5 V").replace("0.5 V]--", f"{volts} V]--")
    assert bool([f for f in found(review(text), VALUE) if f.at == ("R2",)]) is told


FOLLOWED = """tube V1 12AX7
B1 --+[E1 250 V]-- gnd
V1A.grid --[R1 1M]-- gnd
V1A.cathode --[R2 1k5]-- gnd
B1 --[R3 {load}]-- V1A.plate
V1A.plate {way} V1B.grid
B1 -- V1B.plate
V1B.cathode --[R4 100k]-- gnd
"""


@pytest.mark.parametrize(
    ("load", "way", "told"),
    [
        ("100", "--", True),
        ("100k", "--", False),
        ("950", "--", True),  # the least is 1 kohm
        ("1050", "--", False),
        ("100", "--[R8 1k]--", True),  # behind a stopper, which is no load
        ("100k", "--[R8 100]--", False),
        # The same plate coupled as well: one finding.
        ("100", "--[C8 22 nF 400 V]-- X --[R9 470k]-- gnd\nX -- V2A.grid\nV1A.plate --", True),
        # The grid that hangs on the plate is its own: a diode, of which nothing is asked.
        ("100", "-- V1A.grid\nIN --[R9 470k]--", False),
    ],
)
def test_a_grid_right_on_a_plate(
    load: str, way: str, told: bool, review: Callable[[str], Review]
) -> None:
    more = (
        "tube V2 12AX7\nV2A.cathode --[R10 1k5]-- gnd\nB1 --[R11 100k]-- V2A.plate\n"
        if "V2A" in way
        else ""
    )
    text = FOLLOWED.format(load=load, way=way) + more
    names = [f.at for f in found(review(text), VALUE)]
    assert names == [("R3",)] if told else ("R3",) not in names


def test_a_resistor_between_a_plate_and_the_cathode_on_it_is_no_load(
    review: Callable[[str], Review],
) -> None:
    """Two in a stack: R3 is the bias of the upper one, whose grid hangs on the lower plate."""
    text = (
        "tube V1 12AX7\nB1 --+[E1 250 V]-- gnd\nV1A.grid --[R1 1M]-- gnd\n"
        "V1A.cathode --[R2 820 ohm]-- gnd\nV1A.plate --[R3 820 ohm]-- V1B.cathode\n"
        "V1A.plate -- V1B.grid\nB1 -- V1B.plate\n"
    )
    assert found(review(text), VALUE) == []


@pytest.mark.parametrize("common", [True, False])
def test_the_foot_of_a_pair_may_have_few_ohms(
    common: bool, review: Callable[[str], Review]
) -> None:
    """Feedback comes in across R4, and C3 takes the second grid there."""
    text = (
        "tube V1 12AX7\nB1 --+[E1 300 V]-- gnd\nsignal IN 0.2 V 1 kHz\n"
        "IN --[C1 22 nF 400 V film]-- V1A.grid --[R1 1M]-- JN\n"
        "V1A.cathode -- K\nK --[R3 47k 1 W]-- JN --[R4 47 ohm]-- gnd\n"
        "V1B.grid --[R2 1M]-- JN\nV1B.grid --[C3 100 nF 400 V film]-- JN\n"
        "B1 --[R5 100k 0.5 W]-- V1A.plate\nB1 --[R6 100k 0.5 W]-- V1B.plate\n"
    )
    text += "V1B.cathode -- K\n" if common else "V1B.cathode --[R7 1k5]-- gnd\n"
    named = [f.at for f in found(review(text), VALUE) if "R4" in f.at]
    assert named == [("R4",)] * (not common)


@pytest.mark.parametrize(
    ("cathode", "load", "share", "named"),
    [
        ("22k", "220k", 0.882, "R2"),  # 12 % or less over the load is hardly a stage
        ("22k", "330k", 0.833, None),
        ("21k", "220k", 0.878, None),
        ("19k5", "4M7", 0.143, "R3"),  # and 15 % or less over the tube
        ("20k5", "4M7", 0.155, None),
    ],
)
def test_a_stage_at_an_end(
    cathode: str, load: str, share: float, named: str | None, review: Callable[[str], Review]
) -> None:
    """Kirchhoff: what the tube has of what is over tube and load."""
    text = two(cathode=cathode).replace("R3 100k 0.5 W", f"R3 {load}")
    text = text.replace("V1B.grid\n", "OUT\nOUT --[R7 470k]-- gnd\n", 1)
    looked = review(text)
    plate, low = (looked.solutions["warm"].wave(f"V1A.{e}").dc for e in ("plate", "cathode"))
    assert (plate - low) / (250 - low) == pytest.approx(share, abs=0.002)
    at = [f.at for f in found(looked, VALUE) if "V1A" in f.at]
    assert at == ([(named, "V1A")] if named else [])
