"""Judging and diagnosing against sums done by hand, and the algebra against scipy's."""

from __future__ import annotations

import json
from math import log

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from coldcheck.bench.diagnosis.account import Evening
from coldcheck.bench.diagnosis.diagnosis import DOUBT, Diagnosis
from coldcheck.bench.diagnosis.judged import HIGH, LOW, WITHIN, JudgeReadings
from coldcheck.bench.diagnosis.library import NothingKnown, library_of
from coldcheck.bench.diagnosis.noted import parse_readings
from coldcheck.bench.diagnosis.ranked import SELDOM, chance
from coldcheck.bench.diagnosis.readings import Reading
from coldcheck.bench.diagnosis.suspects import suspects_of
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.report.diagnosis import json as diagnosis_json
from coldcheck.solve.faults.fault import Fault
from coldcheck.solve.faults.spread import SpreadSolver

DIVIDER = """\
drawing "Lamp Post: a divider on a bench supply"
B1 --+[E1 24 V]-- gnd
B1 --[R1 10k 0.5 W 5 %]-- MID --[R2 10k 0.5 W 5 %]-- gnd
"""


@pytest.fixture(scope="module")
def divider():
    return build_circuit(parse_drawing(DIVIDER, "post.tube"))


def account(circuit, text):
    evening = Evening(circuit)
    found, slips = parse_readings(circuit, text)
    assert not slips
    evening.readings += found
    return evening.account()


# -- judging --------------------------------------------------------------------------------


def test_a_reading_is_judged_with_loading_accuracy_and_spread(divider):
    # 24 V over two 10k of 5 %: each moves 12 V by a half of 5 % = 0.3 V; the supply of 1 % by
    # 0.12 V: sqrt(2 * 0.3^2 + 0.12^2) = 0.441 V. The meter: 1 % of 12 V = 0.12 V and 3 steps
    # of 0.01 V on its range of 60 V.
    # Loading: 5k behind the point, 10M meter: 12 V * 10M / 10.005M = 11.994 V.
    judged = JudgeReadings(divider).one(Reading("MID", "MID", "dc", 12.0))
    assert judged.expected == pytest.approx(11.994, abs=1e-3)
    assert judged.high - judged.expected == pytest.approx(np.sqrt(0.441**2 + 0.15**2), rel=0.01)
    assert judged.verdict == WITHIN


@pytest.mark.parametrize(("value", "verdict"), [(11.4, LOW), (11.7, WITHIN), (12.6, HIGH)])
def test_verdicts(divider, value, verdict):
    assert JudgeReadings(divider).one(Reading("MID", "MID", "dc", value)).verdict == verdict


def test_a_grid_that_the_meter_pulls_down_is_judged_with_the_meter_on():
    # 10M between two 4M7 to the grid of a follower: its bias follows the grid, so next to no
    # current flows in the meter's absence; with it the divider is 4M7 over 4M7 || 10M = 3.197M:
    # 100 V * 3.197 / 7.897 = 40.5 V, as long as the grid stays negative of its cathode.
    text = """\
drawing "Post: a follower on a high divider"
B1 --+[E1 100 V]-- gnd
tube V1 12AU7
B1 -- V1A.plate
B1 --[R1 4M7]-- G --[R2 4M7]-- gnd
G -- V1A.grid
V1A.cathode --[R3 100k]-- gnd
"""
    judged = JudgeReadings(build_circuit(parse_drawing(text, "post.tube"))).one(
        Reading("G", "G", "dc", 40.5)
    )
    assert judged.expected == pytest.approx(40.5, rel=0.005)
    assert judged.loading == pytest.approx(1 - 10 / 12.35, rel=0.02)
    assert judged.verdict == WITHIN


def test_ohms_are_judged_with_the_supply_unplugged(divider):
    # R2 alone to gnd: 10k, 5 %, the meter 1 % and 0.3 ohm
    judged = JudgeReadings(divider).one(Reading("MID", "MID", "ohm", 10.7e3))
    assert judged.expected == pytest.approx(10e3, rel=1e-6)
    assert judged.high == pytest.approx(10.5e3 * 1.01 + 0.3, rel=1e-3)
    assert judged.verdict == HIGH


