"""What can be read where: ohms across resistors, which no voltage tells."""

from pathlib import Path

import pytest

from coldcheck.bench.diagnosis.account import Evening
from coldcheck.bench.diagnosis.channels import Channel, channels_of
from coldcheck.bench.diagnosis.noted import parse_readings
from coldcheck.bench.diagnosis.readings import OHM
from coldcheck.bench.instruments.instruments import DC_METER
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing, read_drawing
from coldcheck.solve.faults.spread import SpreadSolver

SAMPLES = Path(__file__).parents[3] / "samples"

TEXT = """\
drawing "Buoy: resistors between two points"
B1 --+[E1 100 V]-- gnd
B1 --[R1 10k]-- M --[R2 {beside}]-- N --[R3 {below}]-- gnd
M --[R4 5k]-- N
M --[R5 1M]-- X --[R6 1k]-- gnd
"""


def across(beside="10k", below="1k"):
    circuit = build_circuit(parse_drawing(TEXT.format(beside=beside, below=below), "t"))
    good = SpreadSolver(circuit).shown(())
    return {c.point for c in channels_of(circuit, good, DC_METER) if c.point.startswith("across")}


def test_resistors_between_two_nets_are_read_across():
    """R3 and R6 are read to gnd; beside R5, 1M, are the few kilohm of all others."""
    assert across(beside="5k1") == {"across R1", "across R4"}


@pytest.mark.parametrize(("beside", "shows"), [("4k9", True), ("5k1", False)])
def test_half_of_it_has_to_show(beside, shows):
    """R4 of 5k beside it: of 4k9 stand 2475 ohm, 50.5 %; of 5k1 2525 ohm, 49.5 %."""
    assert ("across R2" in across(beside=beside, below="1M")) is shows


def test_what_is_read_is_told_apart_by_both_nets():
    one, other = Channel(OHM, "A", "A"), Channel(OHM, "A", "across R1", other="B")
    assert one.what != other.what
    assert other.what == (OHM, "A", "B")


@pytest.fixture(scope="module")
def harbour():
    return Evening(build_circuit(read_drawing(str(SAMPLES / "harbour-light.tube"))))


def test_the_name_of_the_place_is_what_one_types(harbour):
    """What is asked for is read by its own name, as a bare value is."""
    circuit, library = harbour.circuit, harbour.known.library()
    for channel in (c for c in library.channels if c.point.startswith("across")):
        (found,), slips = parse_readings(circuit, f"{channel.point};{channel.kind};470")
        assert not slips
        assert (found.kind, found.net, found.other) == channel.what


def test_a_screen_resistor_that_no_voltage_tells_is_asked_for_and_found(harbour):
    """R2, 470 ohm, at 2.65 times: 5 V less of 270 at the screen, as tolerances make of it too."""
    harbour.take(parse_readings(harbour.circuit, "B1 dc 271\nV2.screen dc 267\nRES dc 284")[0])
    points, _ = harbour.diagnosis()
    asked = [n.channel.point for n in points.next_points(len(points.library.channels))]
    assert "across R2" in asked
    harbour.take(parse_readings(harbour.circuit, "across R2 ohm 1k25")[0])
    first = harbour.account().leading[0].members
    assert [r.suspect.key for r in first] == ["R2 high"]
    assert first[0].size == pytest.approx(2.65, rel=0.1)


def test_fuses_and_closed_switches_are_read_across_with_the_plug_pulled(harbour):
    """Also of the mains wiring, where nothing else is read."""
    channels = harbour.known.library().channels
    found = [c for c in channels if c.point in ("across F1", "across S1", "across F2")]
    assert {(c.kind, c.peak) for c in found} == {(OHM, 0.0)}
    assert len(found) == 3
    line = {n for name, n in harbour.circuit.points.items() if name in ("line", "neutral")}
    others = [c for c in channels if c not in found]
    assert not any({c.net, c.other} & line for c in others)


def test_a_switch_of_some_ohms_is_found(harbour):
    """79 ohm in the mains switch: everything a fifth low, as no mains makes it."""
    evening = Evening(harbour.circuit)
    evening.known = harbour.known
    text = "B1 dc 216\nRES dc 226\nT1.warm.1 ac 2.66\nacross S1 ohm 79"
    evening.take(parse_readings(harbour.circuit, text)[0])
    (first, *_) = evening.account().leading[0].members
    assert first.suspect.key == "S1 resistance"
    assert first.size == pytest.approx(79, rel=0.1)


LOOSE = """\
drawing "Buoy: a spare half, its plate open"
B1 --+[E1 200 V]-- gnd
tube V1 12AX7
B1 --[R1 100k]-- V1A.plate
V1A.cathode --[R2 1k5]-- gnd
V1A.grid -- gnd
V1B.grid -- gnd
V1B.cathode -- gnd
"""


def test_no_volts_are_asked_for_of_what_hangs_on_insulation():
    circuit = build_circuit(parse_drawing(LOOSE, "t"))
    good = SpreadSolver(circuit).shown(())
    found = {c.point for c in channels_of(circuit, good, DC_METER) if c.kind == "dc"}
    assert "V1A.plate" in found
    assert "V1B.plate" not in found


def test_what_tells_the_same_again_is_not_told_beside_it(harbour):
    """Both ends of the heater's winding and its tap stand at one DC."""
    harbour.readings.clear()
    harbour.take(parse_readings(harbour.circuit, "B1 dc 271\nV1A.cathode dc 1.31")[0])
    diagnosis, _ = harbour.diagnosis()
    lift = {"LIFT", "T1.warm.1", "T1.warm.2"}
    every = [n.channel.point for n in diagnosis.next_points(12) if n.channel.kind == "dc"]
    varied = [n.channel.point for n in diagnosis.varied_points(3) if n.channel.kind == "dc"]
    assert lift <= set(every)
    assert len(lift & set(varied)) == 1
