"""A state as a notebook reads it: nets, parts and tubes by name, waveforms with their units."""

from __future__ import annotations

import sys
from math import pi, sqrt
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pytest

import coldcheck
from coldcheck.api import MissingError

SAMPLES = Path(__file__).parents[2] / "samples"
RC = """
mains 120 V 60 Hz
transformer T1
    primary pri 120 V 0.001 ohm
    winding s 10 V 0.001 ohm
T1.s.1 -- IN --[R1 1k]-- OUT --[C1 {farads:.12f} F]-- gnd
T1.s.2 -- gnd
"""


@pytest.fixture(scope="module")
def warm():
    return coldcheck.read(SAMPLES / "harbour-light.tube").warm


@pytest.mark.parametrize("farads", [0.5e-6, 2.2e-6, 10e-6])
def test_alternating_current_by_the_first_order_low_pass(farads) -> None:
    """|H| = 1 / sqrt(1 + (2 pi f R C)^2); amperes through C are 2 pi f C times its volts."""
    state = coldcheck.read_text(RC.format(farads=farads)).warm
    out, w = state["OUT"], 2 * pi * 60
    assert out.ac_rms == pytest.approx(10 / sqrt(1 + (w * 1e3 * farads) ** 2), rel=2e-3)
    assert out.rms == pytest.approx(out.ac_rms)
    assert state.parts["C1"].amps.ac_rms == pytest.approx(w * farads * out.ac_rms, rel=2e-3)
    # what the resistor turns into heat is its current squared times its ohms
    amps = state.parts["R1"].amps.rms
    assert state.parts["R1"].watts.dc == pytest.approx(1e3 * amps**2)
    assert state.parts["C1"].watts.dc == pytest.approx(0, abs=1e-5)


def test_a_waveform_is_one_cycle_of_the_mains() -> None:
    source = coldcheck.read_text(RC.format(farads=1e-6)).warm["IN"]
    assert source.unit == "V"
    assert source.samples.shape == source.seconds.shape
    assert source.seconds[1] * len(source.seconds) == pytest.approx(1 / 60)
    # a sine of 10 V rms
    expected = sqrt(2) * 10 * np.sin(2 * pi * 60 * source.seconds)
    np.testing.assert_allclose(source.samples, expected, atol=0.02)
    assert (source.low, source.high) == (source.samples.min(), source.samples.max())
    assert source.samples.dtype == np.float64


def test_where_nothing_is_ac_there_is_one_instant() -> None:
    state = coldcheck.read_text("B1 --+[E1 9 V]-- gnd\nB1 --[R1 1k]-- gnd\n").warm
    assert state["B1"].samples.shape == (1,)
    assert state["B1"].ac_rms == 0
    assert repr(state["B1"]) == "<9 V DC>"
    assert repr(state["gnd"]) == "<0 V DC>"
    assert state.parts["R1"].amps.dc == pytest.approx(9e-3, rel=1e-5)
    assert state.parts["R1"].watts.dc == pytest.approx(81e-3, rel=1e-5)
    assert state.parts["E1"].watts.dc == pytest.approx(
        -81e-3, rel=1e-5
    )  # it delivers what R1 takes


def test_the_powers_of_all_parts_and_tubes_add_up_to_nothing() -> None:
    """What sources deliver is what the rest takes (Tellegen, 1952), but for what leaks."""
    text = "B1 --+[E1 250 V]-- gnd\ntube V1 12AX7\nB1 --[R1 100k]-- V1A.plate\n"
    text += "V1A.grid -- gnd\nV1A.cathode --[R2 1k5]-- gnd\n"
    state = coldcheck.read_text(text).warm
    taken = sum(state.parts[name].watts.dc for name in state.parts if "heater" not in name)
    assert taken + state.tubes["V1A"].plate_w == pytest.approx(0, abs=5e-6)


def test_nets_are_walked_once_and_known_by_all_their_names(warm) -> None:
    assert len(warm) == len(set(warm)) == len(list(warm))
    assert "RES" in warm
    assert "T1.fil.2" in warm  # a lead on it
    assert "T1.fil.2" not in list(warm)
    assert warm["T1.fil.2"].dc == warm["RES"].dc
    assert "NOWHERE" not in warm
    assert warm.get("NOWHERE") is None
    assert {net: reading.dc for net, reading in warm.items()}["gnd"] == 0


