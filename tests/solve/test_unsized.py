"""Windings of unknown size: what depends on them has no number, all else has."""

from __future__ import annotations

import pytest

from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.solve.cycle.defined import unknown_values
from coldcheck.solve.cycle.network import Unsolvable
from coldcheck.solve.engine import Solver
from coldcheck.solve.signal.linearised import Linearised
from coldcheck.solve.solution import WARM, State

MAINS = """
mains 120 V 60 Hz
transformer T1
    primary pri 120 V 4 ohm
    winding ht 200 V 50 mA 100 ohm
    winding bias {}
T1.ht.1 --[D1 1N4007]-> B1 --+[C1 20 uF 450 V]-- gnd
T1.ht.2 -- gnd
B1 --[R1 20k 5 W]-- gnd
T1.bias.1 --[D2 1N4007]-> NEG --[R2 4k7]-- gnd
T1.bias.2 -- gnd
"""


def circuit_of(text):
    drawing = parse_drawing(text)
    circuit = build_circuit(drawing)
    assert (drawing.problems, circuit.problems) == ((), ())
    return circuit


def warm(text):
    return Solver(circuit_of(text)).solve(State(WARM, WARM))


def test_direct_current_goes_by_the_ohms_of_a_coil_of_unknown_size():
    """100 V behind 10 kohm on 1 kohm: a plain divider."""
    text = "B1 --+[E1 100 V]-- gnd\ntransformer IF1\n winding a ? 1k\n winding b ?\n"
    found = warm(text + "B1 --[R1 10k]-- IF1.a.1\nIF1.a.2 -- gnd\nIF1.b.1 -- gnd\n")
    assert found.waves[found.circuit.net("IF1.a.1")].dc == pytest.approx(100 / 11, rel=1e-6)


def test_a_winding_of_unknown_volts_leaves_the_others_theirs():
    """The supply keeps the volts it has beside any load of the bias winding, with that range."""
    found, sound = warm(MAINS.format("?")), warm(MAINS.format("50 V"))
    b1 = found.circuit.net("B1")
    assert found.waves[b1].dc == pytest.approx(sound.waves[b1].dc, rel=0.05)
    assert found.circuit.net("NEG") not in found.waves
    assert str(found.undefined[found.circuit.net("NEG")]) == "depends on the size of T1.bias"
    assert found.spread().volts(b1) >= sound.spread().volts(b1)


def test_a_winding_that_nothing_is_wired_to_is_asked_nothing():
    text = MAINS.format("?").replace("T1.bias.1", "A").replace("T1.bias.2", "C")
    assert not unknown_values(circuit_of(text))


IRON = """
mains 120 V 60 Hz
transformer T1
    primary pri 120 V
    winding ht 200 V 50 mA 100 ohm
transformer CH1 gapped
    winding a ? 250 ohm
T1.ht.1 --[D1 1N4007]-> RES --+[C1 4 uF 450 V]-- gnd
T1.ht.2 -- gnd
CH1.a.1 -- RES
CH1.a.2 -- B1 --[R1 20k 5 W]-- gnd
"""


def test_ripple_behind_iron_of_unknown_size_is_not_known():
    """Behind the choke the AC depends on its henries, so the point has no number."""
    found = warm(IRON)
    assert found.circuit.net("B1") not in found.waves
    assert found.circuit.net("T1.ht.1") in found.waves


STAGE = """
B1 --+[E1 250 V]-- gnd
tube V1 6SK7
transformer IF1
    winding a ?
    winding b ?
B1 -- IF1.a.1
IF1.a.2 -- V1.plate
B1 --[R1 47k]-- V1.screen
V1.suppressor -- gnd
V1.cathode --[R2 330]-- gnd
IN -- V1.grid --[R3 470k]-- gnd
signal IN 1 mV 455 kHz
IF1.b.1 -- OUT --[R4 470k]-- gnd
IF1.b.2 -- gnd
"""


def test_the_signal_of_coils_of_unknown_size_is_left_open():
    circuit = circuit_of(STAGE)
    found = Solver(circuit).solve(State(WARM, WARM))
    assert found.waves[circuit.net("V1.plate")].dc == pytest.approx(250, abs=1)
    with pytest.raises(Unsolvable, match="the size of IF1"):
        Linearised(circuit, found)


BIAS = """
mains 120 V 60 Hz
transformer T1
    primary pri 120 V
    winding bias ?
B1 --+[E1 250 V]-- gnd
tube V1 6J5
B1 --[R1 47k]-- V1.plate
V1.cathode -- gnd
IN --[C2 10n]-- V1.grid --[R3 470k]-- NEG
signal IN 1 mV
T1.bias.1 <-[D2 1N4007]-- NEG --[R2 4k7]-- gnd
T1.bias.2 -- gnd
"""


def test_a_stage_whose_bias_is_not_known_has_no_slopes():
    circuit = circuit_of(BIAS)
    found = Solver(circuit).solve(State(WARM, WARM))
    with pytest.raises(Unsolvable, match="the voltages of V1 are not known"):
        Linearised(circuit, found)


def test_a_stage_that_an_unknown_winding_does_not_steer_has_its_slopes():
    circuit = circuit_of(BIAS.replace("V1.grid --[R3 470k]-- NEG", "V1.grid --[R3 470k]-- gnd"))
    found = Solver(circuit).solve(State(WARM, WARM))
    (slopes,) = Linearised(circuit, found).sections
    assert slopes.slope("plate", "grid") > 1e-4
