"""What a scope's ground clip would do."""

import pytest
from tests.bench.drawings import BIAS

from coldcheck.bench.instruments.clip import ClipKind, clip_on, mains_side
from coldcheck.bench.instruments.clipped import ClipSolver


def clip(bench, point):
    circuit, state = bench.circuit, bench.expected.state.name
    solver = ClipSolver(circuit, state)
    return clip_on(circuit, circuit.points[point], bench.expected.solution, bench.meter, solver)


def test_gnd_that_is_earthed(harbour):
    found = clip(harbour, "gnd")
    assert (found.kind, found.allowed) == ("earthed", True)


def test_gnd_without_an_earth_in_the_drawing(bench):
    found = clip(bench("B1 --+[E1 9 V]-- gnd\nB1 --[R1 1k]-- gnd\n"), "gnd")
    assert (found.kind, found.allowed) == ("unearthed", True)


def test_a_live_common_takes_no_clip(galley):
    assert "gnd" in mains_side(galley.circuit)
    for point in ("gnd", "RES", "HOT"):
        found = clip(galley, point)
        assert (found.kind, found.allowed) == ("live common", False)


def test_the_mains_side(harbour):
    assert "gnd" not in mains_side(harbour.circuit)
    for point in ("line", "neutral", "FUSED", "T1.pri.1"):
        assert clip(harbour, point).kind == "mains"


def test_a_divider_by_hand(bench):
    """50 V behind 500 ohm: 100 mA. The capacitor on it empties itself."""
    text = "B1 --+[E1 100 V]-- gnd\nB1 --[R1 1k]-- M --[R2 1k]-- gnd\nM --+[C1 10 uF 100 V]-- gnd\n"
    found = clip(bench(text), "M")
    assert (found.kind, found.allowed) == ("short", False)
    assert found.volts_dc == pytest.approx(50, rel=1e-3)
    assert found.clipped.dc_amps == pytest.approx(0.1, rel=1e-3)
    assert found.clipped.ac_amps == 0
    assert found.discharges == ("C1",)


def test_the_winding_of_a_lifted_heater(harbour):
    """31.7 V behind 22 k in parallel with 150 k and 10 k: 1.6 mA; 3.25 V AC: 12 mA.

    The AC flows through half the winding, the lift's capacitor (10 uF: 265 ohm) and the clip.
    """
    found = clip(harbour, "T1.warm.1")
    behind = 1 / (1 / 22e3 + 1 / 160e3)
    assert found.clipped.dc_amps == pytest.approx(31.7 / behind, rel=0.03)
    assert found.clipped.ac_amps == pytest.approx(3.25 / 265.3, rel=0.03)


def test_a_floating_winding(bench):
    text = "mains 120 V 60 Hz\ntransformer T1\n    primary pri 120 V 5 ohm\n"
    text += "    winding warm 6.3 V 0.1 ohm\ntube V1 12AX7 heater T1.warm\n"
    text += "V1A.grid -- V1A.cathode -- gnd\n"
    found = clip(bench(text), "T1.warm.1")
    assert (found.kind, found.allowed) == ("floating", False)
    assert found.reason


def test_on_the_bias_line_the_tubes_run_away(bench):
    """3.3 mA flow (50 V over 15 k), and both tubes lose their bias: the harm is in the tubes."""
    found = clip(bench(BIAS), "BL")
    done = found.clipped
    assert found.kind is ClipKind.SHORT
    assert done.dc_amps == pytest.approx(50 / 15e3, rel=0.01)
    assert {u.section for u in done.unbiased} == {"V3", "V4"}
    hot = [x for x in done.findings if x.rule == "tube.plate-dissipation"]
    assert {x.at[0] for x in hot} == {"V3", "V4"}
    assert all(x.excess > 3 for x in hot)


