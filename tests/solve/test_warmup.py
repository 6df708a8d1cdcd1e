"""The warm-up as a sequence of states: who emits when, and what everything sees on the way."""

import math

import pytest

from coldcheck.solve import solve_states
from coldcheck.solve.states import states_of
from coldcheck.solve.warmup import UNLOADED, grid_volts, small, warm_up

POWER = """
mains 120 V 60 Hz
transformer T1
    primary pri 120 V 4 ohm
    winding ht 250 V ct 250 V 200 ohm
    winding fil 5 V 0.02 ohm
    winding warm 6.3 V 0.02 ohm
    winding hot 2.5 V ct 0.02 ohm
T1.ht.ct -- gnd
T1.warm.2 -- gnd
"""
TUBE = "tube V3 {} heater T1.fil\nT1.ht.1 -- V3.plate1\nT1.ht.2 -- V3.plate2\nV3:8 -- RES\n"
SILICON = "T1.ht.1 --[D1 1N4007]-> RES\nT1.ht.2 --[D2 1N4007]-> RES\n"
FILTER = "RES --+[C1 40 uF 500 V]-- gnd\nRES --[R9 220k]-- gnd\n"
FOLLOWER = """
tube V1 12AX7 heater T1.warm
RES --[R1 100k]-- V1A.plate -- V1B.grid
V1A.cathode --[R2 1k5]-- gnd
V1A.grid --[R3 1M]-- gnd
RES -- V1B.plate
V1B.cathode --[R4 100k]-- gnd
"""
OUTPUT = """
tube V2 6V6GT heater T1.warm
RES --[R5 2k]-- V2.plate
RES -- V2.screen
V2.cathode --[R6 330 ohm]-- gnd
V2.grid --[R7 470k]-- gnd
"""
TRIODE = """
tube V4 2A3 heater T1.hot
T1.hot.ct --[R8 750 ohm]-- gnd
RES --[R5 2k]-- V4.plate
V4.grid --[R7 470k]-- gnd
"""
PEAK = 250 * math.sqrt(2)


def warming(circuit):
    return [s.name.removeprefix("warming: ") for s in states_of(circuit) if s.kind == "warming"]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (POWER + SILICON + FILTER + FOLLOWER, []),
        (POWER + TUBE.format("5Y3GT") + FILTER + FOLLOWER, []),
        (POWER + TUBE.format("GZ34") + FILTER, []),
        (POWER + TUBE.format("GZ34") + FILTER + FOLLOWER, ["rectifier first"]),
        (
            POWER + TUBE.format("5V4G") + FILTER + FOLLOWER + OUTPUT,
            ["rectifier first", "small tubes first", "output tubes first"],
        ),
        (
            POWER + SILICON + FILTER + FOLLOWER + OUTPUT,
            ["small tubes first", "output tubes first"],
        ),
        (POWER + TRIODE + SILICON + FILTER, ["silicon first"]),
        (POWER + TRIODE + TUBE.format("5U4G") + FILTER, []),
    ],
)
def test_only_the_steps_a_circuit_has(circuit_of, text, expected):
    assert warming(circuit_of(text)) == expected


def test_a_bench_stage_has_no_rectifier_to_wait_for(circuit_of):
    text = "tube V1 12AX7\nB1 --+[E1 250 V]-- gnd\nB1 --[R1 100k]-- V1A.plate\nV1A.grid -- gnd\n"
    assert warming(circuit_of(text + "V1A.cathode --[R2 1k5]-- gnd\n")) == []


def test_small_tubes_and_output_tubes(circuit_of):
    """12AX7 1.2 W and 6SN7GTB 5 W a plate; 6V6GT 14 W, EL84 12 W (data sheets)."""
    text = "tube V1 12AX7\ntube V2 6SN7GTB\ntube V3 6V6GT\ntube V4 EL84\n"
    tubes = circuit_of(text).tubes
    assert [small(tubes[n]) for n in ("V1", "V2", "V3", "V4")] == [True, True, False, False]


@pytest.fixture(scope="module")
def slow(circuit_of):
    """A GZ34, a direct-coupled follower and an output tube."""
    circuit = circuit_of(POWER + TUBE.format("GZ34") + FILTER + FOLLOWER + OUTPUT)
    found = solve_states(circuit)
    assert all(s.converged for s in found.values()), [s.reason for s in found.values()]
    return circuit, found


def test_the_rectifier_alone_charges_the_supply_to_the_peak(slow):
    """Full wave, 250 V a half, 1.6 mA of bleeder: the peak less the drop and the ripple.

    Drop of a GZ34 at some 50 mA of peak current: a few volts. Ripple: 1.6 mA / (120 Hz x 40 uF).
    """
    _, found = slow
    rails = {name: s.wave("RES").dc for name, s in found.items()}
    assert rails["cold"] == pytest.approx(0, abs=0.1)
    assert PEAK - 15 < rails["warming: rectifier first"] < PEAK
    assert rails["warming: rectifier first"] > rails["warming: small tubes first"]
    assert rails["warming: small tubes first"] > rails["warm"] + 10
    nominal = {n: v for n, v in rails.items() if n == "cold" or n.startswith(("w", "p"))}
    assert max(nominal, key=nominal.__getitem__) == "warming: rectifier first"


