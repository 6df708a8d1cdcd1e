"""The JSON report, schema ``coldcheck.report/2``; ``report.schema.json`` beside it describes it.

Other programs build on it: a field keeps its name and meaning. Voltages are in volts to gnd,
``plate_v``, ``screen_v`` and ``grid_v`` to the cathode; other units are in the names.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coldcheck.report.review.json_worked import worked
from coldcheck.report.shared.json_sources import entries, places
from coldcheck.report.shared.json_values import number, safe, whole
from coldcheck.report.shared.plain import unheard

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from coldcheck.judge.figure import Figure
    from coldcheck.judge.finding import Finding, NotJudged
    from coldcheck.verdict.document.content import Level, Reading, StateTold, TransistorTold
    from coldcheck.verdict.ruling import Ruling

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


def render(rulings: Iterable[Ruling]) -> str:
    """Return the report on all drawings as JSON text (ASCII only, ends in a newline)."""
    every = list(rulings)
    report = {
        "schema": SCHEMA,
        "drawings": [drawing(r) for r in every],
        "sources": entries(c for r in every for c in r.document.cites),
    }
    return unheard(json.dumps(report, indent=2, allow_nan=False)) + "\n"


@lru_cache(maxsize=1)
def schema_text() -> str:
    """The JSON Schema (draft 2020-12) of the report."""
    return Path(__file__).with_name("report.schema.json").read_text(encoding="utf-8")


def drawing(ruling: Ruling) -> dict[str, Any]:
    """One entry of ``drawings``."""
    document = ruling.document
    return {
        "file": safe(document.file),
        "title": safe(document.title),
        "verdict": ruling.verdict.value,
        "findings": [_finding(f, document.file) for f in document.findings],
        "not_judged": [_not_judged(n) for n in document.not_judged],
        "heater_windings": [whole(asdict(w), leave=("remedy",)) for w in document.heater_windings],
        "states": {safe(name): _state(s) for name, s in document.states.items()},
        **worked(document),
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
        "cites": places(finding.cites),
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
    return {
        "rule": item.rule,
        "at": [safe(a) for a in item.at],
        "reason": safe(item.reason),
        "kind": item.kind.value,
    }


def _state(state: StateTold) -> dict[str, Any]:
    """A state; one that is not solved has its reason and no number at all."""
    return {
        "converged": state.solved,
        "residual_a": number(state.residual_a),
        "reason": None if state.solved else safe(state.reason),
        "points": {safe(p): _level(level) for p, level in state.points.items()},
        "undefined": {safe(p): safe(why) for p, why in state.undefined.items()},
        "tubes": {safe(name): _reading(r) for name, r in state.tubes.items()},
        "transistors": {safe(name): _transistor(t) for name, t in state.transistors.items()},
    }


def _transistor(told: TransistorTold) -> dict[str, Any]:
    return {
        "type": safe(told.type),
        "volts": number(told.volts),
        "ma": number(told.ma),
        "steering_v": number(told.steering_v),
        "watts": number(told.watts),
    }


def _level(level: Level) -> dict[str, float | None]:
    return {
        "dc": number(level.dc),
        "plus_minus": number(level.plus_minus),
        "ac_rms": number(level.ac_rms),
        "min": number(level.low),
        "max": number(level.high),
    }


def _reading(reading: Reading) -> dict[str, float | None]:
    worst = reading.heater_cathode_worst
    plain = {name: number(getattr(reading, name)) for name in _READINGS}
    return {**plain, "heater_cathode_peak": None if worst is None else number(abs(worst))}
