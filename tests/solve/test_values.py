"""A sweep against the changed circuit solved alone, from nothing."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldcheck.circuit.valued import valued
from coldcheck.drawing import parse_drawing, read_drawing
from coldcheck.drawing.valued import SHARE, amount_of, values
from coldcheck.settings.apply import circuit_of
from coldcheck.solve.engine import Solver
from coldcheck.solve.faults.values import ValueSolver
from coldcheck.solve.values import Asked

ROOT = Path(__file__).parents[2]
VOLTS, AMPS = 1e-4, 1e-6
"""What a sweep may differ by: the solver leaves some nanoamperes, at most some megohms of them."""

GAS = """
B --+[E1 {volts} V]-- gnd
tube V1 0A2
B --[R1 5k]-- V1.plate
V1.cathode -- gnd
V1.plate --[R2 20k]-- gnd
"""
HEATER = """
mains 120 V 60 Hz
transformer T1
    primary pri 120 V 1 ohm
    winding ht 200 V 50 mA 100 ohm
    winding warm 12.6 V 1 A 0.1 ohm
tube V1 12AX7
T1.warm.1 --[R9 {ohms} ohm]-- V1.h1
V1.h2 -- T1.warm.2
T1.warm.2 -- gnd
T1.ht.2 -- gnd
T1.ht.1 --[D1 1N4007]-> B --+[C1 20 uF]-- gnd
B --[R3 100k]-- V1A.plate
V1A.cathode --[R4 1k5]-- gnd
V1A.grid -- gnd
V1B.plate --[R5 100k]-- B
V1B.cathode -- gnd
V1B.grid -- gnd
"""

CHOKE = """
mains 120 V 60 Hz
transformer T1
    primary pri 120 V 1 ohm
    winding s 20 V 0.1 ohm
