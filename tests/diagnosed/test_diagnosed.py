"""The integration stands by itself, and the recorded table is the README's."""

from __future__ import annotations

import math
from random import Random

import numpy as np
import pytest
from tests.diagnosed.evenings import EVENINGS, circuit_of, ohms, says
from tests.diagnosed.experience import drawn
from tests.diagnosed.integrated import Bench, Sheet, Wrong, silicon, vacuum
from tests.diagnosed.record import BEGIN, END, README, load, table, total

from coldcheck.bench.diagnosis.library import library_of
from coldcheck.bench.diagnosis.suspects import suspects_of
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.solve.cycle.diodes import SILICON_IS, SILICON_NVT, SILICON_RS
from coldcheck.solve.faults.spread import SpreadSolver

FILTER = """
mains 120 V 60 Hz
transformer T1
    primary pri 120 V 10 ohm
    winding ht 100 V 100 ohm
line -- T1.pri.1
T1.pri.2 -- neutral
T1.ht.2 -- gnd
T1.ht.1 --[D1 1N4007]-> RES --+[C1 20 uF 300 V]-- gnd
RES --[R1 5k]-- B1 --[R2 5k]-- gnd
"""


@pytest.fixture(scope="module")
def recorded():
    return load()


def test_the_readme_has_the_recorded_table(recorded):
    text = README.read_text(encoding="utf-8")
    assert text.partition(BEGIN)[2].partition(END)[0].strip() == table(recorded)


def test_every_sample_of_the_study_is_recorded_with_one_fault_and_with_two(recorded):
    found = {(c.sample, c.faults): c.trials + c.restless for c in recorded}
    wanted = {(n, k + 1): many for n, both in EVENINGS.items() for k, many in enumerate(both)}
    assert found == wanted


def test_what_is_told_at_nine_in_ten_is_right_nine_times_in_ten(recorded):
    both = [total(recorded, faults) for faults in (1, 2)]
    assert sum(c.wrong for c in both) <= 0.1 * sum(c.told for c in both)


def test_what_shows_is_found(recorded):
    # the share of what shows at all: a coupling capacitor gone open is heard, and not read
    one = total(recorded, 1)
    assert one.shown_first >= 0.85 * one.shown
    assert one.shown_third >= 0.85 * one.shown


def test_the_integrated_filter_is_the_solved_one():
    circuit = build_circuit(parse_drawing(FILTER, "x.tube"))
    sheet = Sheet(circuit)
    bench = Bench(sheet, [circuit], [Wrong()], np.zeros(sheet.size))
    mean, rms = bench.cycles(60)
    good = SpreadSolver(circuit).shown(())
    for net in ("RES", "B1"):
        at, place = sheet.nets[net], good.nets.index(net)
        assert mean[0, at] == pytest.approx(good.volts[place], rel=0.004)
        assert rms[0, at] == pytest.approx(good.ac[place], rel=0.03)
    # Kirchhoff: the divider's middle is half
    assert mean[0, sheet.nets["B1"]] == pytest.approx(mean[0, sheet.nets["RES"]] / 2, rel=1e-6)


def test_a_meter_in_the_integrated_circuit_loads_it():
    circuit = build_circuit(parse_drawing(FILTER, "x.tube"))
    sheet = Sheet(circuit)
    wrong = Wrong(times={"R1": 1e3})  # 5 megohm above 5 megohm
    wrong.times["R2"] = 1e3
    bench = Bench(sheet, [circuit], [wrong], np.zeros(sheet.size))
    free = bench.cycles(60)[0][0, sheet.nets["B1"]]
    bench.load([sheet.nets["B1"]], 10e6)
    # behind the point there are 2.5 megohm: the meter shows 10 of 12.5
    assert bench.cycles(20)[0][0, sheet.nets["B1"]] == pytest.approx(0.8 * free, rel=0.01)


def test_an_ohmmeter_reads_what_the_resistors_say():
    circuit = build_circuit(parse_drawing(FILTER, "x.tube"))
    sheet = Sheet(circuit)
    found = ohms(sheet, circuit, Wrong(), sheet.nets["RES"])
    assert found == pytest.approx(10e3, rel=1e-4)
    found = ohms(sheet, circuit, Wrong(across={"C1": 10e3}), sheet.nets["B1"])
    assert found == pytest.approx(5e3 * 15e3 / 20e3, rel=1e-4)


@pytest.mark.parametrize("amps", [1e-6, 1e-3, 0.1])
def test_the_laws_of_diodes_behind_ohms(amps):
    volts = SILICON_NVT * math.log1p(amps / SILICON_IS) + SILICON_RS * amps
    assert silicon(np.array([volts + 200.0 * amps]))[0] == pytest.approx(amps, rel=1e-4)
    volts = (amps / 2e-3) ** (2 / 3)
    assert vacuum(np.array([volts + 200.0 * amps]), 2e-3)[0] == pytest.approx(amps, rel=1e-4)


@pytest.mark.parametrize("sample", sorted(EVENINGS))
def test_every_fault_of_experience_is_one_the_suspects_name_or_that_nothing_names(sample):
    circuit = circuit_of(sample)
    good = SpreadSolver(circuit).shown(())
    volts = dict(zip(good.nets, np.nan_to_num(good.volts).tolist(), strict=True))
    suspects, random = suspects_of(circuit), Random(5)
    for _ in range(300):
        truth = drawn(circuit, volts, random)
        named = any(says(s, truth) for s in suspects)
        assert named == bool(truth.kinds), truth


@pytest.mark.parametrize("sample", ["fog-bell", "harbour-light"])
def test_every_suspect_of_a_sample_is_worked_out(sample):
    circuit = circuit_of(sample)
    assert not library_of(circuit, suspects_of(circuit)).unsolved
