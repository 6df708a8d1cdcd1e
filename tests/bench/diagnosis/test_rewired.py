"""Leads off and exchanged, each against the same circuit drawn that way; unequal halves."""

from __future__ import annotations

import numpy as np
import pytest

from coldcheck.bench.diagnosis.channels import channels_of, read_back, scaled
from coldcheck.bench.diagnosis.rewired import as_drawn, exchanged, lead_off, revalued, rewired
from coldcheck.bench.diagnosis.ripple import Ripple, rippling
from coldcheck.bench.diagnosis.suspects import suspects_of
from coldcheck.bench.diagnosis.tips import Tips
from coldcheck.bench.instruments.instruments import DC_METER
from coldcheck.solve.faults.spread import Shown, SpreadSolver

SUPPLY = """\
drawing "Skiff: a full-wave supply"
mains 120 V 60 Hz
transformer T1
    primary  pri   120 V  4 ohm
    winding  ht    100 V ct 100 V  50 mA  50 ohm
    winding  warm  6.3 V ct  1 A  0.1 ohm
line -- T1.pri.1
neutral -- T1.pri.2
T1.ht.1 --[D1 1N4007]-> RES
T1.ht.2 --[D2 1N4007]-> RES
T1.ht.ct --[R9 1 ohm]-- gnd
RES --+[C1 20 uF 350 V]-- gnd
RES --[L1 10 H 200 ohm]-- B1
B1 --+[C2 20 uF 350 V]-- gnd
B1 --[R1 10k]-- gnd
T1.warm.1 --[PL1 lamp 6.3 V 0.15 A]-- T1.warm.2
T1.warm.ct -- LIFT
LIFT --[R2 10k]-- gnd
"""

STAGE = """\
drawing "Punt: one stage on a bench supply"
B1 --+[E1 250 V]-- gnd
tube V1 12AX7
B1 --[R1 100k]-- V1A.plate
V1A.cathode --[R2 1k5]-- gnd
V1A.grid --[R3 1M]-- gnd
"""


@pytest.fixture(scope="module")
def supply():
    from tests.bench.conftest import circuit_of

    return circuit_of(SUPPLY)


def shown(circuit):
    found = SpreadSolver(circuit).shown((), deviations=False)
    assert isinstance(found, Shown)
    return {n: (v, a) for n, v, a in zip(found.nets, found.volts, found.ac, strict=True)}


def alike(one, other):
    return all(
        other[n] == pytest.approx(one[n], rel=1e-4, abs=1e-3, nan_ok=True)
        for n in one.keys() & other.keys()
    )


def test_a_diode_in_backwards_is_the_same_as_drawn_backwards(supply, circuit):
    drawn = circuit(SUPPLY.replace("T1.ht.1 --[D1 1N4007]-> RES", "T1.ht.1 <-[D1 1N4007]-- RES"))
    diode = supply.branches["D1"]
    got = shown(rewired(supply, exchanged("D1", diode.a, diode.b)))
    assert alike(shown(drawn), got)
    # one diode charges the reservoir, the other discharges it
    assert abs(got["RES"][0]) < 0.1 * shown(supply)["RES"][0]


def test_a_centre_tap_that_is_off_leaves_the_winding_without_a_reference(supply, circuit):
    got = shown(rewired(supply, lead_off("T1.warm", "T1.warm.ct", supply.points["T1.warm.ct"])))
    drawn = shown(circuit(SUPPLY.replace("T1.warm.ct -- LIFT\n", "")))
    assert np.isnan(got["T1.warm.1"][0])
    assert np.isnan(drawn["T1.warm.1"][0])
    assert alike({n: drawn[n] for n in ("RES", "B1")}, got)
    assert got["LIFT"][0] == pytest.approx(0.0, abs=1e-6)


