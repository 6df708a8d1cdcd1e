"""The JSON report, schema ``coldcheck.report/1``; ``report.schema.json`` beside it describes it.

Other programs build on it: a field keeps its name and meaning. Voltages are in volts to gnd,
``plate_v``, ``screen_v`` and ``grid_v`` to the cathode; other units are in the names.
"""

from __future__ import annotations

import json
import math
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from coldcheck.rules.model import Finding, NotJudged, Review
    from coldcheck.solve.solution import Solution, TubeReading, Wave

SCHEMA = "coldcheck.report/1"

_READINGS = (
    "plate_v",
    "plate_ma",
    "screen_v",
    "screen_ma",
    "grid_v",
    "cathode_v",
    "plate_w",
    "screen_w",
    "peak_plate_ma",
    "inverse_v",
    "heater_cathode_dc",
)


def render(reviews: Iterable[Review], gate: str = "notice") -> str:
    """Return the report on all drawings as JSON text (ASCII only, ends in a newline)."""
    document = {"schema": SCHEMA, "drawings": [drawing(r, gate) for r in reviews]}
    return json.dumps(document, indent=2, allow_nan=False) + "\n"


@lru_cache(maxsize=1)
def schema_text() -> str:
    """The JSON Schema (draft 2020-12) of the report."""
    return Path(__file__).with_name("report.schema.json").read_text(encoding="utf-8")


def drawing(review: Review, gate: str = "notice") -> dict[str, Any]:
    """One entry of ``drawings``."""
    return {
        "file": _text(review.file),
        "title": _text(review.title),
        "verdict": review.verdict(gate),
        "findings": [_finding(f) for f in review.findings],
        "not_judged": [_not_judged(n) for n in review.not_judged],
        "states": {name: _state(s) for name, s in review.solutions.items()},
    }


def number(value: float | None, digits: int = 6) -> float | None:
    """A plain float of six significant digits; ``None`` for what is not a finite number."""
    if value is None or not math.isfinite(value):
        return None
    return float(f"{float(value):.{digits}g}") + 0.0


def _text(text: str) -> str:
    """Text without lone surrogates (undecodable bytes of a file name), which JSON cannot carry."""
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "rule": finding.rule,
        "level": finding.level,
        "state": finding.state,
        "also_in": list(finding.also_in),
        "at": [_text(a) for a in finding.at],
        "line": finding.span.line,
        "column": finding.span.column,
        "message": _text(finding.message),
        "remedy": _text(finding.remedy),
        "evidence": _evidence(finding.evidence),
        "path": [_text(step) for step in finding.path],
        "certainty": finding.certainty,
        "source": _text(finding.source),
        "fingerprint": finding.fingerprint,
        "accepted": None if finding.accepted is None else _text(finding.accepted),
    }


def _evidence(evidence: Mapping[str, float | str]) -> dict[str, float | str | None]:
    return {k: _text(v) if isinstance(v, str) else number(v) for k, v in evidence.items()}


def _not_judged(item: NotJudged) -> dict[str, Any]:
    return {"rule": item.rule, "at": [_text(a) for a in item.at], "reason": _text(item.reason)}


def _state(solution: Solution) -> dict[str, Any]:
    """A state; one that did not converge has its reason and no number at all."""
    if not solution.converged:
        return {
            "converged": False,
            "residual_a": None,
            "reason": _text(solution.reason),
            "points": {},
            "undefined": {},
            "tubes": {},
        }
    points = solution.circuit.points
    spread = solution.spread()
    off = {n: None if spread is None else spread.volts(n) for n in solution.waves}
    return {
        "converged": True,
        "residual_a": number(solution.residual_a, 3),
        "reason": None,
        "points": {
            _text(p): _wave(solution.waves[net], off[net])
            for p, net in points.items()
            if net in solution.waves
        },
        "undefined": {
            _text(p): _text(solution.undefined[net])
            for p, net in points.items()
            if net in solution.undefined and net not in solution.waves
        },
        "tubes": {_text(name): _reading(r) for name, r in solution.readings.items()},
    }


def _wave(wave: Wave, off: float | None) -> dict[str, float | None]:
    return {
        "dc": number(wave.dc),
        "plus_minus": number(off),
        "ac_rms": number(wave.ac_rms),
        "min": number(wave.low),
        "max": number(wave.high),
    }


def _reading(reading: TubeReading) -> dict[str, float | None]:
    plain = {name: number(getattr(reading, name)) for name in _READINGS}
    low, high = reading.heater_cathode_low, reading.heater_cathode_high
    peak = None if low is None or high is None else max(abs(low), abs(high))
    return {**plain, "heater_cathode_peak": number(peak)}
