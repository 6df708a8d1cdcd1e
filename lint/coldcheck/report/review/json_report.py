"""The JSON report, schema ``coldcheck.report/2``; ``report.schema.json`` beside it describes it.

Other programs build on it: a field keeps its name and meaning. Voltages are in volts to gnd,
``plate_v``, ``screen_v`` and ``grid_v`` to the cathode; other units are in the names.
"""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coldcheck.report.review.heater_table import heater_windings
from coldcheck.report.review.json_worked import worked
from coldcheck.report.shared.json_values import number, safe

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from coldcheck.judge.figure import Figure
    from coldcheck.judge.finding import Finding, NotJudged
    from coldcheck.solve.solution import Solution, TubeReading, Wave
    from coldcheck.verdict.review import Review

SCHEMA = "coldcheck.report/2"

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


def of_documents(
    reviews: Iterable[Review], documents: Iterable[Mapping[str, Any]], gate: str | None = None
) -> str:
    """The report from entries made before; findings and verdicts are those of the reviews now."""
    entries = [
        {**made, "verdict": r.verdict(gate), "findings": [_finding(f, r.file) for f in r.findings]}
        for r, made in zip(reviews, documents, strict=True)
    ]
    return _text({"schema": SCHEMA, "drawings": entries})


def _text(document: Mapping[str, Any]) -> str:
    return json.dumps(document, indent=2, allow_nan=False) + "\n"


def render(reviews: Iterable[Review], gate: str | None = None) -> str:
    """Return the report on all drawings as JSON text (ASCII only, ends in a newline)."""
    return _text({"schema": SCHEMA, "drawings": [drawing(r, gate) for r in reviews]})


@lru_cache(maxsize=1)
def schema_text() -> str:
    """The JSON Schema (draft 2020-12) of the report."""
    return Path(__file__).with_name("report.schema.json").read_text(encoding="utf-8")


def drawing(review: Review, gate: str | None = None) -> dict[str, Any]:
    """One entry of ``drawings``."""
    return {
        "file": safe(review.file),
        "title": safe(review.title),
        "verdict": review.verdict(gate),
        "findings": [_finding(f, review.file) for f in review.findings],
        "not_judged": [_not_judged(n) for n in review.not_judged],
        "heater_windings": heater_windings(review, number),
        "states": {name: _state(s) for name, s in review.solutions.items()},
        **worked(review),
    }


def _finding(finding: Finding, drawing: str) -> dict[str, Any]:
    elsewhere = finding.span.file != drawing
    return {
        "rule": finding.rule,
        "level": finding.level,
        "state": finding.state,
        "also_in": list(finding.also_in),
        "at": [safe(a) for a in finding.at],
        **({"file": safe(finding.span.file)} if elsewhere else {}),
        "line": finding.span.line,
        "column": finding.span.column,
        "message": safe(finding.message),
        "remedy": safe(finding.remedy),
        "evidence": _evidence(finding.evidence),
        "limit": None if finding.limit is None else figure(finding.limit),
        "path": [safe(step) for step in finding.path],
        "certainty": finding.certainty,
        "source": safe(finding.source),
        "fingerprint": finding.fingerprint,
        "accepted": None if finding.accepted is None else safe(finding.accepted),
        "standing": finding.standing,
    }


def _evidence(evidence: Mapping[str, Figure | str]) -> dict[str, Any]:
    return {k: safe(v) if isinstance(v, str) else figure(v) for k, v in evidence.items()}


def figure(found: Figure) -> dict[str, Any]:
    """A figure: its value in the plain unit beside it, null for what is not finite."""
    return {"value": number(found.value), "unit": found.unit}


def _not_judged(item: NotJudged) -> dict[str, Any]:
    return {"rule": item.rule, "at": [safe(a) for a in item.at], "reason": safe(item.reason)}


def _state(solution: Solution) -> dict[str, Any]:
    """A state; one that did not converge has its reason and no number at all."""
    if not solution.converged:
        return {
            "converged": False,
            "residual_a": None,
            "reason": safe(solution.reason),
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
            safe(p): _wave(solution.waves[net], off[net])
            for p, net in points.items()
            if net in solution.waves
        },
        "undefined": {
            safe(p): safe(solution.why_lost(net))
            for p, net in points.items()
            if net in solution.undefined and net not in solution.waves
        },
        "tubes": {safe(name): _reading(r) for name, r in solution.readings.items()},
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
