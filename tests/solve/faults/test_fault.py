"""Single faults by low rank: by hand arithmetic, and as the changed circuit solved anew."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coldcheck.anatomy.neighbourhood import resistors_across
from coldcheck.bench.faults.listing import every_fault
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing, read_drawing
from coldcheck.drawing.kinds import PartKind
from coldcheck.solve.cycle.network import Unsolvable
from coldcheck.solve.cycle.triplets import DENSE_UP_TO
from coldcheck.solve.engine import Solver, solve_state
from coldcheck.solve.faults import fault as f
from coldcheck.solve.faults.change import HELD_S
from coldcheck.solve.faults.fault import Fault, NoSuchPart, altered, state_with
from coldcheck.solve.faults.solver import FAULT_INSTANTS, FaultSolver
from coldcheck.solve.solution import State

SAMPLES = Path(__file__).resolve().parents[3] / "samples"

DIVIDER = """
TOP --+[E1 100 V]-- gnd
TOP --[R1 10k]-- MID --[R2 10k]-- gnd
MID --[C1 1 uF]-- gnd
"""

STAGES = """
B --+[E1 250 V]-- gnd
tube V1 12AX7
tube V2 6V6GT
B --[R1 100k]-- V1A.plate
V1A.cathode --[R2 1k5]-- gnd
V1A.grid --[R3 1M]-- gnd
V1A.plate --[C1 22 nF]-- V2.grid --[R4 470k]-- gnd
V2.cathode --[R5 270 ohm 5 W]-- gnd
B --[R6 500 ohm 5 W]-- V2.plate
B -- V2.screen
B --[R7 100k]-- V1B.plate
V1B.cathode --[R8 1k5]-- gnd
V1B.grid -- gnd
"""

SUPPLY = """
mains 120 V 60 Hz tolerance 10 %
transformer T1
    primary pri 120 V 4 ohm
    winding ht 250 V ct 250 V 70 mA 160 ohm
    winding warm 6.3 V ct 2 A 0.1 ohm