T1.s.2 -- gnd
T1.s.1 --[D1 1N4007]-> A --[L1 2 H]-- B --[R1 1k]-- gnd
"""
KINDS = """
B --+[E1 60 V]-- gnd
B --[R1 1k]-- X
gnd --[Z1 zener 15 V]-> X
B --[R2 2k]-- Y --[D2 led 2 V]-> gnd
B --[RT1 thermistor 50 ohm]-- W --[LS1 speaker 8 ohm]-- Q --[R3 500 ohm]-- gnd
"""


def circuit(text):
    made = circuit_of(parse_drawing(text, "<test>"))
    assert not (*made.drawing.problems, *made.problems)
    return made


def alone(base, name, new, state="warm"):
    """The changed circuit and its solution by itself."""
    changed = valued(base, {name: amount_of(values(base.drawing)[name], new)})
    return changed, Solver(changed).solve(Asked(changed).states[state])


def same(swept, expected, what="", volts=VOLTS):
    assert swept.converged == expected.converged
    assert set(swept.waves) == set(expected.waves)
    for net, wave in expected.waves.items():
        got, told = swept.waves[net].samples, f"{what}: {net}"
        np.testing.assert_allclose(got, wave.samples, 1e-6, volts, err_msg=told)
    for name, wave in expected.currents.items():
        got, told = swept.currents[name].samples, f"{what}: {name}"
        np.testing.assert_allclose(got, wave.samples, 1e-5, AMPS, err_msg=told)
    for name, reading in expected.readings.items():
        assert swept.readings[name].plate_ma == pytest.approx(reading.plate_ma, 1e-5, 1e-6)


def several(sample, most=2):
    """A few values of each kind of part of a sample, to try another of."""
    base = circuit_of(read_drawing(ROOT / "samples" / f"{sample}.tube"))
    known = values(base.drawing)
    by_kind = {}
    for name, value in known.items():
        by_kind.setdefault(value.kind, []).append(name)
    some = [n for names in by_kind.values() for n in names[:: max(len(names) // most, 1)][:most]]
    return base, known, some


@pytest.mark.parametrize("sample", ["breakwater", "galley", "low-tide", "twin-quay"])
def test_a_sweep_is_what_each_value_gives_alone(sample) -> None:
    base, known, names = several(sample)
    changed = []
    for turn, name in enumerate(names):
        value = known[name]
        new = (20, 85) if value.unit == SHARE else (0.6 * value.number, 1.5 * value.number)
        changed.append(alone(base, name, new[turn % 2]))
    swept = Asked(base).sweep([c for c, _ in changed])
    for name, found, (_, one) in zip(names, swept, changed, strict=True):
        same(found, one, name)


@pytest.mark.parametrize("state", ["cold", "standby S2", "pulled V2", "low line"])
def test_a_sweep_in_another_state(state) -> None:
    base = circuit_of(read_drawing(ROOT / "samples" / "breakwater.tube"))
    expected = [alone(base, "R7", x, state) for x in (9e3, 18e3)]
    sweep = Asked(base).sweep([c for c, _ in expected], state)
    # In standby a winding hangs on what four blocking diodes leak: volts of nanoamperes.
    volts = 0.05 if state.startswith("standby") else VOLTS
    for swept, (_, one) in zip(sweep, expected, strict=True):
        same(swept, one, volts=volts)
        assert swept.state.name == state


@pytest.mark.parametrize("volts", [150, 220, 400])
def test_a_gas_tube_strikes_as_if_it_had_been_dark(volts) -> None:
    """0A2: some 150 V lit, 155 V to start (on file); 5k and 20k leave it 0.8 of E1 while dark.

    At 190 V it would go on burning, and does not start: no matter where the sweep begins.
    """
    base = circuit(GAS.format(volts=volts))
    expected = [alone(base, "E1", x) for x in (160, 190, 210, 300)]
    swept = list(Asked(base).sweep([c for c, _ in expected]))
    assert [round(s.waves["V1.plate"].dc) for s in swept[:2]] == [128, 152]  # dark
    assert all(145 < s.waves["V1.plate"].dc < 156 for s in swept[2:])  # lit
    for found, (_, one) in zip(swept, expected, strict=True):
        same(found, one)


@pytest.mark.parametrize("ohms", [1, 200])
def test_a_cathode_that_is_cold_here_is_hot_there(ohms) -> None:
    base = circuit(HEATER.format(ohms=ohms))
    expected = [alone(base, "R9", x) for x in (1, 200)]
    swept = list(Asked(base).sweep([c for c, _ in expected]))
    assert swept[0].readings["V1A"].plate_ma > 0.3
    assert swept[1].readings["V1A"].plate_ma == pytest.approx(0, abs=1e-6)
    for found, (_, one) in zip(swept, expected, strict=True):
        same(found, one)


@settings(max_examples=8)
@given(st.data())
def test_values_far_away(data) -> None:
    base, known, _ = several("harbour-light")
    name = data.draw(st.sampled_from([n for n, v in known.items() if v.kind == "resistor"]))
    factor = data.draw(st.floats(0.05, 20))
    changed, one = alone(base, name, factor * known[name].number)
    (swept,) = Asked(base).sweep([changed])
    same(swept, one)


def test_nearly_all_go_together() -> None:
    """By low rank, and not each by itself: what makes a sweep cheap."""
    base = circuit_of(read_drawing(ROOT / "samples" / "breakwater.tube"))
    value = values(base.drawing)["R7"]
    circuits = [valued(base, {"R7": amount_of(value, x)}) for x in np.geomspace(6e3, 24e3, 20)]
    state = Asked(base).states["warm"]
    assert None not in ValueSolver(base, state).solve(circuits)


def test_what_cannot_go_together_goes_alone() -> None:
    """Another mains voltage moves every winding: no small change."""
    base = circuit_of(read_drawing(ROOT / "samples" / "harbour-light.tube"))
    changed, one = alone(base, "mains", 110)
    state = Asked(base).states["warm"]
    assert ValueSolver(base, state).solve([changed]) == [None]
    (swept,) = Asked(base).sweep([changed])
    same(swept, one)


def test_a_choke_without_ohms_has_those_of_its_henries() -> None:
    base = circuit(CHOKE)
    changed, one = alone(base, "L1", 0.5)
    (swept,) = ValueSolver(base, Asked(base).states["warm"]).solve([changed])
    same(swept, one)


@pytest.mark.parametrize(
    ("name", "new"), [("Z1", 9), ("D2", 3), ("LS1", 4), ("RT1", 80), ("E1", 40)]
)
def test_the_other_kinds_with_a_value(name, new) -> None:
    base = circuit(KINDS)
    changed, one = alone(base, name, new)
    (swept,) = ValueSolver(base, Asked(base).states["warm"]).solve([changed])
    same(swept, one)


def test_a_changed_drawing_begins_at_the_answer_there_is() -> None:
    base = Asked(circuit_of(read_drawing(ROOT / "samples" / "breakwater.tube")))
    changed, one = alone(base.circuit, "R7", 9e3)
    assert base.beside(changed).near is None  # nothing is solved yet
    base.solution()
    beside = base.beside(changed)
    assert beside.near is not None
    same(beside.solution(), one)
    assert beside.solution().iterations < one.iterations


def test_an_unknown_state_is_a_key_error() -> None:
    base = Asked(circuit("B --+[E1 9 V]-- gnd\nB --[R1 1k]-- gnd\n"))
    with pytest.raises(KeyError):
        base.solution("worm")
    with pytest.raises(KeyError):
        list(base.sweep([base.circuit], "worm"))
