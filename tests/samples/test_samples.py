"""The sample drawings: readable, solvable in every state, sound, and as worked out by hand.

The windows in ``BY_HAND`` do not come from the tool. Each line says how its figure was found:
data-sheet points (see ``facts`` sources in the tube files; RCA, Philips, from memory where the
files say so), Schade's normalised rectifier curves, and Ohm's law.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from coldcheck.anatomy.heater_lines import heater_lines
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.model import Expect
from coldcheck.rules.heater.supply import winding_load
from coldcheck.verdict.engine import review_file

SAMPLES = Path(__file__).parents[2] / "samples"
NAMES = tuple(sorted(p.stem for p in SAMPLES.glob("*.tube")))
SERIOUS = ("danger", "warning", "caution", "notice")
KINDS_OF_STATE = {"warm", "cold", "high line", "low line"}

BY_HAND = (
    # 346 V peak and 4 % of source resistance: 0.88 (Schade); an indirectly heated rectifier.
    ("sluice-gate", "warm", "RES", 288, 318),
    ("sluice-gate", "cold", "RES", -1, 1),
    # 0.7 mA through 100k from 275 V, a 12AX7 at -1.2 V.
    ("sluice-gate", "warm", "V1A.plate", 190, 220),
    # Both diodes' peaks, 105 V rms 1 % up without load: 297 to 302 V, less two diodes' drops.
    ("coal-wharf", "cold", "RAW", 293, 304),
    ("coal-wharf", "warm", "B1", 252, 282),
    # 293 V peak, w C R = 380 and 0.8 % of source resistance: 0.95 (Schade).
    ("fog-bell", "warm", "RES", 264, 290),
    # 0.9 mA through 100k from 265 V.
    ("fog-bell", "warm", "V1B.plate", 160, 195),
    # Bridge, 270 V: 389 V peak with the winding unloaded, two diodes off, source 19 ohm against
    # a load of 3.8 kohm (0.5 %): 0.96 of 388 V (Schade, full wave).
    ("breakwater", "warm", "RES", 350, 395),
    # Cold nothing is drawn but 4 mA of bleeders: the peak, 388 V; at nominal line.
    ("breakwater", "cold", "RES", 378, 392),
    # In standby everything behind the switch is empty; the bias is still there.
    ("breakwater", "standby S2", "B1", -1, 1),
    ("breakwater", "standby S2", "V2.grid", -34, -28),
    # Cold, D6 holds V1B's grid at its cathode: 353 V through 39k + 330k on 100k is about 80 V.
    ("breakwater", "cold", "V1B.cathode", 70, 95),
    # A 12AX7 with 330k and 1.1k from 309 V: 0.67 mA by the 100 V / -1 V point.
    ("breakwater", "warm", "V1A.plate", 75, 102),
    # Half of 280 V at the middle of two equal triodes.
    ("signal-mast", "warm", "V1A.plate", 133, 147),
    ("signal-mast", "warm", "V2B.cathode", 136, 151),
    # Cold: 220 V is 311 V peak, 5 to 7 % more unloaded, less 1 V and the bleeder's 2 V; a fifth.
    ("signal-mast", "cold", "LIFT", 60, 67),
    # An EF86 with 390k and 100k from 256 V: 1.76 mA in all (see the drawing).
    ("low-tide", "warm", "V1.plate", 95, 125),
    ("low-tide", "warm", "V1.cathode", 2.2, 3.1),
    ("low-tide", "warm", "V2B.cathode", 115, 150),
    # An indirectly heated rectifier gives nothing while it is cold.
    ("low-tide", "cold", "RES", -1, 1),
    # Half wave, 165 V peak, source 5 % of the load, w C R = 31: 0.75 of the peak (Schade).
    ("galley", "warm", "RES", 113, 133),
    # 150 ohm and the sheet's 11 + 4.2 mA at 68 ohm: less than 15 mA, so 1 to 2 V.
    ("galley", "warm", "V2.cathode", 1.0, 1.9),
    # 0.9 x 448 V less 25 V in the rectifier and 15 V in copper.
    ("ballast", "warm", "RAW", 348, 382),
    ("ballast", "low line", "B258", 250, 266),
    # A 12AU7 with 47k and 820 ohm from 257 V: 3.4 mA.
    ("night-watch", "warm", "V1A.plate", 85, 110),
    ("night-watch", "warm", "PH_L", -0.1, 0.1),
    # A 2A3 at 250 V with 910 ohm: 50 mA.
    ("old-pier", "warm", "K2", 42, 50),
    # Filament tubes do not wait: the bias is there while the driver is still cold.
    ("old-pier", "cold", "K2", 42, 50),
    # A 6V6GT at 250 V and 256 V with 270 ohm: 48.5 mA of cathode current.
    ("harbour-light", "warm", "V2.cathode", 11.8, 14.4),
    # 368 V peak; the 5Y3GT's filament is hot and only the bleeder (2 mA) draws.
    ("harbour-light", "cold", "RES", 350, 390),
)  # fmt: skip

CURRENTS = (
    ("sluice-gate", "V2", 29, 36),  # 11 V over 300 ohm, less an eighth for the screen
    ("coal-wharf", "V2", 32, 41),
    # Each tube has 45 mA of cathode current in 10 ohm: 35 mA at -32 V and 375 V (sheet), less bias.
    ("breakwater", "V2", 33, 47),
    ("galley", "V4", 32, 46),  # 49 mA at 110/110/-7.5 V, less screen
    ("ballast", "V2", 16, 22),  # (365 - 258) V / 5.6 kohm
    ("ballast", "V3", 16, 22),
    ("night-watch", "V2A", 9, 11.5),  # cathode volts over 10 kohm
    ("old-pier", "V2", 46, 55),
    ("signal-mast", "V1A", 4.6, 6.2),
    ("low-tide", "V1", 1.25, 1.7),
)


@cache
def reviewed(name):
    return review_file(SAMPLES / f"{name}.tube")


def circuit_of(name):
    return reviewed(name).circuit


def solved(name):
    return reviewed(name).solutions


def dc(name, state, point):
    return solved(name)[state].waves[circuit_of(name).net(point)].dc


def test_there_are_samples_of_every_kind():
    assert len(NAMES) >= 6
    assert {"galley", "ballast", "signal-mast"} <= set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_it_reads_without_problems_and_says_what_it_teaches(name):
    circuit = circuit_of(name)
    assert (*circuit.drawing.problems, *circuit.problems) == ()
    assert circuit.drawing.title
    head = [line for line in circuit.drawing.lines[:20] if line.startswith("#")]
    assert any("hat it teaches" in line for line in head)


@pytest.mark.parametrize("name", NAMES)
def test_every_state_converges(name):
    states = solved(name)
    assert set(states) >= KINDS_OF_STATE
    failed = {n: s.reason for n, s in states.items() if not s.converged}
    assert failed == {}
    assert max(s.residual_a for s in states.values()) < 1e-6


@pytest.mark.parametrize("name", NAMES)
def test_the_designers_own_expectations_hold(name):
    lines = [s for s in circuit_of(name).drawing.statements if isinstance(s, Expect)]
    assert len(lines) >= 3
    missed = []
    for line in (x for x in lines if x.quantity == "voltage" and x.other is None):
        volts = dc(name, line.state or "warm", line.point.text)
        low = line.low is None or volts >= line.low.m_as("volt")
        high = line.high is None or volts <= line.high.m_as("volt")
        if not (low and high):
            missed.append(f"{line.text}: {volts:.2f} V")
    assert missed == []


@pytest.mark.parametrize(("name", "state", "point", "low", "high"), BY_HAND)
def test_voltages_lie_where_they_were_worked_out(name, state, point, low, high):
    assert low <= dc(name, state, point) <= high


@pytest.mark.parametrize(("name", "section", "low", "high"), CURRENTS)
def test_plate_currents_lie_where_they_were_worked_out(name, section, low, high):
    assert low <= solved(name)["warm"].readings[section].plate_ma <= high


@pytest.mark.parametrize("name", NAMES)
def test_heaters_get_their_voltage_and_windings_have_reserve(name):
    circuit, warm = circuit_of(name), solved(name)["warm"]
    checked = 0
    for tube in circuit.tubes.values():
        if tube.heater is None:
            continue
        rated = tube.heater.volts.m_as("volt")
        section = tube.sections[0].name
        assert warm.readings[section].heater_v == pytest.approx(rated, rel=0.08)
        checked += 1
    assert checked > 0
    for line in heater_lines(circuit):
        for winding in line.windings:
            load = winding_load(line, winding)
            share = 0.9 if len(load) > 1 else 1.0
            assert sum(load.values()) <= share * winding.current.m_as("ampere") + 1e-9


@pytest.mark.parametrize("name", NAMES)
def test_no_tube_is_worked_beyond_nine_tenths_of_its_ratings(name):
    circuit, warm = circuit_of(name), solved(name)["warm"]
    checked = 0
    for section in circuit.sections():
        reading = warm.readings[section.name]
        kind = circuit.tubes[section.tube].type
        for rating, value in (
            ("plate-dissipation", reading.plate_w),
            ("screen-dissipation", reading.screen_w),
            ("rectifier-current", reading.plate_ma / 1e3),
            ("peak-plate-current", reading.peak_plate_ma / 1e3),
        ):
            limit = kind.rating(rating)
            if limit is not None and (section.kind is SectionKind.RECTIFIER) == rating.endswith(
                "current"
            ):
                assert value <= 0.9 * limit.value, (section.name, rating)
                checked += 1
    assert checked > 0


@pytest.mark.parametrize("name", NAMES)
def test_the_review_finds_nothing_serious(name):
    review = reviewed(name)
    assert review.readable
    open_findings = [
        f"{f.rule} at {', '.join(f.at)}: {f.message}"
        for f in review.findings
        if f.level in SERIOUS and not f.accepted
    ]
    assert open_findings == []
    assert [n for n in review.not_judged if n.kind.broken] == []
    assert review.verdict() == "let through"


def test_gas_tubes_stay_within_their_current_at_both_ends_of_the_line():
    """0A2 and 0B2: 5 to 30 mA."""
    for state in ("low line", "warm", "high line"):
        for section in ("V2", "V3"):
            assert 5 <= solved("ballast")[state].readings[section].plate_ma <= 30


def test_the_choke_of_the_bench_supply_never_runs_dry():
    """Above the critical current the choke's current never reaches zero."""
    for state in ("low line", "warm", "high line"):
        assert solved("ballast")[state].current("L1").low > 0


def test_the_chassis_of_the_receiver_carries_no_more_than_a_touch_current():
    """1 Mohm and 4.7 nF at 117 V, 60 Hz: 0.117 mA and 0.207 mA in quadrature, 0.24 mA rms."""
    circuit = circuit_of("galley")
    ohms = circuit.branches["R2"].value.m_as("ohm")
    farads = circuit.branches["C2"].value.m_as("farad")
    touch = 117 * abs(1 / ohms + 1j * 2 * 3.141592653589793 * 60 * farads)
    assert touch == pytest.approx(0.238e-3, rel=0.01)
    assert touch < 0.5e-3
    assert circuit.net("chassis") != circuit.net("gnd")