def test_an_end_and_the_tap_of_a_winding_exchanged(supply, circuit):
    text = SUPPLY.replace("T1.ht.1 --[D1", "T1.ht.ct --[D1")
    text = text.replace("T1.ht.ct --[R9", "T1.ht.1 --[R9")
    leads = dict(next(w for w in supply.windings() if w.name == "T1.ht").leads)
    got = shown(rewired(supply, exchanged("T1.ht", leads["1"], leads["ct"])))
    drawn = shown(circuit(text))
    assert alike({n: drawn[n] for n in ("RES", "B1")}, got)
    # the second diode has the whole winding to itself
    assert got["RES"][0] > 1.6 * shown(supply)["RES"][0]


def test_wires_of_a_socket_exchanged(circuit):
    one = circuit(STAGE)
    swapped = STAGE.replace("V1A.plate", "V1A.x").replace("V1A.grid", "V1A.plate")
    drawn = shown(circuit(swapped.replace("V1A.x", "V1A.grid")))
    section = next(one.sections()).electrodes
    got = shown(rewired(one, exchanged("V1A", section["plate"], section["grid"])))
    # the plate's net of the drawing now carries the grid
    assert got["V1A.plate"] == pytest.approx(drawn["V1A.grid"], rel=1e-4)
    assert got["V1A.cathode"] == pytest.approx(drawn["V1A.cathode"], rel=1e-4)


def test_which_leads_are_suspected(supply):
    keys = {s.key for s in suspects_of(supply)}
    assert {"D1 backwards", "T1.warm.ct lead", "T1.ht.ct lead", "T1.ht.ct exchanged"} <= keys
    assert not any(k.startswith("T1.pri") and "lead" in k for k in keys)


def test_what_is_shown_is_put_in_the_order_of_the_drawing():
    found = Shown(
        ("B", "A"), np.array([1.0, 2.0]), np.zeros(2), np.ones(2), {"R1": np.array([3, 4.0])},
        np.array([[1, 1], [2, 2]], np.float32), np.array([[5, 6], [7, 8]], np.float32),
    )  # fmt: skip
    put = as_drawn(found, ("A", "B", "C"))
    assert put.volts[:2].tolist() == [2.0, 1.0]
    assert np.isnan(put.volts[2])
    assert put.deviations["R1"][:2].tolist() == [4.0, 3.0]
    assert put.waves[:2].tolist() == [[2, 2], [1, 1]]
    assert put.behind[:2, :2].tolist() == [[8, 7], [6, 5]]
    assert np.isnan(put.behind[2]).all()


def test_unequal_halves_bring_the_ripple_that_a_circuit_with_them_has(supply):
    solver = SpreadSolver(supply)
    good = solver.shown(())
    channels = channels_of(supply, good, DC_METER)
    at = np.array([good.nets.index(c.net) for c in channels])
    ripple = Ripple(supply, channels, Tips(channels, good.nets), rippling(solver, good))
    k = next(k for k, c in enumerate(channels) if (c.kind, c.net) == ("ac", "B1"))
    # 3 % between the halves, even within that: a standard deviation of 1.73 %
    off = SpreadSolver(revalued(supply, "T1.ht.1-ct", 1 + 0.03 / 3**0.5)).shown(())
    there = off.ac[off.nets.index("B1")]
    assert np.hypot(good.ac[at[k]], ripple.added[k] ** 0.5) == pytest.approx(there, rel=0.1)
    assert there > 1.2 * good.ac[at[k]]


@pytest.mark.parametrize(
    ("kind", "value"), [("dc", -31.0), ("ac", 2.5), ("ac", 0.0), ("ohm", 470e3), ("ohm", 0.2)]
)
def test_a_reading_goes_into_the_models_and_back(kind, value):
    assert read_back(kind, scaled(kind, value)) == pytest.approx(value, abs=1e-9)


def test_an_overload_comes_back_as_no_path():
    assert read_back("ohm", scaled("ohm", float("inf"))) == float("inf")