def test_the_rectifier_alone_is_the_supply_drawn_without_its_tubes(slow, solved):
    """The same drawing with nothing behind the bleeder, solved warm, has the same rail."""
    alone = solved(POWER + TUBE.format("GZ34") + FILTER)
    _, found = slow
    rail = found["warming: rectifier first"].wave("RES")
    # The heater winding's load is small but not nothing: 3 mV of primary drop in 120 V is not seen.
    assert rail.dc == pytest.approx(alone.wave("RES").dc, rel=0.01)
    assert rail.ac_rms == pytest.approx(alone.wave("RES").ac_rms, rel=0.05)


def test_nothing_flows_in_a_tube_that_is_still_cold(slow):
    _, found = slow
    flows = {
        name: {s: found[name].readings[s].plate_ma > 0.05 for s in ("V1A", "V1B", "V2")}
        for name in found
        if name.startswith("warming")
    }
    assert flows == {
        "warming: rectifier first": {"V1A": False, "V1B": False, "V2": False},
        "warming: small tubes first": {"V1A": True, "V1B": True, "V2": False},
        "warming: output tubes first": {"V1A": False, "V1B": False, "V2": True},
    }


def test_a_direct_coupled_grid_stands_at_the_full_supply_above_its_cold_cathode(slow):
    """No current in R1 and none in R4: V1B's grid is at the rail, its cathode at 0 V."""
    circuit, found = slow
    first = found["warming: rectifier first"]
    follower = next(s for s in circuit.sections() if s.name == "V1B")
    assert first.wave("V1B.cathode").dc == pytest.approx(0, abs=0.01)
    assert grid_volts(first, follower) == pytest.approx(first.wave("RES").high, rel=1e-3)
    assert grid_volts(found["warm"], follower) < 0


def test_what_everything_sees_on_the_way(slow):
    circuit, found = slow
    seen = warm_up(circuit, found)
    assert seen.steps == (
        "cold",
        "warming: rectifier first",
        "warming: small tubes first",
        "warming: output tubes first",
        "warm",
    )
    assert seen.missing == ()
    (reservoir,) = seen.capacitors
    assert (reservoir.at, reservoir.state) == ("C1", "warming: rectifier first")
    assert reservoir.volts == pytest.approx(
        max(found[name].wave("RES").peak for name in seen.steps), rel=1e-9
    )
    grids = {p.at: p for p in seen.grids}
    assert grids["V1B"].state == "warming: rectifier first"
    assert grids["V1B"].volts == pytest.approx(reservoir.volts, rel=1e-3)
    assert set(grids) == {"V1A", "V1B", "V2"}
    heaters = {p.at: p for p in seen.heaters}
    assert "V3" not in heaters, "its cathode is joined to its heater"
    # The heater winding is at gnd: the follower's cathode is the stress, and warm is its worst.
    cathode = max(found[n].wave("V1B.cathode").high for n in seen.steps)
    assert heaters["V1B"].volts == pytest.approx(-cathode, abs=9)


def test_a_step_that_was_not_solved_is_named(slow):
    from dataclasses import replace

    circuit, found = slow
    lost = {**found, "cold": replace(found["cold"], converged=False, waves={}, readings={})}
    assert warm_up(circuit, lost).missing == ("cold",)


def test_silicon_is_there_before_the_filaments(circuit_of):
    """A 2A3 draws some 50 mA; for its first second it draws nothing and the rail is higher."""
    found = solve_states(circuit_of(POWER + TRIODE + SILICON + FILTER))
    early, cold = found["warming: silicon first"], found["cold"]
    assert early.converged
    assert cold.converged
    assert early.readings["V4"].plate_ma == pytest.approx(0, abs=1e-6)
    assert cold.readings["V4"].plate_ma > 25
    assert PEAK - 5 < early.wave("RES").dc < PEAK
    assert early.wave("RES").dc > cold.wave("RES").dc + 15


def test_the_states_without_load_are_the_three_before_the_tubes(slow):
    _, found = slow
    assert [n for n in found if n in UNLOADED] == ["cold", "warming: rectifier first"]


def test_an_under_rated_reservoir_is_found_before_the_tubes_draw(circuit_of):
    """The rules see the step: 350 V of peak, 10 % high line, on a 350 V capacitor."""
    from coldcheck.anatomy.case import Case
    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.running import merge, run_rules

    text = POWER + TUBE.format("GZ34") + FILTER.replace("500 V", "350 V") + FOLLOWER + OUTPUT
    circuit = circuit_of(text)
    told = run_rules(Case(circuit, solve_states(circuit)))
    merged = merge(f for f in told if isinstance(f, Finding))
    found = [f for f in merged if f.rule == "capacitor.over-voltage"]
    assert [(f.at, f.state) for f in found] == [(("C1",), "warming: rectifier first")]
    assert found[0].evidence["mains_factor"].value == pytest.approx(1.1)
    assert (PEAK - 15) * 1.1 < found[0].evidence["peak"].value < PEAK * 1.1
