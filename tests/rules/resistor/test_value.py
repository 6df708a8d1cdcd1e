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
V1B.grid --[R4 470k]-- gnd
V1B.cathode --[R5 1k5]-- gnd
V1B.cathode --+[C3 {bypass} 25 V]-- gnd
B1 --[R6 100k 0.5 W]-- V1B.plate
"""


def found(review: Review, rule: str) -> list[Finding]:
    return [f for f in review.findings if f.rule == rule]


def two(
    leak: str = "1M", cathode: str = "1k5", coupling: str = "22 nF", bypass: str = "22 uF"
) -> str:
    return TWO.format(leak=leak, cathode=cathode, coupling=coupling, bypass=bypass)


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


@pytest.mark.parametrize(
    ("values", "at", "meant"),
    [
        ({"leak": "470"}, "R1", "470 kohm would suit"),
        ({"leak": "1k2"}, None, ""),
        ({"cathode": "1R5"}, "R2", "1.5 kohm would suit"),
        ({"cathode": "22"}, None, ""),
        ({"cathode": "1M5"}, "R2", "1.5 kohm would suit"),
        ({"cathode": "470k"}, "R2, V1A", "4.7 kohm"),
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
