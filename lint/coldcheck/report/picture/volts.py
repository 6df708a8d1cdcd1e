"""The volts of a state in the few letters a drawing has room for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.report.shared.numbers import volts

if TYPE_CHECKING:
    from coldcheck.solve.solution import Solution, Wave

NIL, HUM = 0.005, 0.05
"""Volts below which nothing is written: DC, and the rms of AC."""


def volts_of(solution: Solution) -> dict[str, str]:
    """Net -> its DC to gnd, or its AC where there is hardly any DC: ``165 V``, ``6.30 V~``."""
    found = {net: _text(wave) for net, wave in solution.waves.items()}
    return {net: text for net, text in found.items() if text}


def _text(wave: Wave) -> str:
    if wave.ac_rms > 3 * abs(wave.dc):
        return f"{volts(wave.ac_rms)} V~" if wave.ac_rms > HUM else ""
    return f"{volts(wave.dc)} V" if abs(wave.dc) > NIL else ""
