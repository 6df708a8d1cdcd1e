"""AC on DC: what a meter and a scope would show, read off waveforms of whole drawings.

The three meter waveforms (MEAS-06 to MEAS-10) are fed to Wave directly; the tool predicts no
average-responding meter, so the file's third figures are not covered.
"""

import csv
from pathlib import Path

import numpy as np
import pytest

from coldcheck.solve.solution import Wave

HERE = Path(__file__).parent
T1 = "mains 120 V 60 Hz\ntransformer T1\n    primary pri 120 V 0.001 ohm\n"
ANGLE = 2 * np.pi * np.arange(4096) / 4096


def table(name):
    with (HERE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def read(wave, what):
    return wave.high - wave.low if what == "pp" else getattr(wave, what)


def on_top(solved, dc, ac, **kw):
    text = T1 + f"    winding w {ac} V 0.001 ohm\nB1 --+[E1 {dc} V]-- gnd\nB1 -- T1.w.1\n"
    return read(solved(text + "T1.w.2 --[R1 100k]-- gnd\n").wave("T1.w.2"), kw["read"])


def lifted(solved, dc, ac, **kw):
    text = T1 + f"    winding w {ac} V ct 0.001 ohm\nB1 --+[E1 {dc} V]-- gnd\nB1 -- T1.w.ct\n"
    return read(solved(text).wave("T1.w.1"), kw["read"])


def tapped(solved, ac, **kw):
    text = T1 + f"    winding w {ac} V ct 0.001 ohm\ngnd -- T1.w.ct\n"
    return read(solved(text).wave("T1.w.2"), kw["read"])


def one_end(solved, ac, **kw):
    text = T1 + f"    winding w {ac} V 0.001 ohm\ngnd -- T1.w.2\n"
    return read(solved(text).wave("T1.w.1"), kw["read"])


def artificial(solved, ac, ohms, **kw):
    text = T1 + f"    winding w {ac} V 0.001 ohm\n"
    text += f"T1.w.1 --[R1 {ohms} ohm]-- gnd\ngnd --[R2 {ohms} ohm]-- T1.w.2\n"
    got = solved(text)
    assert got.wave("T1.w.1").ac_rms == pytest.approx(ac / 2, rel=1e-3)
    return 1e3 * got.current("R1").rms


def heaters(solved, **kw):
    text = T1 + "    winding w 6.3 V 0.0001 ohm\nT1.w.2 -- gnd\n"
    text += "".join(f"tube V{n} ECC83 heater T1.w\n" for n in (1, 2, 3))
    text += "".join(f"tube V{n} EL34 heater T1.w\n" for n in (4, 5))
    return solved(text).current("T1.w").rms


def shape(samples):
    return lambda solved, **kw: read(Wave(samples), kw["read"])


RUNNERS = {
    "sum": on_top,
    "lifted": lifted,
    "tapped": tapped,
    "one-end": one_end,
    "artificial": artificial,
    "heaters": heaters,
    "rectified": shape(np.sqrt(2) * np.abs(np.sin(ANGLE))),
    "triangle": shape(1.732 * (2 / np.pi) * np.arcsin(np.sin(ANGLE))),
    "half-rectified": shape(2 * np.maximum(np.sin(ANGLE), 0)),
    "sawtooth": shape(ANGLE / (2 * np.pi)),
}


@pytest.mark.parametrize("row", table("acdc.csv"), ids=lambda r: r["id"])
def test_published_point(solved, inputs, row):
    got, answer = RUNNERS[row["circuit"]](solved, **inputs(row)), float(row["answer"])
    print(f"{row['id']:14} {answer:8g} {got:8.5g} {row['unit']}")
    assert got == pytest.approx(answer, rel=float(row["tolerance"]))


def test_rectified_total_rms_and_ripple_factor():
    """PS-05 and PS-06: 0.483 full wave, 1.21 half wave; derived."""
    full, half = Wave(np.abs(np.sin(ANGLE))), Wave(np.maximum(np.sin(ANGLE), 0))
    assert full.ac_rms / full.dc == pytest.approx(0.483, rel=0.002)
    assert half.ac_rms / half.dc == pytest.approx(1.21, rel=0.002)


def test_a_lifted_heater_swings_about_its_dc(solved):
    """Both ends of a tapped winding, worst instants of both polarities (MEAS-05), on a tube."""
    text = T1 + "    winding w 6.3 V ct 0.001 ohm\nB1 --+[E1 40 V]-- gnd\nB1 -- T1.w.ct\n"
    text += "tube V1 12AX7 heater T1.w\nB2 --+[E2 250 V]-- gnd\nB2 --[R1 100k]-- V1A.plate\n"
    text += "V1A.grid -- gnd\nV1A.cathode --[R2 1k5]-- gnd\n"
    reading = solved(text).readings["V1A"]
    swing = 6.3 / 2 * np.sqrt(2)
    assert reading.heater_cathode_dc == pytest.approx(40 - reading.cathode_v, abs=0.01)
    assert reading.heater_cathode_high == pytest.approx(40 - reading.cathode_v + swing, abs=0.02)
    assert reading.heater_cathode_low == pytest.approx(40 - reading.cathode_v - swing, abs=0.02)
