"""The answer against laws it was not solved with: currents in and out of every net, part by part.

The solver reports its own residual; here the sums are made again from the published currents and
readings, with the circuit's branches only, and Ohm's law is checked part by part.
"""

import numpy as np
import pytest

import coldcheck.solve.cycle.bank
import coldcheck.solve.cycle.devices
import coldcheck.solve.cycle.means
import coldcheck.solve.cycle.response
from coldcheck.drawing.kinds import PartKind
from coldcheck.solve import solve_states
from coldcheck.solve.cycle.network import SERVICE, feed_name
from coldcheck.solve.cycle.response import difference

AMPLIFIER = """
mains 120 V 60 Hz
transformer T1
    primary pri 120 V 5 ohm
    winding ht 260 V ct 260 V 90 mA 220 ohm
    winding fil 5 V 2 A 0.1 ohm
    winding warm 6.3 V ct 2 A 0.15 ohm
tube V1 12AX7 heater T1.warm
tube V2 6V6GT heater T1.warm
tube V3 5Y3GT heater T1.fil
output T2 5k : 8 ohm 210 ohm 12 H
pot P1 500k at 30 %
line --[F1 fuse 1 A]-- A --[S1 switch]-- T1.pri.1
T1.pri.2 -- neutral
earth -- chassis
chassis -- gnd
T1.ht.1 -- V3.plate1
T1.ht.2 -- V3.plate2
T1.ht.ct -- gnd
V3:8 -- RES --[L1 8 H 250 ohm]-- B1 --[R1 10k]-- B2
RES --+[C1 20 uF 500 V]-- gnd
B1 --+[C2 40 uF 500 V]-- gnd
B2 --+[C3 20 uF 500 V]-- gnd
B2 --[R8 150k]-- LIFT --[R9 22k]-- gnd
LIFT --+[C9 10 uF 100 V]-- gnd
LIFT -- T1.warm.ct
signal IN 0.4 V 1 kHz
IN -- P1.top
P1.bottom -- gnd
P1.wiper -- V1A.grid
B2 --[R3 100k]-- V1A.plate --[C4 22 nF]-- DRV --[R6 470k]-- gnd
V1A.cathode --[R4 1k5]-- gnd
V1B.grid -- gnd
V1B.cathode -- gnd
B2 --[R10 1M]-- V1B.plate
DRV --[R5 1k5]-- V2.grid
V2.cathode --[R7 270 ohm]-- gnd
V2.cathode --+[C7 25 uF 50 V]-- gnd
B1 --[R2 470 ohm]-- V2.screen
B1 -- T2.p1
T2.p2 -- V2.plate
T2.s1 --[LS1 speaker 8 ohm]-- T2.s2
T2.s2 -- gnd
"""

BRIDGE = """
mains 230 V 50 Hz
transformer T1
    primary pri 230 V 12 ohm
    winding ht 230 V 40 ohm
T1.ht.1 --[D1 1N4007]-> RES
T1.ht.2 --[D2 1N4007]-> RES
gnd --[D3 1N4007]-> T1.ht.1
gnd --[D4 1N4007]-> T1.ht.2
RES --+[C1 47 uF]-- gnd
RES --[R1 4k7]-- Z
gnd --[Z1 zener 150 V]-> Z
Z --[R2 22k]-- gnd
tube V1 6SJ7
RES --[R3 220k]-- V1.plate
RES --[R4 1M]-- V1.screen
V1.screen --[C3 0.1 uF]-- gnd
V1.suppressor -- V1.cathode
V1.cathode --[R5 1k]-- gnd
V1.grid --[R6 1M]-- gnd
"""

LEAKS = 1e-5
"""Amperes: reverse leakage of rectifiers is in the equations but not in the reported currents."""


@pytest.fixture(scope="module", params=[AMPLIFIER, BRIDGE], ids=["amplifier", "bridge"])
def states(request, circuit_of):
    found = solve_states(circuit_of(request.param))
    assert all(s.converged for s in found.values()), {n: s.reason for n, s in found.items()}
    return found


def tube_means(solution):
    """Mean current each electrode takes out of its net, amperes."""
    taken = {}
    for section in solution.circuit.sections():
        reading = solution.readings.get(section.name)
        if reading is None:
            continue
        amps = {"screen": reading.screen_ma, "grid": reading.grid_ma}
        for plate in section.plates:
            amps[plate] = reading.plate_ma / len(section.plates)
        total = sum(amps.values()) / 1e3
        for electrode, milli in amps.items():
            if electrode in section.electrodes:
                net = section.electrodes[electrode]
                taken[net] = taken.get(net, 0.0) + milli / 1e3
        for net in section.cathode_nets:
            taken[net] = taken.get(net, 0.0) - total / len(section.cathode_nets)
    return taken


