"""Which states there are, and what each one changes."""

import pytest

from coldcheck.solve import solve_states
from coldcheck.solve.states import states_of

SUPPLY = """
mains 120 V 60 Hz tolerance 5 %
transformer T1
    primary pri 120 V 4 ohm
    winding ht 250 V ct 250 V 200 ohm
    winding warm 6.3 V 0.1 ohm
earth -- gnd
line --[F1 fuse 1 A]-- A --[S1 switch]-- T1.pri.1
T1.pri.2 -- neutral
T1.warm.2 -- gnd
T1.ht.ct -- gnd
T1.ht.1 --[D1 1N4007]-> RES
T1.ht.2 --[D2 1N4007]-> RES
RES --+[C1 40 uF 450 V]-- gnd
RES --[R9 220k]-- gnd
RES --[S2 switch]-- B1
tube V1 12AX7 heater T1.warm
tube V2 6V6GT heater T1.warm
B1 --[R1 100k]-- V1A.plate
V1A.cathode --[R2 1k5]-- gnd
V1A.grid --[R3 1M]-- gnd
B1 --[R4 2k]-- V2.plate
B1 -- V2.screen
V2.cathode --[R5 330 ohm]-- gnd
V2.grid --[R6 470k]-- gnd
"""


def test_list_of_states(circuit_of):
    names = [s.name for s in states_of(circuit_of(SUPPLY))]
    assert names == [
        "warm", "cold", "warming: small tubes first", "warming: output tubes first",
        "high line", "low line", "standby S2", "pulled V1", "pulled V2",
    ]  # fmt: skip


def test_bench_stage_has_no_mains_states(circuit_of):
    text = "tube V1 12AX7\nB1 --+[E1 250 V]-- gnd\nB1 --[R1 100k]-- V1A.plate\nV1A.grid -- gnd\n"
    names = [s.name for s in states_of(circuit_of(text + "V1A.cathode --[R2 1k5]-- gnd\n"))]
    assert names == ["warm", "cold", "pulled V1"]


@pytest.fixture(scope="module")
def states(circuit_of):
    found = solve_states(circuit_of(SUPPLY))
    assert all(s.converged for s in found.values()), [s.reason for s in found.values()]
    return found


def test_line_states_scale_the_mains_by_the_stated_tolerance(states):
    warm = states["warm"].wave("line").ac_rms
    assert warm == pytest.approx(120, rel=1e-4)
    assert states["high line"].wave("line").ac_rms == pytest.approx(1.05 * warm)
    assert states["low line"].wave("line").ac_rms == pytest.approx(0.95 * warm)
    assert states["low line"].wave("RES").dc < states["warm"].wave("RES").dc


def test_cold_supply_stands_higher_and_draws_nothing(states):
    cold = states["cold"]
    assert cold.wave("RES").dc > states["warm"].wave("RES").dc + 5
    assert cold.readings["V2"].plate_ma == 0
    assert cold.wave("V2.plate").dc == pytest.approx(cold.wave("RES").dc, rel=1e-3)


def test_standby_leaves_the_reservoir_and_takes_the_rest(states):
    standby = states["standby S2"]
    assert standby.wave("RES").dc == pytest.approx(states["cold"].wave("RES").dc, rel=0.005)
    assert standby.readings["V2"].plate_ma == pytest.approx(0, abs=1e-3)
    assert standby.readings["V2"].heater_v == pytest.approx(
        states["warm"].readings["V2"].heater_v, rel=0.01
    )


def test_a_pulled_tube_is_gone_and_its_heater_with_it(states):
    pulled, warm = states["pulled V2"], states["warm"]
    assert "V2" not in pulled.readings
    assert "V1A" in pulled.readings
    assert pulled.readings["V1A"].heater_v > warm.readings["V1A"].heater_v
    assert pulled.wave("RES").dc > warm.wave("RES").dc
    assert pulled.wave("V2.cathode").dc == pytest.approx(0, abs=1e-6)


def test_a_pulled_tube_without_drawn_heater_is_gone_too(solved):
    text = "tube V1 12AX7\nB1 --+[E1 250 V]-- gnd\nB1 --[R1 100k]-- V1A.plate\nV1A.grid -- gnd\n"
    text += "V1A.cathode --[R2 1k5]-- gnd\n"
    assert "V1A" in solved(text).readings
    pulled = solved(text, "pulled V1")
    assert not pulled.readings
    assert pulled.wave("V1A.plate").dc == pytest.approx(250, abs=0.1)


def test_filament_rectifiers_conduct_cold_and_cathode_ones_do_not(solved):
    text = """
mains 120 V 60 Hz
transformer T1
    primary pri 120 V 4 ohm
    winding ht 250 V ct 250 V 200 ohm
    winding fil 5 V 0.1 ohm
tube V1 {} heater T1.fil
T1.ht.ct -- gnd
T1.ht.1 -- V1.plate1
T1.ht.2 -- V1.plate2
V1:8 --+[C1 20 uF]-- gnd
V1:8 --[R1 10k]-- gnd
"""
    assert solved(text.format("5Y3GT"), "cold").wave("V1:8").dc > 250
    assert solved(text.format("GZ34"), "cold").wave("V1:8").dc == pytest.approx(0, abs=0.1)
    assert solved(text.format("GZ34"), "warm").wave("V1:8").dc > 250