tube V1 12AX7 heater T1.warm
T1.warm.ct -- gnd
T1.ht.ct -- gnd
T1.ht.1 --[D1 1N4007]-> RES
T1.ht.2 --[D2 1N4007]-> RES
RES --+[C1 20 uF 500 V]-- gnd
RES --[R1 {R1}]-- B
B --+[C2 20 uF 500 V]-- gnd
B --[R2 {R2}]-- gnd
B --[R3 {R3}]-- V1A.plate
V1A.cathode --[R4 {R4}]-- gnd
V1A.cathode --+[C3 {C3}]-- gnd
V1A.grid --[R5 1M]-- gnd
V1A.plate --[C4 {C4}]-- V1B.grid --[R6 470k]-- gnd
B --[R7 {R7}]-- V1B.plate
V1B.cathode --[R8 1k5]-- gnd
"""
VALUES = {"R1": 10e3, "R2": 220e3, "R3": 100e3, "R4": 1500.0, "R7": 100e3, "C3": 25e-6, "C4": 22e-9}


def supply(**changed):
    """The small amplifier with its mains supply, with some values changed (SI)."""
    unit = {"R": "ohm", "C": "F"}
    known = {**VALUES, **changed}
    text = SUPPLY.format(**{n: f"{v:.10f} {unit[n[0]]}" for n, v in known.items()})
    drawing = parse_drawing(text, "<test>")
    circuit = build_circuit(drawing)
    assert not (*drawing.problems, *circuit.problems)
    return circuit


@pytest.fixture(scope="module")
def stages(circuit_of):
    return FaultSolver(circuit_of(STAGES))


def dc(solution, point):
    assert solution.converged, solution.reason
    return solution.wave(point).dc


@pytest.mark.parametrize(
    ("fault", "volts"),
    [
        (Fault(f.OPEN, "R2"), 100.0),  # nothing loads R1
        (Fault(f.OPEN, "R1"), 0.0),
        (Fault(f.SHORT, "R1"), 100.0),
        (Fault(f.SHORT, "C1"), 0.0),
        (Fault(f.DRIFT, "R2", 2.0), 100 * 20 / 30),
        (Fault(f.LEAK, "C1", 10e3), 100 * 5 / 15),  # 10k beside 10k
        (Fault(f.BRIDGE, "TOP~MID", 10e3), 100 * 10 / 15),
        (Fault(f.DRIFT, "E1", 0.5), 25.0),
        (Fault(f.OPEN, "E1"), 0.0),
        (Fault(f.OPEN, "C1"), 50.0),
    ],
    ids=lambda x: x.name if isinstance(x, Fault) else "",
)
def test_a_divider_by_ohms_law(circuit_of, fault, volts):
    solver = FaultSolver(circuit_of(DIVIDER))
    assert dc(solver.solve(fault), "MID") == pytest.approx(volts, abs=1e-3)
    assert solver.counts == {"low rank": 1, "anew": 0}


def test_two_faults_at_once(circuit_of):
    solver = FaultSolver(circuit_of(DIVIDER))
    both = (Fault(f.DRIFT, "R1", 3.0), Fault(f.DRIFT, "R2", 2.0))
    found = solver.solve(both)
    assert dc(found, "MID") == pytest.approx(100 * 20 / 50)
    assert found.state.name == "failed R1 at 3 times its value and R2 at 2 times its value"


def test_gas_lifts_the_grid_by_its_current_in_the_leak(stages):
    before, after = stages.good(), stages.solve(Fault(f.GASSY, "V2", 2e-6))
    rise = dc(after, "V2.grid") - dc(before, "V2.grid")
    # 2 uA in 470k; the cathode follows and the grid stays negative to it, so takes none itself
    assert rise == pytest.approx(2e-6 * 470e3, rel=1e-3)
    assert dc(after, "V2.cathode") > dc(before, "V2.cathode") + 0.3


def test_a_shorted_coupling_capacitor_drives_the_grid_positive(stages):
    found = stages.solve(Fault(f.SHORT, "C1"))
    grid = found.readings["V2"]
    assert grid.grid_v > 0
    # what comes down R1 and does not go into V1A goes into the leak and the grid
    feed = (250 - dc(found, "V2.grid")) / 100e3
    leak = dc(found, "V2.grid") / 470e3
    assert feed == pytest.approx(
        leak + 1e-3 * (grid.grid_ma + found.readings["V1A"].plate_ma), rel=1e-4
    )
    assert found.current("C1").dc == pytest.approx(leak + 1e-3 * grid.grid_ma, rel=1e-3)


def test_a_shorted_cathode_resistor_takes_the_bias_away(stages):
    before, after = stages.good().readings["V2"], stages.solve(Fault(f.SHORT, "R5")).readings["V2"]
    assert after.cathode_v == pytest.approx(0.0, abs=0.01)
    assert -0.7 < after.grid_v < 0  # what the grid's own current leaves across 470k
    assert after.plate_ma > 1.5 * before.plate_ma
    # the load line: 250 V less 500 ohm times the current
    assert after.plate_v == pytest.approx(250 - 0.5 * after.plate_ma, rel=1e-4)
    assert after.plate_w == pytest.approx(1e-3 * after.plate_v * after.plate_ma, rel=1e-6)


def test_emission(stages):
    good, dead = stages.good(), stages.solve(Fault(f.DEAD, "V1"))
    assert dc(dead, "V1A.plate") == pytest.approx(250.0, abs=1e-3)
    assert dead.readings["V1A"].plate_ma == 0.0
    weak = stages.solve(Fault(f.WEAK, "V1", 0.5))
    assert dc(good, "V1A.plate") + 5 < dc(weak, "V1A.plate") < 250
    gone = stages.solve(Fault(f.PULLED, "V1"))
    assert "V1A" not in gone.readings
    assert dc(gone, "V1A.plate") == pytest.approx(250.0, abs=1e-3)


def test_a_loose_grid_is_taken_at_its_cathode_and_has_no_number(stages):
    found = stages.solve(Fault(f.OPEN, "R4"))
    assert found.wave("V2.grid") is None
    assert found.readings["V2"].grid_v is None
    bound = stages.solve((Fault(f.OPEN, "R4"), Fault(f.BRIDGE, "V2.grid~V2.cathode", 1 / HELD_S)))
    assert dc(found, "V2.cathode") == pytest.approx(dc(bound, "V2.cathode"), rel=5e-3)
    assert found.readings["V2"].plate_ma > 1.5 * stages.good().readings["V2"].plate_ma


def test_a_plate_without_supply_takes_nothing(stages):
    found = stages.solve(Fault(f.OPEN, "R6"))
    assert found.readings["V2"].plate_ma == pytest.approx(0.0, abs=1e-3)
    assert found.readings["V2"].screen_ma > stages.good().readings["V2"].screen_ma


def test_a_heater_that_touches_its_cathode(circuit_of):
    solver = FaultSolver(supply())
    found = solver.solve(Fault(f.HEATER_CATHODE, "V1A"))
    # 10 ohm to one end of the winding, whose middle is at gnd: the cathode is at gnd for DC
    assert dc(found, "V1A.cathode") == pytest.approx(0.0, abs=0.05)
    assert found.wave("V1A.cathode").ac_rms == pytest.approx(3.15, rel=0.05)


def test_an_open_heater_winding_leaves_the_cathodes_cold():
    solver = FaultSolver(supply())
    found = solver.solve((Fault(f.OPEN, "T1.warm.1-ct"), Fault(f.OPEN, "T1.warm.ct-2")))
    assert found.readings["V1A"].plate_ma == 0.0
    assert dc(found, "B") > dc(solver.good(), "B")


def test_means_are_the_dc_of_the_whole_solution(stages):
    fault = Fault(f.DRIFT, "R1", 1.3)
    whole, means = stages.solve(fault), stages.means(fault)
    for net, volts in means.items():
        assert whole.waves[net].dc == pytest.approx(volts, abs=1e-6)
    assert means["V1A.plate"] < stages.means(())["V1A.plate"]


@settings(max_examples=12, suppress_health_check=list(HealthCheck))
@given(part=st.sampled_from(sorted(VALUES)), factor=st.sampled_from([0.1, 0.5, 0.9, 1.5, 10.0]))
def test_a_drifted_part_is_the_drawing_with_the_other_value(part, factor):
    """Drawn anew with the other value and solved by the ordinary route."""
    found = FaultSolver(supply()).solve(Fault(f.DRIFT, part, factor))
    drawn = solve_state(supply(**{part: factor * VALUES[part]}), instants=FAULT_INSTANTS)
    assert found.residual_a < 1e-5
    for net, wave in drawn.waves.items():
        assert found.waves[net].dc == pytest.approx(wave.dc, rel=2e-4, abs=2e-3), net
        assert found.waves[net].ac_rms == pytest.approx(wave.ac_rms, rel=5e-3, abs=2e-3), net


@pytest.mark.parametrize("part", ["R2", "R3", "C2", "C3", "D1"])
def test_an_open_part_is_the_drawing_without_its_line(part):
    text = SUPPLY.format(
        **{n: f"{v:.10f} {'ohm' if n[0] == 'R' else 'F'}" for n, v in VALUES.items()}
    )
    kept = "\n".join(x for x in text.splitlines() if not re.search(rf"\[{part} ", x))
    if part == "R3":
        kept += "\nV1A.plate -- LOOSE"
    drawn = solve_state(build_circuit(parse_drawing(kept, "<test>")), instants=FAULT_INSTANTS)
    found = FaultSolver(supply()).solve(Fault(f.OPEN, part))
    for net in ("RES", "B", "V1A.cathode", "V1B.plate", "V1B.cathode"):
        assert dc(found, net) == pytest.approx(dc(drawn, net), rel=5e-4, abs=5e-3), net


REDRAWN = (f.OPEN, f.SHORT, f.LEAK, f.PULLED, f.BRIDGE)


def _inside(circuit, fault):
    kind = circuit.branches[fault.part].kind if fault.part in circuit.branches else ""
    return fault.kind == f.OPEN and kind in (PartKind.WINDING, PartKind.HEATER)


@settings(max_examples=6, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_any_fault_of_a_sample_is_the_changed_circuit_solved_anew(data):
    # none with gas tubes: those that burn go on burning, while a set drawn anew starts dark
    name = data.draw(st.sampled_from(["harbour-light", "night-watch", "low-tide"]))
    circuit = build_circuit(read_drawing(SAMPLES / f"{name}.tube"))
    # what the changed drawing alone does not say: a winding or a heater that is open
    every = [x for x in every_fault(circuit) if x.kind in REDRAWN and not _inside(circuit, x)]
    fault = data.draw(st.sampled_from(every))
    (found,) = FaultSolver(circuit).solve_all((fault,))  # as a sweep solves it
    state = state_with(State("warm", "warm"), (fault,))
    anew = Solver(altered(circuit, (fault,)), FAULT_INSTANTS).solve(state)
    if not anew.converged:
        return  # nothing to compare with
    assert found.converged, (fault.name, found.reason)
    shared = [n for n in anew.waves if n in found.waves]
    assert len(shared) >= len(anew.waves) - 2
    # a loose grid is tried at several voltages there, and what differs by less than this is known
    loose = 0.005 if found.undefined else 0.0
    for net in shared:
        expected, most = anew.waves[net].dc, 0.5 + loose * anew.waves[net].peak
        assert found.waves[net].dc == pytest.approx(expected, rel=2e-3, abs=most), (fault.name, net)


@settings(max_examples=6, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_faults_together_are_the_faults_one_by_one(data):
    """Two ways through the same equations, for any faults of any sample."""
    path = data.draw(st.sampled_from(sorted(SAMPLES.glob("*.tube"))))
    circuit = build_circuit(read_drawing(path))
    faults = data.draw(st.lists(st.sampled_from(every_fault(circuit)), min_size=2, max_size=4))
    together = list(FaultSolver(circuit).solve_all(faults))
    one_by_one = FaultSolver(circuit)
    for fault, found in zip(faults, together, strict=True):
        alone = one_by_one.solve(fault)
        assert (found.converged, found.undefined) == (alone.converged, alone.undefined), fault.name
        assert found.state == alone.state
        for net, wave in alone.waves.items():
            apart = abs(found.waves[net].samples - wave.samples).max()
            assert apart < 2e-3 * wave.peak + 0.02, (path.stem, fault.name, net)


def test_more_unknowns_than_the_ordinary_route_takes_dense():
    # a dozen stages on one supply: more than a hundred unknowns
    stage = """
