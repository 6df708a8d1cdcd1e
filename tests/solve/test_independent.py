"""Whole circuits against a second opinion: the same circuit integrated in time by scipy.

Each right-hand side below is written from the circuit's physics (charge on capacitors, flux in
chokes, Ohm's law), not from the project's matrices; it knows nothing of nets, harmonics or
incidence. What the two share: the laws of the tubes and the constants of the silicon diode, and
the conventions the drawings state (a winding without a rated current shows its open-circuit
volts). The integration runs from empty capacitors until two cycles agree.
"""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.special import wrightomega

from coldcheck.circuit.tubes import tube_type
from coldcheck.solve.cycle.diodes import SILICON_IS, SILICON_NVT, SILICON_RS
from coldcheck.solve.tubes.laws import law_for

DC, RIPPLE = 0.003, 0.03
INSTANTS = 128


def settled(rhs, start, frequency, outputs, cycles=400):
    """Integrate until the states' means repeat; outputs(t, x) sampled over one more cycle."""
    period, x, before = 1 / frequency, np.array(start, dtype=float), None
    for cycle in range(0, cycles, 5):
        span = (cycle * period, (cycle + 5) * period)
        run = solve_ivp(rhs, span, x, method="LSODA", rtol=1e-7, atol=1e-9, max_step=period / 60)
        assert run.success
        x, old = run.y[:, -1], before
        before = x
        if old is not None and np.all(np.abs(x - old) <= 2e-5 * (np.abs(x) + 1e-3)):
            break
    else:
        pytest.fail("the reference did not settle")
    times = span[1] + np.linspace(0, period, 2001)[:-1]
    run = solve_ivp(
        rhs, (times[0], times[-1] + 1e-12), x, method="LSODA", rtol=1e-8, atol=1e-10,
        max_step=period / 200, t_eval=times,
    )  # fmt: skip
    return [
        np.array(v)
        for v in zip(*(outputs(t, y) for t, y in zip(times, run.y.T, strict=True)), strict=True)
    ]


def silicon(volts, ohms, number=1):
    """Current of ``number`` silicon diodes in series behind a resistance, in closed form.

    m n Vt ln(1 + i/Is) + (m Rs + R) i = V solved by Lambert's W (Wright's omega of its logarithm).
    """
    if volts <= 0:
        return 0.0
    nvt, ohms = number * SILICON_NVT, ohms + number * SILICON_RS
    own = SILICON_IS * ohms
    return nvt / ohms * float(wrightomega(math.log(own / nvt) + (volts + own) / nvt)) - SILICON_IS


def vacuum(volts, ohms, k):
    """Current of a vacuum rectifier plate, i = k v^1.5, behind a resistance.

    With s = sqrt(v): R k s^3 + s^2 = V, by Newton's method from above (the cubic is convex).
    """
    if volts <= 0:
        return 0.0
    s = min(math.sqrt(volts), (volts / (ohms * k)) ** (1 / 3))
    for _ in range(60):
        step = (ohms * k * s**3 + s * s - volts) / (3 * ohms * k * s * s + 2 * s)
        s -= step
        if abs(step) < 1e-12 * s:
            break
    return k * s**3


def check(wave, reference, dc=DC, ripple=RIPPLE):
    assert wave.dc == pytest.approx(reference.mean(), rel=dc)
    assert wave.ac_rms == pytest.approx(reference.std(), rel=ripple)


BRIDGE = """
mains 230 V 50 Hz
transformer T1
    primary pri 230 V 12 ohm
    winding ht 250 V 40 ohm
T1.ht.1 --[D1 1N4007]-> RES
T1.ht.2 --[D2 1N4007]-> RES
gnd --[D3 1N4007]-> T1.ht.1
gnd --[D4 1N4007]-> T1.ht.2
RES --+[C1 33 uF 450 V]-- gnd
RES --[R1 820 ohm]-- B1 --+[C2 47 uF 450 V]-- gnd
B1 --[R2 4k7]-- gnd
"""


def test_silicon_bridge_with_a_c_r_c_filter(solved):
    n = 250 / 230
    ohms = 40 + 12 * n**2  # winding, and the primary's resistance seen through the turns ratio

    def current(t, v1):
        return silicon(abs(250 * math.sqrt(2) * math.sin(2 * math.pi * 50 * t)) - v1, ohms, 2)

    def rhs(t, x):
        filtered = (x[0] - x[1]) / 820
        return [(current(t, x[0]) - filtered) / 33e-6, (filtered - x[1] / 4700) / 47e-6]

    v1, v2, i = settled(rhs, [0, 0], 50, lambda t, x: (x[0], x[1], current(t, x[0])))
    got = solved(BRIDGE, instants=INSTANTS)
    check(got.wave("RES"), v1)
    check(got.wave("B1"), v2)
    assert got.current("D1").dc == pytest.approx(i.mean() / 2, rel=DC)
    assert got.current("T1.ht").ac_rms == pytest.approx(math.sqrt(np.mean(i**2)), rel=RIPPLE)