def test_mean_currents_of_every_net_add_up_to_nothing(states):
    for solution in states.values():
        sums = tube_means(solution)
        for branch in solution.circuit.branches.values():
            wave = solution.current(branch.name)
            assert wave is not None, branch.name
            sums[branch.a] = sums.get(branch.a, 0.0) + wave.dc
            sums[branch.b] = sums.get(branch.b, 0.0) - wave.dc
        skip = {"gnd", "line", "neutral", "earth", "chassis"} | set(solution.undefined)
        skip |= {n for s in solution.circuit.sections() if len(s.plates) == 2 for n in
                 (s.electrodes["plate1"], s.electrodes["plate2"])}  # fmt: skip
        nets = {n: v for n, v in sums.items() if n not in skip and n != solution.circuit.net("gnd")}
        worst = max(nets, key=lambda n: abs(nets[n]))
        assert abs(nets[worst]) < LEAKS, (solution.state.name, worst, nets[worst])


def test_ohms_law_in_every_resistor_and_charge_in_every_capacitor(states):
    for solution in states.values():
        frequency = solution.circuit.mains.frequency.m_as("hertz")
        for branch in solution.circuit.branches.values():
            across, amps = solution.between(branch.a, branch.b), solution.current(branch.name)
            if across is None or branch.value is None:
                continue
            if branch.kind is PartKind.RESISTOR:
                expected = across.samples / branch.value.m_as("ohm")
            elif branch.kind is PartKind.CAPACITOR:
                expected = branch.value.m_as("farad") * difference(across.samples, frequency)
            else:
                continue
            assert amps.samples == pytest.approx(expected, rel=1e-6, abs=1e-9), branch.name


def test_a_choke_obeys_its_law(states):
    for solution in states.values():
        if "L1" not in solution.circuit.branches:
            continue
        amps, across = solution.current("L1").samples, solution.between("RES", "B1").samples
        expected = 250 * amps + 8 * difference(amps, 60)
        assert across == pytest.approx(expected, rel=1e-5, abs=1e-4)


def test_the_reported_residual_is_small(states):
    assert all(s.residual_a < 1e-6 for s in states.values())


def test_power_from_the_mains_is_what_the_parts_burn(solved):
    """Tellegen: the sum of v i over all parts and tubes vanishes over a cycle."""
    solution = solved(AMPLIFIER)
    burnt = sum(r.plate_w + r.screen_w for r in solution.readings.values())
    for branch in solution.circuit.branches.values():
        across, amps = solution.between(branch.a, branch.b), solution.current(branch.name)
        burnt += float(np.mean(across.samples * amps.samples))
    supplied = -solution.between("line", "neutral").samples * solution.current(SERVICE).samples
    assert float(np.mean(supplied)) > 20
    assert burnt == pytest.approx(float(np.mean(supplied)), rel=1e-3)


@pytest.mark.parametrize("text", [AMPLIFIER, BRIDGE], ids=["amplifier", "bridge"])
def test_sparse_and_dense_give_the_same_answer(circuit_of, monkeypatch, text):
    dense = solve_states(circuit_of(text))
    for module in ("bank", "devices", "means", "response"):
        monkeypatch.setattr(getattr(coldcheck.solve.cycle, module), "DENSE_UP_TO", 3)
    sparse = solve_states(circuit_of(text))
    assert sparse.keys() == dense.keys()
    for name, one in dense.items():
        other = sparse[name]
        assert (other.converged, other.waves.keys()) == (one.converged, one.waves.keys()), (
            other.reason
        )
        for net, wave in one.waves.items():
            apart = np.abs(wave.samples - other.waves[net].samples).max()
            assert apart < 1e-4 * (1 + wave.peak), (name, net)


@pytest.mark.parametrize("drawn", [True, False])
def test_names_of_parts_hide_no_current_of_the_supply(drawn, solved):
    """A resistor called mains, and a winding called feed: 6.3 V in 10 ohm, 120 V behind it."""
    primary = "line -- T1.pri.1\nneutral -- T1.pri.2\n" if drawn else ""
    solution = solved(
        "mains 120 V 60 Hz\ntransformer T1\nprimary pri 120 V\nwinding feed 6.3 V 1 A\n"
        f"{primary}T1.feed.1 --[mains 10 ohm]-- gnd\nT1.feed.2 -- gnd\n"
    )
    amps = solution.current("mains").rms
    assert amps == pytest.approx(0.63, rel=0.1)
    supplied = solution.current(SERVICE if drawn else feed_name("T1")).rms
    assert supplied == pytest.approx(amps * 6.3 / 120, rel=0.1)
