"""The integration stands by itself, and the recorded table is the README's."""

from __future__ import annotations

import math
from random import Random

import numpy as np
import pytest
from tests.diagnosed.evenings import ASIDE, EVENINGS, circuit_of, ohms, says
from tests.diagnosed.experience import drawn
from tests.diagnosed.integrated import Bench, Sheet, Wrong, settle, silicon, vacuum
from tests.diagnosed.record import BEGIN, END, README, load, table, total

from coldcheck.bench.diagnosis.channels import Channel
from coldcheck.bench.diagnosis.library import library_of
from coldcheck.bench.diagnosis.readings import OHM
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
    found = ohms(sheet, circuit, Wrong(), Channel(OHM, "RES", "RES"))
    assert found == pytest.approx(10e3, rel=1e-4)
    found = ohms(sheet, circuit, Wrong(across={"C1": 10e3}), Channel(OHM, "B1", "B1"))
    assert found == pytest.approx(5e3 * 15e3 / 20e3, rel=1e-4)
    across = Channel(OHM, "RES", "across R1", other="B1")
    assert ohms(sheet, circuit, Wrong(times={"R1": 3.0}), across) == pytest.approx(15e3, rel=1e-4)


@pytest.mark.parametrize("amps", [1e-6, 1e-3, 0.1])
def test_the_laws_of_diodes_behind_ohms(amps):
    volts = SILICON_NVT * math.log1p(amps / SILICON_IS) + SILICON_RS * amps
    assert silicon(np.array([volts + 200.0 * amps]))[0] == pytest.approx(amps, rel=1e-4)
    volts = (amps / 2e-3) ** (2 / 3)
    assert vacuum(np.array([volts + 200.0 * amps]), 2e-3)[0] == pytest.approx(amps, rel=1e-4)


@pytest.mark.parametrize("sample", sorted(EVENINGS | ASIDE))
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


HEATED = """
mains 120 V 60 Hz
transformer T1
    primary pri 120 V 10 ohm
    winding ht 200 V 100 ohm
    winding warm 6.3 V 1 A 0.1 ohm
line --[F1 fuse 1 A]-- T1.pri.1
T1.pri.2 -- neutral
tube V1 12AX7 heater T1.warm
T1.warm.1 -- gnd
T1.ht.2 -- gnd
T1.ht.1 --[D1 1N4007]-> B1 --+[C1 20 uF 450 V]-- gnd
B1 --[R1 100k]-- V1A.plate
V1A.cathode --[R2 1k5]-- gnd
V1A.grid --[R3 1M]-- gnd
"""


def test_a_tube_whose_heater_gets_less_than_half_is_cold():
    circuit = build_circuit(parse_drawing(HEATED, "x.tube"))
    sheet = Sheet(circuit)
    wrongs = [Wrong(), Wrong(into={"F1": 3e3})]
    bench = Bench(sheet, [circuit] * 2, wrongs, np.zeros(sheet.size))
    bench.cycles(20)
    assert (bench.share == 1.0).all()
    bench.cool()
    assert bench.share.tolist() == [[1.0], [0.0]]


# the middle of two capacitors in series: 220 kohm across each, 22 s of a time constant
SERIES = FILTER + "RES --[R3 220k]-- MID --[R4 220k]-- gnd\nMID --[C3 50 uF 300 V]-- gnd\n"


def test_what_creeps_is_put_where_it_leads():
    circuit = build_circuit(parse_drawing(SERIES, "x.tube"))
    sheet = Sheet(circuit)
    both = [Wrong(), Wrong(times={"R4": 0.5})]
    bench = Bench(sheet, [circuit] * 2, both, np.zeros(sheet.size))
    assert settle(bench, {"RES", "MID"}).all()
    mean = bench.cycles(1)[0]
    rails, middles = (mean[:, sheet.nets[n]] for n in ("RES", "MID"))
    assert middles[0] == pytest.approx(rails[0] / 2, rel=0.01)
    assert middles[1] == pytest.approx(rails[1] / 3, rel=0.01)


def test_copies_go_on_by_themselves_and_come_back():
    circuit = build_circuit(parse_drawing(FILTER, "x.tube"))
    sheet = Sheet(circuit)
    wrongs = [Wrong(), Wrong(times={"R2": 2.0})]
    benches = [Bench(sheet, [circuit] * 2, wrongs, np.zeros(sheet.size)) for _ in range(2)]
    whole, parted = benches
    whole.cycles(4)
    for who in ([0], [1]):
        some = parted.part(np.array(who))
        some.cycles(4)
        parted.put(np.array(who), some)
    assert np.allclose(parted.x, whole.x, atol=1e-6)


STAGE = """
mains 120 V 60 Hz
transformer T1
    primary pri 120 V 10 ohm
    winding ht 200 V 100 ohm
line -- T1.pri.1
T1.pri.2 -- neutral
T1.ht.2 -- gnd
T1.ht.1 --[D1 1N4007]-> B1 --+[C1 100 uF 450 V]-- gnd
signal IN 0.2 V 1 kHz
B1 --[R1 100k]-- B2 --+[C2 10 uF 450 V]-- gnd
IN --[C3 100 nF]-- OUT --[R3 10k]-- gnd
"""


def test_a_signal_is_on_in_the_integrated_circuit_when_it_is_listened_to():
    """10 kohm behind 100 nF at 1 kHz: 0.2 V times 1 / sqrt(1 + (1.59k / 10k)^2), 0.1975 V.

    The source stands behind its 600 ohm, of which 10 kohm take a seventeenth.
    """
    circuit = build_circuit(parse_drawing(STAGE, "x.tube"))
    sheet = Sheet(circuit)
    bench = Bench(sheet, [circuit], [Wrong()], np.zeros(sheet.size))
    bench.cycles(20)
    some = bench.hearing(np.array([0]))
    some.load([sheet.nets["OUT"]], 1e7)
    volts = some.cycles(3)[1][0]
    reactance = 1 / (2 * math.pi * 1e3 * 100e-9)
    source = 0.2 * abs(complex(10e3, -reactance) / complex(10.6e3, -reactance))
    wanted = source * 10e3 / math.hypot(10e3, reactance)
    assert volts[sheet.nets["OUT"]] == pytest.approx(wanted, rel=0.01)
    assert bench.cycles(1)[1][0][sheet.nets["OUT"]] < 1e-3  # and off again for all else