LINE_HALF_WAVE = """
mains 117 V 60 Hz
line --[R1 22 ohm]-- V1.plate
neutral -- gnd
tube V1 35W4
V1.cathode -- RES --+[C1 30 uF 200 V]-- gnd
RES --[R2 1k2]-- B1 --+[C2 50 uF 200 V]-- gnd
B1 --[R3 3k3]-- gnd
"""


def test_half_wave_vacuum_rectifier_on_the_line(solved):
    k = tube_type("35W4").sections[0].law.parameters["perveance"]

    def current(t, v1):
        return vacuum(117 * math.sqrt(2) * math.sin(2 * math.pi * 60 * t) - v1, 22, k)

    def rhs(t, x):
        filtered = (x[0] - x[1]) / 1200
        return [(current(t, x[0]) - filtered) / 30e-6, (filtered - x[1] / 3300) / 50e-6]

    v1, v2, i = settled(rhs, [0, 0], 60, lambda t, x: (x[0], x[1], current(t, x[0])))
    got = solved(LINE_HALF_WAVE, instants=INSTANTS)
    check(got.wave("RES"), v1)
    check(got.wave("B1"), v2)
    assert got.readings["V1"].peak_plate_ma == pytest.approx(1e3 * i.max(), rel=0.02)
    assert got.readings["V1"].plate_ma == pytest.approx(1e3 * i.mean(), rel=DC)


DOUBLER = """
mains 120 V 60 Hz
transformer T1
    primary pri 120 V 4 ohm
    winding ht 120 V 15 ohm
T1.ht.2 -- MID
T1.ht.1 --[D1 1N4007]-> RES
gnd --[D2 1N4007]-> T1.ht.1
RES --+[C1 47 uF 250 V]-- MID
MID --+[C2 33 uF 250 V]-- gnd
RES --[R1 3k9]-- gnd
"""


def test_voltage_doubler_with_unequal_capacitors(solved):
    ohms = 15 + 4

    def currents(t, upper, lower):
        emf = 120 * math.sqrt(2) * math.sin(2 * math.pi * 60 * t)
        return silicon(emf - upper, ohms), silicon(-emf - lower, ohms)

    def rhs(t, x):
        up, down = currents(t, *x)
        load = (x[0] + x[1]) / 3900
        return [(up - load) / 47e-6, (down - load) / 33e-6]

    upper, lower = settled(rhs, [0, 0], 60, lambda t, x: (x[0], x[1]))
    got = solved(DOUBLER, instants=INSTANTS)
    check(got.wave("MID"), lower)
    check(got.between("RES", "MID"), upper)
    check(got.wave("RES"), upper + lower)


CHOKE_INPUT = """
mains 120 V 60 Hz
transformer T1
    primary pri 120 V 2 ohm
    winding ht 400 V ct 400 V 90 ohm
T1.ht.ct -- gnd
T1.ht.1 --[D1 1N4007]-> IN
T1.ht.2 --[D2 1N4007]-> IN
IN --[L1 8 H 120 ohm]-- B1 --+[C1 20 uF 600 V]-- gnd
B1 --[R1 2k7]-- gnd
"""


def test_choke_input_filter_above_its_critical_current(solved):
    n = 400 / 120

    def node(t, amps):
        """Input voltage of the choke: one diode carries all of its current."""
        emf = abs(400 * math.sqrt(2) * math.sin(2 * math.pi * 60 * t))
        drop = SILICON_NVT * math.log1p(max(amps, 0) / SILICON_IS) + SILICON_RS * amps
        return emf - (45 + 2 * n**2) * amps - drop

    def rhs(t, x):
        return [(node(t, x[0]) - 120 * x[0] - x[1]) / 8, (x[0] - x[1] / 2700) / 20e-6]

    amps, volts = settled(rhs, [0.1, 300], 60, lambda t, x: (x[0], x[1]))
    assert amps.min() > 0  # else the reference's one-diode picture would not hold
    got = solved(CHOKE_INPUT, instants=INSTANTS)
    check(got.current("L1"), amps)
    check(got.wave("B1"), volts)


