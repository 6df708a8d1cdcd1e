"""The state ``off``: to the touch limit, by hand and by an integrator written separately."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from coldcheck.solve import solve_states
from coldcheck.solve.off.charging import at_their_highest
from coldcheck.solve.off.decay import Curve, all_seconds_above
from coldcheck.solve.off.off_state import off_state

SET = """
mains 120 V 60 Hz
transformer T1
    primary pri 120 V 4 ohm
    winding ht 250 V ct 250 V 200 ohm
    winding warm 6.3 V 0.1 ohm
line --[S1 switch]-- T1.pri.1
T1.pri.2 -- neutral
T1.ht.ct -- gnd
T1.warm.2 -- gnd
T1.ht.1 --[D1 1N4007]-> RES
T1.ht.2 --[D2 1N4007]-> RES
RES --+[C1 22 uF 450 V]-- gnd
RES --[S2 switch]-- B0
B0 --[R1 4k7]-- B1
B1 --+[C2 47 uF 450 V]-- gnd
B1 --[R2 150k]-- LIFT --[R3 33k]-- gnd
B1 --[R4 22k]-- B2
B2 --+[C3 10 uF 450 V]-- gnd
tube V1 12AX7 heater T1.warm
B2 --[R5 100k]-- V1A.plate --[C4 22 nF]-- OUT --[R8 1M]-- gnd
V1A.cathode --[R6 1k5]-- gnd
V1A.grid --[R7 1M]-- gnd
"""
C = np.array([22e-6, 47e-6, 10e-6])


def conductances(joined):
    """G of RES, B1, B2 with the tube cold; R1 carries nothing when S2 is thrown."""
    r1, r23, r4 = (1 / 4.7e3 if joined else 0.0), 1 / 183e3, 1 / 22e3
    return np.array([[r1, -r1, 0], [-r1, r1 + r23 + r4, -r4], [0, -r4, r4]])


def last_crossing(start, joined, row, limit):
    """Last time |row . v| is above a limit, by a stiff integrator on equations written here."""
    g = conductances(joined)
    run = solve_ivp(
        lambda _t, v: -(g @ v) / C,
        (0, 400),
        start,
        method="Radau",
        rtol=1e-9,
        atol=1e-9,
        events=lambda _t, v: abs(float(np.dot(row, v))) - limit,
    )
    times = run.t_events[0]
    if abs(float(np.dot(row, run.y[:, -1]))) > limit:
        return math.inf
    return float(times[-1]) if len(times) else 0.0


@pytest.fixture(scope="module")
def switched_off(circuit_of):
    circuit = circuit_of(SET)
    solutions = solve_states(circuit)
    assert all(s.converged for s in solutions.values())
    highest = {s.state.name: s for s in at_their_highest(solutions.values())}
    return circuit, highest, off_state(circuit, solutions)


def test_states_without_load_count_at_the_highest_mains(switched_off, circuit_of):
    """Ten per cent more than at the nominal mains, S2 open as well; the others as solved."""
    circuit, highest, _ = switched_off
    plain = solve_states(circuit)
    for name in ("cold", "standby S2"):
        there = highest[f"{name}, high line"].wave("RES").dc
        assert there == pytest.approx(1.1 * plain[name].wave("RES").dc)
    for name in ("warm", "high line", "low line", "pulled V1"):
        assert highest[name].wave("RES").dc == plain[name].wave("RES").dc
    # Nothing is scaled where a bench source feeds the circuit.
    bench = circuit_of(
        "B1 --+[E1 300 V]-- gnd\nmains 120 V 60 Hz\ntube V1 12AX7\nB1 -- V1A.plate\n"
    )
    assert "cold" in {s.state.name for s in at_their_highest(solve_states(bench).values())}


def test_every_switch_in_either_position(switched_off):
    _, _, off = switched_off
    assert [p.name for p in off.positions] == ["off", "off, S1 thrown", "off, S2 thrown"]
    assert (off.unsolved, off.unvalued) == ("", ())


@pytest.mark.parametrize("limit", [60.0, 50.0])
@pytest.mark.parametrize("index", [0, 1, 2])
def test_capacitors_fall_as_an_integrator_has_them_fall(switched_off, index, limit):
    _, solutions, off = switched_off
    decay = off.positions[0].capacitors[index]
    start = [solutions[decay.charged_in].wave(n).dc for n in ("RES", "B1", "B2")]
    row = np.eye(3)[index]
    expected = last_crossing(start, True, row, limit)
    found = decay.seconds if limit == 60 else decay.guard_seconds
    assert decay.capacitor.name == f"C{index + 1}"
    assert decay.volts == pytest.approx(start[index])
    assert found == pytest.approx(expected, rel=1e-3)


def test_the_slowest_start_is_the_one_told(switched_off):
    """Integrated from every state the set runs in, none is slower than the one reported."""
    _, solutions, off = switched_off
    decay = off.positions[0].capacitors[1]
    starts = {
        name: [s.wave(n).dc for n in ("RES", "B1", "B2")]
        for name, s in solutions.items()
        if not name.startswith("pulled")
    }
    times = {n: last_crossing(v, True, np.eye(3)[1], 60.0) for n, v in starts.items()}
    assert decay.charged_in == max(times, key=times.__getitem__)
    assert decay.seconds == pytest.approx(max(times.values()), rel=1e-3)


def test_a_standby_switch_cuts_the_reservoir_off_from_its_bleeder(switched_off):
    _, _, off = switched_off
    cut = {d.capacitor.name: d for d in off.positions[2].capacitors}
    assert (cut["C1"].seconds, cut["C1"].drained_by) == (math.inf, ())
    assert math.isfinite(cut["C2"].seconds)
    assert all(math.isfinite(d.seconds) for d in off.positions[0].capacitors)


def test_what_the_charge_leaves_through(switched_off):
    """C1 through R1, then R2 and R3; the plate resistor of a cold tube drains nothing."""
    _, _, off = switched_off
    leaving = {d.capacitor.name: d.drained_by for d in off.positions[0].capacitors}
    assert set(leaving["C1"]) == {"R1", "R2", "R3"}
    assert set(leaving["C2"]) == {"R2", "R3"}
    assert set(leaving["C3"]) == {"R4", "R2", "R3"}


def test_drains_in_parallel_come_in_the_order_of_their_share(circuit_of):
    text = (
        "B1 --+[E1 300 V]-- gnd\nB1 --[D1 1N4007]-> A\nA --+[C1 47 uF 400 V]-- gnd\n"
        "A --[R1 470k]-- gnd\nA --[R2 100k]-- gnd\nA --[R3 10M]-- gnd\n"
    )
    circuit = circuit_of(text)
    (position,) = off_state(circuit, solve_states(circuit)).positions
    (decay,) = position.capacitors
    # 1/100k, 1/470k and 1/10M: 82 %, 17 % and 1 % (not named) of the charge.
    assert decay.drained_by == ("R2", "R1")
    ohms = 1 / (1 / 470e3 + 1 / 100e3 + 1 / 10e6)
    by_hand = ohms * 47e-6 * math.log(decay.volts / 60)
    assert decay.undrawn == ("E1",)
    # D1 carries the current of the bench source and counts as a way into B1, which leads nowhere.
    assert decay.seconds == pytest.approx(by_hand, rel=1e-3)
    assert decay.guard_seconds - decay.seconds == pytest.approx(
        ohms * 47e-6 * math.log(60 / 50), rel=1e-3
    )


def test_nets_fall_with_what_holds_them(switched_off):
    """With the tube cold its plate is at B2, and the divider at 33k / 183k of B1."""
    _, solutions, off = switched_off
    nets = {n.net: n for n in off.positions[0].nets}
    assert {"RES", "B1", "B2", "V1A.plate", "LIFT"} <= set(nets)
    assert nets["V1A.plate"].seconds == pytest.approx(nets["B2"].seconds, rel=1e-3)
    lift = nets["LIFT"]
    start = [solutions[lift.charged_in].wave(n).dc for n in ("RES", "B1", "B2")]
    row = np.array([0, 33 / 183, 0])
    assert lift.volts == pytest.approx(float(row @ start), rel=1e-3)
    assert lift.guard_seconds == pytest.approx(last_crossing(start, True, row, 50.0), rel=1e-3)
    assert "V1A.cathode" not in nets
    assert "OUT" not in nets


def test_the_curve_itself(switched_off):
    _, solutions, off = switched_off
    decay = off.positions[0].capacitors[0]
    start = [solutions[decay.charged_in].wave(n).dc for n in ("RES", "B1", "B2")]
    g = conductances(True)
    times = [0.05, 0.5, 5.0]
    run = solve_ivp(lambda _t, v: -(g @ v) / C, (0, 5), start, "Radau", times, rtol=1e-9, atol=1e-9)
    assert isinstance(decay.curve, Curve)
    found = [decay.curve.volts(t) for t in times]
    assert found == pytest.approx(list(run.y[0]), rel=1e-4)


def test_without_numbers_it_says_why_and_names_what_has_no_value(circuit_of):
    circuit = circuit_of(SET.replace("C3 10 uF", "C3 ?"))
    solutions = solve_states(circuit)
    lost = {n: replace(s, converged=False, reason="tried") for n, s in solutions.items()}
    off = off_state(circuit, lost)
    assert (off.positions, off.unsolved, off.unvalued) == ((), "tried", ("C3",))


def test_nothing_charged_is_an_empty_position(circuit_of):
    circuit = circuit_of("B1 --+[E1 9 V]-- gnd\nB1 --+[C1 100 uF 16 V]-- gnd\nB1 --[R1 1k]-- gnd\n")
    (position,) = off_state(circuit, solve_states(circuit)).positions
    assert (position.capacitors, position.nets) == ((), ())


@given(
    st.lists(
        st.tuples(st.floats(-900, 900), st.floats(1e-2, 1e3)),
        min_size=1,
        max_size=6,
    ),
    st.floats(10, 100),
)
def test_single_exponentials_cross_where_the_logarithm_says(parts, limit):
    weights = np.diag([v for v, _ in parts])
    taus = np.array([t for _, t in parts])
    (found,) = all_seconds_above(weights, taus, (limit,))
    for seconds, (volts, tau) in zip(found, parts, strict=True):
        expected = tau * math.log(abs(volts) / limit) if abs(volts) > limit else 0.0
        assert seconds == pytest.approx(expected, rel=1e-9, abs=1e-9)
