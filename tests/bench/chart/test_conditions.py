"""What a sheet says its figures are for, held against the circuit solved at other mains."""

from __future__ import annotations

from hashlib import sha256

import pytest

from coldcheck.bench.chart.conditions import GOES_WITH, Control, as_drawn, conditions_of, mark_of
from coldcheck.bench.chart.expected import Expected
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.solve.engine import Solver
from coldcheck.solve.solution import WARM, State

SUPPLY = """\
drawing "Quay Lamp: a supply with a zener behind it"
mains 230 V 50 Hz tolerance 10 %
transformer T1
    primary pri 230 V 20 ohm
    winding low 24 V 0.5 A 2 ohm
line --[S1 switch]-- T1.pri.1
T1.pri.2 -- neutral
T1.low.1 --[D1 1N4007]-> RAW
T1.low.2 -- gnd
RAW --+[C1 470 uF 63 V]-- gnd
RAW --[R1 1k 2 W]-- HELD
gnd --[D2 zener 12 V 1 W]-> HELD
RAW --[R2 2k2 2 W]-- LOW --[R3 1k]-- gnd
pot P1 100k at 30 %
signal IN 0.1 V 1 kHz
IN -- P1.top
P1.bottom -- gnd
P1.wiper --[R4 100k]-- gnd
"""


def circuit_of(text):
    return build_circuit(parse_drawing(text, "quay.tube"))


@pytest.fixture(scope="module")
def supply():
    return circuit_of(SUPPLY)


def test_what_is_assumed(supply):
    found = conditions_of(Expected(supply))
    assert (found.volts, found.hertz, found.state) == (230.0, 50.0, "warm")
    assert found.signals == ("IN",)
    assert found.controls == (Control("P1", pytest.approx(0.3)), Control("S1"))


def test_what_does_not_go_with_the_mains_is_named(supply):
    """Solved at 207 and at 253 V: what stays by far under a tenth is the zener's."""
    scaling = conditions_of(Expected(supply)).scaling
    assert (scaling.reach, scaling.not_at) == (pytest.approx(0.1), ("HELD",))
    solver = Solver(supply)
    here, *ends = (solver.solve(State(str(x), WARM, line=x)) for x in (1.0, 0.9, 1.1))
    off = {
        net: max(
            abs(end.wave(net).dc / here.wave(net).dc / x - 1)
            for end, x in zip(ends, (0.9, 1.1), strict=True)
        )
        for net in ("RAW", "LOW", "HELD")
    }
    assert scaling.within == pytest.approx(max(off["RAW"], off["LOW"]), abs=1e-4)
    assert off["HELD"] > GOES_WITH > off["RAW"]


def test_the_states_of_other_mains_say_their_volts_and_nothing_to_scale(supply):
    found = conditions_of(Expected(supply, "high line"))
    assert found.volts == pytest.approx(253.0)
    assert found.scaling is None


def test_a_switch_that_is_thrown_is_said(supply):
    found = as_drawn(supply, State("S1 thrown", WARM, thrown=frozenset(("S1",))))
    assert Control("S1", None, "S1") in found.controls


def test_without_mains_there_is_nothing_to_scale():
    found = conditions_of(Expected(circuit_of("B1 --+[E1 24 V]-- gnd\nB1 --[R1 1k]-- gnd\n")))
    assert (found.volts, found.hertz, found.scaling) == (None, None, None)


def test_the_mark_is_of_the_text_and_of_nothing_else(supply):
    """As ``sha256sum`` says of the file."""
    assert mark_of(supply).replace("-", "") == sha256(SUPPLY.encode()).hexdigest()[:12]
    other = build_circuit(parse_drawing(SUPPLY, "elsewhere/of-another-name.tube"))
    assert mark_of(other) == mark_of(supply)
    assert mark_of(circuit_of(SUPPLY + "# a comment\n")) != mark_of(supply)
    assert mark_of(supply).count("-") == 2