SINGLE_ENDED = """
mains 120 V 60 Hz
transformer T1
    primary pri 120 V 5 ohm
    winding ht 260 V ct 260 V 220 ohm
    winding fil 5 V 0.1 ohm
    winding warm 6.3 V 0.3 ohm
tube V1 6V6GT heater T1.warm
tube V2 5Y3GT heater T1.fil
output T2 5k : 8 ohm 210 ohm 12 H
T1.warm.2 -- gnd
T1.ht.1 -- V2.plate1
T1.ht.2 -- V2.plate2
T1.ht.ct -- gnd
V2:8 -- RES --+[C1 20 uF 500 V]-- gnd
RES --[L1 8 H 250 ohm]-- B1 --+[C2 40 uF 500 V]-- gnd
B1 --[R1 33k]-- gnd
B1 -- V1.screen
B1 -- T2.p1
T2.p2 -- V1.plate
T2.s1 --[LS1 speaker 8 ohm]-- T2.s2
T2.s2 -- gnd
V1.grid --[R2 470k]-- gnd
V1.cathode --[R3 270 ohm]-- gnd
V1.cathode --+[C3 25 uF 50 V]-- gnd
"""


def supply(k):
    """Plate current and terminal volts of the filament rectifier: i(t, reservoir volts).

    Only one plate conducts at a time. The filament hangs between its winding's ends and the
    reservoir on one of them; its emission leaves it half at either end.
    """
    n, nf, nh = 260 / 120, 5 / 120, 6.3 / 120
    fil = 5 / tube_type("5Y3GT").heaters[0].amps.value
    heater = 6.3 / tube_type("6V6GT").heaters[0].amps.value
    heater_load = nh**2 / (heater + 0.3)
    g = 1 / fil + 1 / 0.1

    def fields(t, i, side):
        """Core emf per primary volt and filament volts for a plate current on one side."""
        source = 120 * math.sqrt(2) * math.sin(2 * math.pi * 60 * t)
        # e = source - 5 ohm x (side n i + heater_load e + nf (nf e - vf)/0.1)
        # vf = (nf e/0.1 + i/2)/g
        own = 1 + 5 * (heater_load + nf**2 / 0.1 - nf**2 / (0.1**2 * g))
        e = (source - 5 * (side * n * i - nf * (i / 2) / (0.1 * g))) / own
        return e, (nf * e / 0.1 + i / 2) / g

    def across(t, i, side, reservoir):
        e, filament = fields(t, i, side)
        return side * n * e - 110 * i - reservoir - filament / 2

    def current(t, reservoir):
        for side in (1, -1):
            idle = across(t, 0.0, side, reservoir)
            if idle > 0:
                ohms = idle - across(t, 1.0, side, reservoir)  # linear in the current
                return vacuum(idle, ohms, k)
        return 0.0

    return current


def test_single_ended_stage_with_its_tube_rectifier(solved):
    current = supply(tube_type("5Y3GT").sections[0].law.parameters["perveance"])
    law = law_for(tube_type("6V6GT").sections[0])
    loaded = 5000 * 1.04  # reflected speaker with the 4 % assumed for the secondary's resistance

    last = [0.0]

    def stage(x):
        """Plate and screen current; the primary's flux current x[4] and what the load takes."""
        b1, cathode, flux = x[2], x[3], x[4]
        e = last[0]
        plate_amps, screen_amps = flux + e / loaded, 0.0
        for _ in range(60):
            plate = b1 - 210 * plate_amps - e - cathode
            amps, slopes = law.currents(np.array([[plate], [b1 - cathode], [-cathode]]))
            # plate current = flux current + e/loaded; find e by Newton
            error = float(amps[0, 0]) - flux - e / loaded
            slope = -float(slopes[0, 0, 0]) * (1 + 210 / loaded) - 1 / loaded
            e -= error / slope
            plate_amps, screen_amps = flux + e / loaded, float(amps[1, 0])
            if abs(error) < 1e-11:
                break
        last[0] = e
        return plate_amps, screen_amps, e

    def rhs(t, x):
        reservoir, choke, b1, cathode, _ = x
        plate, screen, e = stage(x)
        return [
            (current(t, reservoir) - choke) / 20e-6,
            (reservoir - 250 * choke - b1) / 8,
            (choke - b1 / 33e3 - plate - screen) / 40e-6,
            (plate + screen - cathode / 270) / 25e-6,
            e / 12,
        ]

    def outputs(t, x):
        plate, screen, e = stage(x)
        return x[0], x[2], x[3], x[2] - 210 * plate - e, plate, screen, current(t, x[0])

    start = [300, 0.05, 290, 12, 0.04]
    res, b1, cathode, anode, plate, screen, rectified = settled(rhs, start, 60, outputs)
    got = solved(SINGLE_ENDED, instants=INSTANTS)
    check(got.wave("RES"), res)
    check(got.wave("B1"), b1)
    check(got.wave("V1.cathode"), cathode)
    check(got.wave("V1.plate"), anode)
    reading = got.readings["V1"]
    assert reading.plate_ma == pytest.approx(1e3 * plate.mean(), rel=DC)
    assert reading.screen_ma == pytest.approx(1e3 * screen.mean(), rel=DC)
    assert reading.plate_w == pytest.approx(np.mean((anode - cathode) * plate), rel=DC)
    assert got.readings["V2"].plate_ma == pytest.approx(1e3 * rectified.mean(), rel=DC)
    assert got.readings["V2"].peak_plate_ma == pytest.approx(1e3 * rectified.max(), rel=0.02)