# -- diagnosing -----------------------------------------------------------------------------


def test_what_one_voltage_cannot_separate_is_said_and_ohms_decide(divider):
    # MID = 24 V * R2 / (R1 + R2) = 8 V with R1 twice its value, and with R2 half of it.
    found = account(divider, "MID,dc,8.0\nB1,dc,24")
    first = {r.suspect.key: r.size for r in found.leading[0].members}
    assert first["R1 high"] == pytest.approx(2.0, rel=0.1)
    assert first["R2 low"] == pytest.approx(0.5, rel=0.1)
    assert not found.leading[0].sound
    # From MID to gnd with the supply unplugged there is R2 alone: 10k whatever R1 has become.
    found = account(divider, "MID,dc,8.0\nB1,dc,24\nMID,ohm,10.1k")
    assert found.leading[0].members[0].suspect.key == "R1 high"
    assert all(r.suspect.key != "R2 low" for r in found.leading[0].members)
    against = account(divider, "MID,dc,8.0\nB1,dc,24\nMID,ohm,5k").leading[0]
    assert against.members[0].suspect.key == "R2 low"


def test_amp_59_a_leaky_coupling_capacitor_lifts_the_grid(coupled, library):
    # Derived: 250 V * 470k / (470k + 20M) = 5.74 V; 100M: 1.17 V.
    solver = SpreadSolver(coupled)
    for ohms, volts in ((20e6, 5.74), (100e6, 1.17)):
        shown = solver.shown(Fault("leak", "C4", ohms))
        at = shown.nets.index(coupled.points["DRV"])
        assert shown.volts[at] == pytest.approx(volts, rel=0.01)
    # A 10M meter across 470k || 20M = 459k shows 5.74 V * 10 / 10.459 = 5.49 V.
    channel = library.channel("dc", coupled.points["DRV"])
    place = next(k for k, s in enumerate(library.suspects) if s.key == "C4 leak")
    model = np.flatnonzero((library.owner == place) & np.isclose(library.size, 20e6))[0]
    assert library.mean[model, channel] == pytest.approx(5.49, rel=0.01)


def test_the_leak_is_found_with_its_size_and_what_speaks_for_it(coupled):
    shown = SpreadSolver(coupled).shown(Fault("leak", "C4", 20e6))
    cathode = shown.volts[shown.nets.index("V1A.cathode")]
    found = account(coupled, f"DRV,dc,5.49\nV1A.cathode,dc,{cathode:.2f}\nB1,dc,250")
    (leading,) = found.leading[:1]
    (leak,) = (r for r in leading.members if r.suspect.key == "C4 leak")
    assert leak.size == pytest.approx(20e6, rel=0.35)
    # gas out of the grid, 5.74 V / 470k = 12 uA, would show the same: it is said so
    assert "V1A gassy" in {r.suspect.key for r in leading.members}
    assert "DRV" in [w.point for w in leading.weighed if w.supports]
    assert not any(w.contradicts for w in leading.weighed)


def test_an_open_cathode_resistor_is_read_through_the_meter(coupled):
    # The meter's 10 Mohm is then the cathode resistor: some volts of bias, next to no current,
    # and nothing drops across the 100k: the plate shows 250 V * 10M / (10M + 100k) = 247.5 V.
    solver = SpreadSolver(coupled)
    volts = solver.loaded((Fault("open", "R4"),), "V1A.cathode", 10e6)
    in_place = solver.shown(Fault("drift", "R4", 1e7 / 1e4)).volts
    assert volts == pytest.approx(in_place[solver.shown(()).nets.index("V1A.cathode")], rel=0.01)
    found = account(coupled, f"V1A.plate,dc,247\nV1A.cathode,dc,{volts:.2f}\nB1,dc,250\nDRV,dc,0")
    assert found.leading[0].members[0].suspect.key == "R4 open"
    assert not found.leading[0].sound


