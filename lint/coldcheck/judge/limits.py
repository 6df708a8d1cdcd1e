"""Limits that more than one rule goes by."""

from __future__ import annotations

from coldcheck.judge.threshold import Threshold
from coldcheck.solve.off.discharge import TOUCH_V
from coldcheck.sources.register import PRACTICE, Citation

TOUCH_DC = Threshold(
    "touch voltage, DC", TOUCH_V, "V", Citation("iec-62368-1", "table 4, ES1: 60 V DC")
)
TOUCH_PEAK = Threshold(
    "touch voltage, AC peak", 42.4, "V", Citation("iec-62368-1", "table 4, ES1: 30 V rms")
)
TOUCH_A = Threshold(
    "touch current, rms", 0.5e-3, "A", Citation("iec-60335-1", "cl. 8.1.4: 0.7 mA peak")
)
SUPPLY_WINDING_V = Threshold("winding voltage from which it is a supply's", 30.0, "V", PRACTICE)
