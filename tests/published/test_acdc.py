"""A lifted heater on a real tube; the rest of AC on DC is in the tables."""

import numpy as np
import pytest
from tests.published.bench import solved, transformer


def test_a_lifted_heater_swings_about_its_dc():
    """Both ends of a tapped winding, worst instants of both polarities, on a real tube."""
    text = transformer("w 6.3 V ct 0.001 ohm") + "B1 --+[E1 40 V]-- gnd\nB1 -- T1.w.ct\n"
    text += "tube V1 12AX7 heater T1.w\nB2 --+[E2 250 V]-- gnd\nB2 --[R1 100k]-- V1A.plate\n"
    text += "V1A.grid -- gnd\nV1A.cathode --[R2 1k5]-- gnd\n"
    reading = solved(text).readings["V1A"]
    swing = 6.3 / 2 * np.sqrt(2)
    assert reading.heater_cathode_dc == pytest.approx(40 - reading.cathode_v, abs=0.01)
    assert reading.heater_cathode_high == pytest.approx(40 - reading.cathode_v + swing, abs=0.02)
    assert reading.heater_cathode_low == pytest.approx(40 - reading.cathode_v - swing, abs=0.02)
