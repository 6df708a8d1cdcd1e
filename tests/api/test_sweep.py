"""A sweep: by hand, and value for value as the changed drawing alone."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pytest

import coldcheck
from coldcheck.api import BadValueError, MissingError

SAMPLES = Path(__file__).parents[2] / "samples"
DIVIDER = "B1 --+[E1 24 V]-- gnd\nB1 --[R1 10k]-- MID --[R2 10k]-- gnd\n"
STAGE = """
B1 --+[E1 252 V]-- gnd
tube V1 12AX7
B1 -- V1A.plate
V1A.cathode --[R1 1k5]-- gnd
V1A.grid -- gnd
"""


@pytest.fixture(scope="module")
def divider():
    return coldcheck.read_text(DIVIDER)


def test_a_divider_by_ohms_law(divider) -> None:
    ohms = np.geomspace(100, 1e6, 50)
    swept = divider.sweep(R2=ohms)
    np.testing.assert_allclose(swept["MID"].dc, 24 * ohms / (10e3 + ohms), rtol=1e-6)
    amps = 24 / (10e3 + ohms)
    np.testing.assert_allclose(swept.parts["R2"].amps.dc, amps, rtol=1e-6)
    np.testing.assert_allclose(swept.parts["R2"].watts.dc, amps**2 * ohms, rtol=1e-6)
    np.testing.assert_allclose(swept.parts["R2"].volts.dc, swept.between("MID", "gnd").dc)


def test_the_most_power_goes_into_a_load_like_its_source(divider) -> None:
    """Jacobi's law: the load that takes the most has the ohms of its source, E^2 / 4R."""
    ohms = np.linspace(2e3, 50e3, 97)
    watts = divider.sweep(R2=ohms).parts["R2"].watts.dc
    assert ohms[watts.argmax()] == 10e3
    assert watts.max() == pytest.approx(24**2 / (4 * 10e3))


def test_a_cathode_resistor_biases_a_triode_by_hand() -> None:
    """Plate on 252 V, 2 V of bias across 1.667 kohm at 1.2 mA: the 12AX7's published 250 V, -2 V.

    The tube's law is fitted to that very point, so this holds the circuit and not the law. At every
    other value the bias is still what the current makes of the resistor (Ohm's law).
    """
    ohms = np.array([820, 1000, 2 / 1.2e-3, 2700, 4700, 10e3])
    swept = coldcheck.read_text(STAGE).sweep(R1=ohms)
    milliamps = swept.tubes["V1A"].plate_ma
    assert milliamps[2] == pytest.approx(1.2, rel=0.05)
    np.testing.assert_allclose(swept["V1A.cathode"].dc, milliamps * 1e-3 * ohms, rtol=1e-6)
    np.testing.assert_allclose(swept.tubes["V1A"].grid_v, -milliamps * 1e-3 * ohms, rtol=1e-6)
    assert (np.diff(milliamps) < 0).all()


def test_several_values_go_together(divider) -> None:
    swept = divider.sweep(R1=["10k", "20k"], R2=["30k", "20k"])
    assert swept["MID"].dc == pytest.approx([18, 12])
    assert swept.swept["R1"] == pytest.approx([10e3, 20e3])
    assert dict(swept.units) == {"R1": "ohm", "R2": "ohm"}


def test_any_figure_along_a_sweep(divider) -> None:
    swept = divider.sweep(E1=[10, 20])
    assert swept.array(lambda s: s["MID"].dc + s["B1"].dc) == pytest.approx([15, 30])
    assert np.isnan(swept.array(lambda s: s["NOWHERE"].dc)).all()
    assert np.isnan(swept.array(lambda s: None)).all()


def test_another_state() -> None:
    amp = coldcheck.read(SAMPLES / "harbour-light.tube")
    swept = amp.sweep(C1=["10 uF", "30 uF"], state="cold")
    assert [s.name for s in swept.states] == ["cold", "cold"]
    for value, state in zip(("10 uF", "30 uF"), swept.states, strict=True):
        alone = amp.with_values(C1=value).states["cold"]
        np.testing.assert_allclose(state["RES"].samples, alone["RES"].samples, atol=1e-4)