def test_readings_of_a_sound_circuit_are_no_reassurance(coupled):
    sound = SpreadSolver(coupled).shown(())
    at = sound.nets.index("V1A.plate")
    found = account(coupled, f"V1A.plate,dc,{sound.volts[at]:.1f}\nDRV,dc,0.01")
    assert found.leading[0].sound
    assert {"C4 open", "B1"} & {s.key for s in found.unseen} == {"C4 open"}


def test_what_nothing_explains_is_said(divider):
    found = account(divider, "MID,dc,12\nB1,dc,60")
    assert not found.explained
    assert found.beyond > 0.9
    groups = json.loads(diagnosis_json.render(found))["groups"]
    assert groups
    assert all(g["share"] is None for g in groups)


def test_readings_of_other_states_are_judged_but_take_no_part(coupled):
    found = account(coupled, "V1A.plate,dc,250,pulled V1\nDRV,dc,0")
    assert found.judged[0].verdict == WITHIN
    assert [r.state for r in found.unused] == ["pulled V1"]


def test_a_sound_circuit_without_numbers_has_no_diagnosis():
    text = DIVIDER.replace("10k 0.5 W 5 %]-- MID", "?]-- MID")
    circuit = build_circuit(parse_drawing(text, "post.tube"))
    with pytest.raises(NothingKnown):
        library_of(circuit, suspects_of(circuit))


# -- the algebra ----------------------------------------------------------------------------


def test_taken_one_by_one_is_the_same_as_all_together(library):
    diagnosis = Diagnosis(library)
    taken = [(1, 190.0), (0, 5.0), (2, 0.4)]
    for channel, value in taken:
        diagnosis.take_value(channel, value)
    at, values = [c for c, _ in taken], [v for _, v in taken]
    for model in range(0, len(library.owner), 7):
        spread = library.covariance[model][np.ix_(at, at)] + np.diag(library.noise[model, at])
        wanted = multivariate_normal(library.mean[model, at], spread).logpdf(values)
        assert diagnosis._log[model] == pytest.approx(wanted, rel=1e-6, abs=1e-6)


def test_shares_are_of_one_and_information_is_bounded(coupled, library):
    diagnosis = Diagnosis(library)
    told = sum(r.share for r in diagnosis.ranked())
    assert told + diagnosis.outside == pytest.approx(1.0)
    assert diagnosis.outside == pytest.approx(0.02 / 1.02)  # beforehand, over all the rest
    points = diagnosis.next_points(90)
    assert all(-1e-9 <= p.bits <= log(len(library.suspects), 2) for p in points)
    # once a point has been read it is not asked for again
    first = library.channel("dc", coupled.points["DRV"])
    diagnosis.take_value(first, library.mean[0, first])
    after = diagnosis.next_points(90)
    assert library.channels[first] not in [p.channel for p in after]


def test_groups_hold_every_suspect_once(library):
    diagnosis = Diagnosis(library)
    diagnosis.take_value(0, 4.0)
    members = [r.suspect.key for g in diagnosis.groups() for r in g]
    assert sorted(members) == sorted(r.suspect.key for r in diagnosis.ranked())
    assert len(set(members)) == len(members)


@pytest.mark.parametrize(("more", "doubted"), [(-0.01, False), (0.01, True)])
def test_a_best_that_fits_loosely_is_told_below_nine_in_ten(library, more, doubted):
    """One reading: chance exceeds 2.7 of the square of its deviation once in ten, 3.8 in twenty."""
    diagnosis = Diagnosis(library)
    diagnosis.take_value(0, float(library.mean[0, 0]))
    gain = diagnosis._cells()[1]
    diagnosis._misfit = 2 * gain + chance(1, SELDOM) + more
    assert chance(1, SELDOM) == pytest.approx(3.84, rel=0.03)
    assert (diagnosis.outside == pytest.approx(DOUBT)) is doubted