AMPLIFIED_RIPPLE = """
mains 120 V 60 Hz
transformer T1
    primary pri 120 V 0.01 ohm
    winding ht 200 V 300 ohm
T1.ht.1 --[D1 1N4007]-> RES
T1.ht.2 -- gnd
RES --[R2 4k7]-- B1
B1 --[R1 22k]-- gnd
tube V1 6DJ8
B1 --[R11 220k]-- V1A.plate
V1A.cathode --[R12 1k]-- gnd
V1A.grid --[R13 1M]-- gnd
tube V2 6DJ8
B1 --[R21 220k]-- V2A.plate
V2A.cathode --[R22 1k5]-- gnd
V2A.cathode --+[C22 25 uF 25 V]-- gnd
V1A.plate --[C21 4.7 nF]-- V2A.grid
V2A.grid --[R23 1M]-- gnd
tube V3 6DJ8
B1 --[R31 22k]-- V3A.plate
V3A.cathode --[R32 47 ohm]-- gnd
V2A.plate --[C31 22 nF]-- V3A.grid
V3A.grid --[R33 1M]-- gnd
"""

B1, P1, K1, G1, P2, K2, G2, P3, K3, G3 = range(10)


@pytest.mark.parametrize(("instants", "off"), [(INSTANTS, 0.02), (2 * INSTANTS, DC)])
def test_three_stages_that_amplify_the_ripple_of_a_supply_without_a_reservoir(
    solved, instants, off
):
    # Every net has 5 pF to gnd, which makes differential equations of the algebraic ones; at
    # 220 kohm that is 1 us of a cycle of 17 ms. The circuit forgets within two or three cycles
    # (25 uF at 1.5 kohm: 37 ms), so the integration starts from the answer under test and has
    # four cycles to leave it. The third tube conducts at peaks alone, some instants wide: by how
    # many of them fall there its mean is up to 2 % off at the usual number of instants.
    law = law_for(tube_type("6DJ8").sections[0])
    plates, cathodes, grids = [P1, P2, P3], [K1, K2, K3], [G1, G2, G3]
    resistors = [
        (B1, None, 22e3), (B1, P1, 220e3), (K1, None, 1e3), (G1, None, 1e6), (B1, P2, 220e3),
        (K2, None, 1.5e3), (G2, None, 1e6), (B1, P3, 22e3), (K3, None, 47), (G3, None, 1e6),
    ]  # fmt: skip
    siemens, farads = np.zeros((10, 10)), np.eye(10) * 5e-12
    for a, b, ohms in resistors:
        ends = np.array([k == a for k in range(10)], float) - [k == b for k in range(10)]
        siemens += np.outer(ends, ends) / ohms
    farads[K2, K2] += 25e-6
    for a, b, value in ((P1, G2, 4.7e-9), (P2, G3, 22e-9)):
        farads[[a, b, a, b], [a, b, b, a]] += np.array([1, 1, -1, -1]) * value
    inverse = np.linalg.inv(farads)

    def rhs(t, x):
        flow = -siemens @ x
        emf = 200 * math.sqrt(2) * math.sin(2 * math.pi * 60 * t)
        flow[B1] += silicon(emf - x[B1], 300 + 4700)
        currents, _ = law.currents(np.stack((x[plates], x[grids])) - x[cathodes])
        flow[plates] -= currents[0]
        flow[grids] -= currents[1]
        flow[cathodes] += currents.sum(axis=0)
        return inverse @ flow

    got = solved(AMPLIFIED_RIPPLE, instants=instants)
    nets = ("B1", "V1A.plate", "V1A.cathode", "V1A.grid", "V2A.plate", "V2A.cathode", "V2A.grid")
    waves = [got.wave(net) for net in (*nets, "V3A.plate", "V3A.cathode", "V3A.grid")]
    period, start = 1 / 60, [w.samples[0] for w in waves]
    run = solve_ivp(
        rhs, (0, 4 * period), start, method="BDF", rtol=1e-6, atol=1e-8, max_step=period / 100,
        t_eval=period * np.linspace(3, 4, 2001)[:-1],
    )  # fmt: skip
    assert run.success
    for wave, reference in zip(waves, run.y, strict=True):
        check(wave, reference, dc=off)