def test_waveforms_and_ranges_along_a_sweep() -> None:
    amp = coldcheck.read(SAMPLES / "harbour-light.tube")
    curve = amp.sweep(R7=[220, 330])["V2.cathode"]
    assert curve.samples.shape == (2, 128)
    assert curve.unit == "V"
    for row, ohms in enumerate((220, 330)):
        alone = amp.with_values(R7=ohms).warm["V2.cathode"]
        assert curve.range[row] == pytest.approx(alone.range, rel=1e-4)
        for figure in ("dc", "ac_rms", "rms", "low", "high"):
            expected = pytest.approx(getattr(alone, figure), rel=1e-3)
            assert getattr(curve, figure)[row] == expected


def test_what_is_not_solved_is_not_a_number() -> None:
    text = "B1 --+[E1 24 V]-- gnd\nB1 --[R1 10 ohm]-- gnd\nB1 --[R2 1k]-- MID --[R3 1k]-- gnd\n"
    swept = coldcheck.read_text(text).sweep(R1=["10 ohm", "0.1 ohm"])  # 240 A is no answer
    assert [s.solved for s in swept.states] == [True, False]
    assert swept["MID"].dc == pytest.approx([12, np.nan], rel=1e-3, nan_ok=True)
    assert swept["MID"].samples.shape == (2, 1)
    assert np.isnan(swept["MID"].range[1]).all()
    assert "E1 would deliver" in swept.states[1].reason


def test_a_name_that_no_state_has_is_told(divider) -> None:
    swept = divider.sweep(R1=[1e3, 2e3])
    with pytest.raises(MissingError, match="'MIT' is no name of a net; did you mean MID"):
        swept["MIT"]
    with pytest.raises(MissingError, match="is no name of a tube section"):
        swept.tubes["V1"]
    stage = coldcheck.read_text(STAGE).sweep(R1=[1e3])
    with pytest.raises(AttributeError, match="'plate_mA' is no figure of a tube: plate_v, plate_m"):
        stage.tubes["V1A"].plate_mA  # noqa: B018
    assert "plate_ma" in dir(stage.tubes["V1A"])


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ({"R1": "680 ohm"}, "R1: found '680 ohm'; expected values one after the other"),
        ({"R1": 680}, "R1: found 680; expected values one after the other"),
        ({"R1": [1, 2], "R2": [1]}, "found 2 of R1, 1 of R2; expected as many values of each"),
        ({"R1": [1, 0]}, "R1: found 0; expected a value above zero"),
        ({}, "found no name; expected the values of at least one part"),
    ],
)
def test_what_is_no_row_of_values_is_refused(divider, rows, said) -> None:
    with pytest.raises(BadValueError) as caught:
        divider.sweep(rows)
    assert said in str(caught.value)


def test_no_values_are_a_sweep_of_none(divider) -> None:
    swept = divider.sweep(R1=[])
    assert swept.states == ()
    assert list(swept) == list(swept.parts) == list(swept.tubes) == []
    ET.fromstring(swept._repr_html_())


def test_tables(divider) -> None:
    swept = divider.sweep(R1=[10e3, 30e3])
    for shown in (swept, swept.parts, coldcheck.read_text(STAGE).sweep(R1=[1e3]).tubes):
        ET.fromstring(shown._repr_html_())
    assert "R1 from 1e+04 to 3e+04 ohm: 2 values" in swept._repr_html_()
    assert "<td>MID</td><td>12</td><td>6</td><td>12</td><td>6</td>" in swept._repr_html_()


def test_data_frames(divider) -> None:
    pytest.importorskip("pandas")
    swept = divider.sweep(R1=[10e3, 30e3])
    frame = swept.to_frame()
    assert list(frame["R1 (ohm)"]) == [10e3, 30e3]
    assert list(frame["MID (V DC)"]) == pytest.approx([12, 6])
    assert swept.parts.to_frame().loc["R1", "W, highest"] == pytest.approx(12**2 / 10e3)
