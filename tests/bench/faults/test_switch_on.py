"""Faults before the tubes draw: a capacitor that the warm set spares."""

import math

import pytest

from coldcheck.bench.faults.faults import sweep
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.solve.faults import fault as f
from coldcheck.solve.faults.fault import Fault

SUPPLY = """drawing "Buoy: a supply with a bleeder"
mains 120 V 60 Hz
transformer T1
    primary pri 120 V 2 ohm
    winding ht 285 V 50 ohm
    winding warm 6.3 V 1 A 0.1 ohm
line -- T1.pri.1
T1.pri.2 -- neutral
earth -- chassis -- gnd
tube V1 12AU7 heater T1.warm
T1.warm.1 -- gnd
T1.ht.2 -- gnd
T1.ht.1 --[D1 1N4007]-> RES
RES --+[C1 40 uF 500 V]-- gnd
RES --[R1 10k 5 W]-- B1
B1 --+[C2 40 uF {rated} V]-- gnd
B1 --[R2 30k 5 W]-- gnd
B1 --[R3 10k 2 W]-- V1A.plate
V1A.cathode --[R4 220 ohm]-- gnd
V1A.grid --[R5 470k]-- gnd
B1 --[R6 10k 2 W]-- V1B.plate
V1B.cathode --[R7 220 ohm]-- gnd
V1B.grid --[R8 470k]-- gnd
"""
OPEN = Fault(f.OPEN, "R2")


def outcome(rated, fault=OPEN):
    drawing = parse_drawing(SUPPLY.format(rated=rated), "<test>")
    circuit = build_circuit(drawing)
    assert not (*drawing.problems, *circuit.problems)
    [found] = sweep(circuit, [fault]).outcomes
    return [x for x in found.findings if x.rule == "capacitor.over-voltage"]


def test_without_its_bleeder_a_supply_stands_at_its_peak():
    """285 V rms, a tenth more at high mains: 440 V on C2; with R2 three quarters of it."""
    [said] = outcome(350)
    assert said.at == ("C2",)
    assert said.evidence["peak"].value == pytest.approx(1.1 * math.sqrt(2) * 285, rel=0.08)
    assert "before the tubes draw current" in said.message
    assert said.state == "cold, failed R2 open"


def test_it_is_not_for_what_stands_it():
    assert outcome(450) == []


def test_nor_for_what_the_sound_set_has_already():
    """Rated 200 V it is beyond its volts with R2 too."""
    assert all("before the tubes" not in x.message for x in outcome(200))


def test_nor_for_parts_away_from_the_supply():
    assert outcome(350, Fault(f.OPEN, "R5")) == []