def test_on_one_grid_that_tube_runs_away(bench):
    """34.4 V behind 230 k is 150 uA, and a grid at its cathode draws some more by itself."""
    done = clip(bench(BIAS), "V3.grid").clipped
    assert 34.3 / 230.3e3 < done.dc_amps < 34.4 / 230.3e3 + 50e-6
    assert [u.section for u in done.unbiased] == ["V3"]
    assert "V4" not in {x.at[0] for x in done.findings}


def test_a_clip_on_a_rail_takes_no_bias(bench):
    """A tube whose supply is gone draws nothing: it needs no bias."""
    text = "B1 --+[E1 250 V]-- gnd\nB1 --[R1 10k]-- B2\ntube V1 12AU7\n"
    text += "B2 --[R2 10k]-- V1A.plate\nV1A.cathode --[R3 1k]-- gnd\nV1A.grid --[R4 1M]-- gnd\n"
    done = clip(bench(text), "B2").clipped
    assert done.dc_amps == pytest.approx(0.025, rel=0.01)
    assert done.unbiased == ()


def test_a_clip_opens_a_fuse(bench):
    """100 V over 10 ohm: 10 A through a fuse of 1 A."""
    text = "B1 --+[E1 100 V]-- gnd\nB1 --[R9 10 ohm 5 W]-- X --[F1 1 A fuse]-- M --[R1 1k]-- gnd\n"
    done = clip(bench(text), "M").clipped
    assert [b.name for b in done.fuses] == ["F1"]
    assert done.fuses[0].times == pytest.approx(10, rel=0.01)
    assert done.fuses[0].opens


def test_what_cannot_be_solved_is_said(bench):
    """A value that is not written moves the clipped circuit: no number, and why."""
    text = "B1 --+[E1 100 V]-- gnd\nB1 --[R1 1k]-- M --[R2 1k]-- gnd\nB1 --[R3 ?]-- gnd\n"
    done = clip(bench(text), "M").clipped
    assert done.dc_amps is None
    assert "every value" in done.reason


def test_nowhere_on_a_set_with_a_live_common(bench):
    """Not on a winding of its own either, which no conductor joins to the mains."""
    text = "mains 120 V 60 Hz\nline --[R1 1k 20 W]-- gnd\nneutral -- gnd\n"
    text += "transformer T1\n    primary pri 120 V 5 ohm\n    winding low 6.3 V 0.1 ohm\n"
    text += "T1.pri.1 -- line\nT1.pri.2 -- neutral\nT1.low.1 --[R2 10 ohm 5 W]-- T1.low.2\n"
    assert clip(bench(text), "T1.low.1").kind is ClipKind.LIVE


def test_the_few_ohms_of_a_winding_are_not_gnd(bench):
    """One end of a heater winding on gnd: the other is 0.1 ohm and 6.3 V away, 60 A."""
    text = "mains 120 V 60 Hz\ntransformer T1\n    primary pri 120 V 1 ohm\n"
    text += "    winding warm 6.3 V 0.1 ohm\nline -- T1.pri.1\nneutral -- T1.pri.2\n"
    text += "T1.warm.2 -- gnd\nearth -- chassis -- gnd\nT1.warm.1 --[R1 100 ohm 1 W]-- gnd\n"
    found = clip(bench(text), "T1.warm.1")
    assert (found.kind, found.allowed) == (ClipKind.SHORT, False)
    assert found.clipped.ac_amps > 30


def test_a_capacitor_behind_a_winding_empties_as_well(harbour):
    """The filament winding's other end: RES, with C1 on it, is a tenth of an ohm away."""
    assert clip(harbour, "T1.fil.1").discharges == ("C1",)


def test_a_capacitor_that_is_near_only_by_way_of_gnd_keeps_its_charge(bench):
    text = "B1 --+[E1 100 V]-- gnd\nB1 --[R1 1k]-- M --[R2 47 ohm]-- gnd\n"
    text += "B1 --[R3 1k]-- N --[R4 33 ohm]-- gnd\nN --+[C1 100 uF 100 V]-- gnd\n"
    assert clip(bench(text), "M").discharges == ()
    assert clip(bench(text), "N").discharges == ("C1",)