def test_ranges_are_those_of_the_report(warm) -> None:
    low, high = warm["B1"].range
    spread = warm._inner.spread()
    assert high - warm["B1"].dc == pytest.approx(spread.volts("B1"))
    assert low < warm["B1"].dc < high
    between = warm.between("B1", "B2").range
    assert between[1] - between[0] == pytest.approx(2 * spread.volts("B1", "B2"))
    assert np.isnan(warm.parts["R7"].amps.range).all()


def test_the_mains_are_no_part_of_the_range_at_high_line() -> None:
    high = coldcheck.read(SAMPLES / "harbour-light.tube").states["high line"]
    spread = high._inner.spread()
    width = high["B1"].range[1] - high["B1"].dc
    assert width == pytest.approx(spread.volts("B1", mains=False))
    assert width < spread.volts("B1")


def test_parts_have_their_ends_and_value(warm) -> None:
    part = warm.parts["R7"]
    assert (part.kind, part.value, part.unit) == ("resistor", 270, "ohm")
    assert (part.a, part.b) == ("V2.cathode", "gnd")
    assert part.volts.dc == pytest.approx(270 * part.amps.dc)
    assert (part.volts.unit, part.amps.unit, part.watts.unit) == ("V", "A", "W")
    assert len(warm.parts) == len(list(warm.parts))
    assert "T1.warm.1-ct" in warm.parts


def test_tubes_have_their_figures(warm) -> None:
    tube = warm.tubes["V2"]
    assert tube.type == "6V6GT"
    assert tube.plate_v == pytest.approx(warm.between("V2.plate", "V2.cathode").dc)
    # Kirchhoff: what goes into plate and screen comes out of the cathode
    amps = warm.parts["R7"].amps.dc
    assert tube.plate_ma + tube.screen_ma == pytest.approx(1e3 * amps, rel=1e-4)
    low, high = tube.plate_w_range
    assert low < tube.plate_w < high
    assert tube.plate_ma_range.shape == (2,)
    assert repr(tube).startswith("<Tube V2 6V6GT: plate 248.")
    assert list(warm.tubes) == ["V1A", "V1B", "V2", "V3"]


def test_a_state_without_numbers_says_why() -> None:
    state = coldcheck.read_text("B1 --+[E1 24 V]-- gnd\nB1 -- gnd\n").warm
    assert not state.solved
    assert list(state) == []
    with pytest.raises(MissingError, match="no numbers in warm: not solved: E1 would deliver"):
        state["B1"]
    with pytest.raises(MissingError):
        state.parts["E1"].watts  # noqa: B018
    assert "not solved" in repr(state)


def test_html_is_well_formed_and_has_units(warm) -> None:
    for shown in (warm, warm.parts, warm.tubes):
        ET.fromstring(shown._repr_html_())
    assert "<caption>warm, volts to gnd</caption>" in warm._repr_html_()
    assert "<th>V AC rms</th>" in warm._repr_html_()
    assert "<tr><td>gnd</td><td>0</td><td>0</td><td>0</td><td>0</td></tr>" in warm._repr_html_()
    assert "<td>R7</td><td>resistor</td><td>270 ohm</td>" in warm.parts._repr_html_()
    assert warm.parts._ipython_key_completions_() == list(warm.parts)
    row = next(r for r in warm.tubes._repr_html_().split("<tr>") if "6V6GT" in r)
    assert f"<td>{warm.tubes['V2'].plate_ma:.4g}</td>" in row
    assert "<td>-</td>" in warm.tubes._repr_html_()  # a triode has no screen


def test_tables_as_data_frames(warm) -> None:
    pytest.importorskip("pandas")
    nets = warm.to_frame()
    assert nets.index.name == "net"
    assert nets.loc["RES", "V DC"] == warm["RES"].dc
    parts = warm.parts.to_frame()
    assert parts.loc["R7", "W"] == warm.parts["R7"].watts.dc
    assert list(parts.loc["R7", ["kind", "value", "unit"]]) == ["resistor", 270, "ohm"]
    assert warm.tubes.to_frame().loc["V2", "mA plate"] == warm.tubes["V2"].plate_ma


def test_pandas_is_needed_for_data_frames_alone(warm, monkeypatch) -> None:
    monkeypatch.setitem(sys.modules, "pandas", None)
    assert warm._repr_html_()
    with pytest.raises(ImportError, match="pandas"):
        warm.to_frame()