B --[R1{k} 100k]-- V{k}A.plate
V{k}A.cathode --[R2{k} 1k5]-- gnd
V{k}A.grid --[R3{k} 1M]-- gnd
tube V{k} 12AX7
"""
    text = SUPPLY.format(
        **{n: f"{v:.10f} {'ohm' if n[0] == 'R' else 'F'}" for n, v in VALUES.items()}
    )
    circuit = build_circuit(
        parse_drawing(text + "".join(stage.format(k=k) for k in range(11, 23)), "<test>")
    )
    solver = FaultSolver(circuit)
    faults = (Fault(f.SHORT, "R220"), Fault(f.OPEN, "R121"), Fault(f.DRIFT, "R1", 2.0))
    found = list(solver.solve_all(faults))
    assert solver._known("warm").cycle.network.size > DENSE_UP_TO
    assert solver.counts == {"low rank": 3, "anew": 0}
    alone = solver.solve(faults[0])  # the ordinary route
    assert solver.counts["anew"] == 1
    for net in ("B", "V20A.plate", "V22A.plate", "V1B.plate"):
        assert dc(found[0], net) == pytest.approx(dc(alone, net), rel=2e-4, abs=2e-3), net
    assert dc(found[1], "V21A.cathode") == pytest.approx(0.0, abs=0.05)  # without its plate


@pytest.mark.parametrize(
    "fault",
    [
        Fault(f.OPEN, "R99"), Fault(f.PULLED, "V9"), Fault(f.THROWN, "S1"), Fault(f.WIPER, "R1"),
        Fault(f.BRIDGE, "TOP~NOWHERE"), Fault(f.GASSY, "V1", 1e-6), Fault(f.HEATER_CATHODE, "V1"),
        Fault("melted", "R1"),
    ],
    ids=lambda x: x.name if x.kind != "melted" else "melted",
)  # fmt: skip
def test_a_fault_the_circuit_cannot_have(circuit_of, fault):
    with pytest.raises(NoSuchPart):
        FaultSolver(circuit_of(DIVIDER)).solve(fault)


def test_open_values_and_unknown_states(circuit_of):
    solver = FaultSolver(circuit_of(DIVIDER.replace("R2 10k", "R2 ?")))
    found = solver.solve(Fault(f.OPEN, "R1"))
    assert not found.converged
    assert "every value" in found.reason
    with pytest.raises(Unsolvable):
        solver.means(Fault(f.OPEN, "R1"))
    with pytest.raises(KeyError):
        FaultSolver(circuit_of(DIVIDER)).solve(Fault(f.OPEN, "R1"), "tepid")


def test_faults_in_another_state():
    solver = FaultSolver(supply())
    high, warm = (solver.solve(Fault(f.OPEN, "R2"), s) for s in ("high line", "warm"))
    assert 1.05 < dc(high, "B") / dc(warm, "B") < 1.15


def test_what_a_fault_puts_there_has_a_name_that_a_reader_may_see():
    circuit = build_circuit(parse_drawing(STAGES))
    faults = (
        Fault(f.SHORT, "C1"), Fault(f.LEAK, "C1", 1e6), Fault(f.BRIDGE, "V2.grid~V2.cathode"),
    )  # fmt: skip
    added = [b for b in altered(circuit, faults).branches.values() if b.of_a_fault]
    assert [(b.name, b.owner) for b in added] == [
        (name, name)
        for name in ("the short across C1", "the leak across C1",
                     "the bridge from V2.grid to V2.cathode")
    ]  # fmt: skip
    assert not resistors_across(altered(circuit, faults), circuit.branches["C1"])
