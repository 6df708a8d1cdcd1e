"""Each kind of tube that came with the shelf, at work in a drawing of a stage."""

from __future__ import annotations

import pytest

SUPPLY = "B --+[E1 {} V]-- gnd\n"


def reading(solved, text, section):
    return solved(text).readings[section]


def test_a_triode_pentode_works_as_published(solved) -> None:
    """6BM8: 170 V, -11.5 V: 41 mA; triode 100 V, 0 V: 3.5 mA (memory, two recalls agreeing)."""
    text = (
        SUPPLY.format(170)
        + """tube V1 ECL82
B -- V1B.plate
B -- V1B.screen
V1B.cathode -- gnd
C --[R2 1k]-- gnd
M --+[E2 100 V]-- gnd
N --[E3 11.5 V]+-- gnd
N -- V1B.grid
V1A.cathode -- V1A.grid -- gnd
M -- V1A.plate
"""
    )
    assert reading(solved, text, "V1B").plate_ma == pytest.approx(41, rel=0.05)
    assert reading(solved, text, "V1B").screen_ma == pytest.approx(8, rel=0.1)
    assert reading(solved, text, "V1A").plate_ma == pytest.approx(3.5, rel=0.1)


def test_the_two_sections_of_a_shared_cathode_lift_it_together(solved) -> None:
    """6SC7, one cathode: its resistor has both currents, whichever section it is written on."""
    halves = "B --[R1 100k]-- V1A.plate\nB --[R2 100k]-- V1B.plate\nV1A.grid -- V1B.grid -- gnd\n"
    for lead in ("V1A.cathode", "V1B.cathode", "V1.cathode", "V1:6"):
        text = f"{SUPPLY.format(250)}tube V1 6SC7\n{halves}{lead} --[R3 1k5]-- gnd\n"
        solution = solved(text)
        each = [solution.readings[s].plate_ma for s in ("V1A", "V1B")]
        assert each[0] == pytest.approx(each[1])
        assert solution.readings["V1A"].cathode_v == pytest.approx(1.5 * sum(each), rel=1e-3)


def test_a_converter_with_an_oscillator_plate(solved) -> None:
    """6A8: 250 V, screen 100 V, -3 V: 3.5 mA; oscillator plate 4 mA (memory)."""
    text = (
        SUPPLY.format(250)
        + """tube V1 6A8
B -- V1.plate
S --+[E2 100 V]-- gnd
S -- V1.screen
B --[R1 20k]-- V1.grid2
V1.grid --[R2 50k]-- gnd
V1.cathode -- gnd
N --[E3 3 V]+-- gnd
N -- V1.cap
"""
    )
    solution = solved(text)
    assert solution.readings["V1"].plate_ma == pytest.approx(3.5, rel=0.15)
    assert 250 - solution.waves["V1.grid2"].dc == pytest.approx(80, rel=0.1)


def test_a_tuning_indicator_by_its_published_resistor(solved) -> None:
    """6E5: 250 V through 1 Mohm, 0.24 mA; the target takes 4 mA (memory, one recall)."""
    text = (
        SUPPLY.format(250)
        + """tube V1 6E5
B --[R1 1M]-- V1.plate
B --[R2 100]-- V1.target
V1.cathode -- gnd
V1.grid -- gnd
"""
    )
    solution = solved(text)
    assert solution.readings["V1"].plate_ma == pytest.approx(0.24, rel=0.02)
    assert (250 - solution.waves["V1.target"].dc) / 0.1 == pytest.approx(4, rel=0.02)
    shut = solved(text.replace("V1.grid -- gnd", "N --[E2 8 V]+-- gnd\nN -- V1.grid"))
    assert shut.waves["V1.plate"].dc > 180


DETECTORS = (
    ("6AL5", "V1A.plate", "V1A.cathode"),
    ("12AV6", "V1.diode1", "V1.cathode"),
    ("EABC80", "V1B.plate", "V1B.cathode"),
)


@pytest.mark.parametrize(("name", "plate", "cathode"), DETECTORS)
def test_a_detector_conducts_one_way(solved, name, plate, cathode) -> None:
    text = f"A --+[E1 10 V]-- gnd\nA --[R1 10k]-- P\ntube V1 {name}\n"
    ahead = solved(f"{text}P -- {plate}\n{cathode} -- gnd\n")
    back = solved(f"{text}P -- {cathode}\n{plate} -- gnd\n")
    assert ahead.waves["P"].dc < 4
    assert back.waves["P"].dc == pytest.approx(10, rel=0.01)


def test_the_halves_of_a_filament_in_parallel_set_the_grid_to_their_middle(solved) -> None:
    """3Q4: its mean cathode is between the ends that are joined and the tap."""
    text = (
        SUPPLY.format(90)
        + """tube V1 3Q4
F --+[E2 1.4 V]-- gnd
F -- V1.tap
V1.f1 -- V1.f2 -- gnd
B --[R1 1k]-- V1.plate
B -- V1.screen
V1.grid --[R2 1M]-- G --[E3 4.5 V]+-- gnd
"""
    )
    assert reading(solved, text, "V1").grid_v == pytest.approx(-4.5 - 0.7, abs=0.01)


@pytest.mark.parametrize(
    ("name", "drop"),
    [("80", 60.0), ("5Z4", 20.0), ("6ZY5G", 18.0)],
)
def test_a_rectifier_drops_what_is_published(solved, name, drop) -> None:
    """At the published current; memory, one recall: 60 V 125 mA, 20 V 125 mA, 18 V 40 mA."""
    amps = {"80": 0.125, "5Z4": 0.125, "6ZY5G": 0.04}[name]
    volts, ohms = 200.0, (200.0 - drop) / amps
    out = "V1.f1" if name == "80" else "V1.cathode"
    text = f"{SUPPLY.format(volts)}tube V1 {name}\nB -- V1.plate1\n{out} --[R1 {ohms:.2f}]-- gnd\n"
    solution = solved(text)
    assert volts - solution.waves[out].dc == pytest.approx(drop, rel=0.01)
