"""The power-up plan as JSON.

Schema ``coldcheck.plan/1``. Ohms, volts, watts, amperes, seconds; ``"infinite"`` stands for an
open circuit or a charge that never goes, ``null`` for what has no number or no limit.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from coldcheck.report.chart.json import dumped
from coldcheck.report.chart.json import figure_of as _figure
from coldcheck.report.plan.words import CAUTION
from coldcheck.report.shared.conditions import as_data

if TYPE_CHECKING:
    from collections.abc import Iterable

    from coldcheck.bench.plan.model import Caution, Charge, Check, Limiter, Plan, Step
    from coldcheck.judge.finding import Finding

SCHEMA = "coldcheck.plan/1"


def render(plan: Plan) -> str:
    """The whole plan."""
    return dumped(
        {
            "schema": SCHEMA,
            "file": plan.file,
            "title": plan.title,
            "conditions": as_data(plan.conditions),
            "live_common": plan.live,
            "withheld": plan.withheld or None,
            "blocking": [_finding(f) for f in plan.blocking],
            "to_settle": [_finding(f) for f in plan.notices],
            "accepted": [_finding(f) for f in plan.accepted],
            "cautions": _cautions(plan.cautions),
            "lamp": _lamp(plan.limiter),
            "steps": [_step(number, step) for number, step in enumerate(plan.steps, 1)],
            "charged_after_switch_off": [_charge(c) for c in plan.charges],
            "assumptions": list(plan.assumptions),
            "caution": CAUTION,
        }
    )


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "rule": finding.rule,
        "level": finding.level,
        "at": list(finding.at),
        "line": finding.span.line,
        "message": finding.message,
        "accepted": finding.accepted,
    }


def _cautions(cautions: Iterable[Caution]) -> list[dict[str, str]]:
    return [{"word": c.level, "text": c.text} for c in cautions]


def _lamp(limiter: Limiter | None) -> dict[str, Any] | None:
    if limiter is None:
        return None
    return {
        "watts": _figure(limiter.lamp),
        "mains_volts": _figure(limiter.volts),
        "set_watts": _figure(limiter.watts),
        "set_amps": _figure(limiter.amps),
        "share_left": _figure(limiter.share),
        "amps_if_shorted": _figure(limiter.shorted),
    }


def _step(number: int, step: Step) -> dict[str, Any]:
    return {
        "number": number,
        "key": step.key,
        "title": step.title,
        "power": step.power,
        "cautions": _cautions(step.cautions),
        "do": list(step.do),
        "checks": [_check(c) for c in step.checks],
        "missing": list(step.missing),
        "not_shown_by_these": [f.name for f in step.unseen],
    }


def _check(check: Check) -> dict[str, Any]:
    figures = ("expected", "low", "high", "stop_below", "stop_above")
    return {
        "point": check.point,
        "other": check.other,
        "instrument": check.instrument,
        "unit": check.unit,
        "mains_volts": _figure(check.mains),
        **{name: _figure(getattr(check, name)) for name in figures},
        "why": check.why,
        "note": check.note,
        "shows": [
            {"fault": c.fault.name, "low": _figure(c.low), "high": _figure(c.high)}
            for c in check.catches
        ],
    }


def _charge(charge: Charge) -> dict[str, Any]:
    return {
        "capacitor": charge.capacitor,
        "point": charge.plus,
        "other": charge.minus,
        "volts": _figure(charge.volts),
        "joules": _figure(charge.joules),
        "seconds_to_60_v": _figure(charge.seconds),
        "seconds_low": _figure(charge.low),
        "seconds_high": _figure(charge.high),
        "through": list(charge.through),
        "perhaps_through": list(charge.perhaps),
        "charged_in": charge.state,
        "thrown": list(charge.thrown),
    }
