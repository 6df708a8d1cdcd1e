"""The voltage and resistance chart, and what is said of one point, as JSON.

Schema ``coldcheck.chart/1``. Ohms, volts, seconds, hertz; ``"infinite"`` stands for an open
circuit, ``null`` for what has no number.
"""

from __future__ import annotations

import json
from math import inf
from typing import TYPE_CHECKING, Any

from coldcheck.report.chart.words import CAUTION, OHMS_ARE, VOLTS_ARE, note_text, warnings
from coldcheck.report.shared.conditions import as_data
from coldcheck.report.shared.json_sources import entries, places

if TYPE_CHECKING:
    from coldcheck.bench.chart.expected import Band, Voltages
    from coldcheck.bench.chart.explain import Explanation
    from coldcheck.bench.chart.ohmmeter import Ohms
    from coldcheck.bench.chart.rows import Block, Chart, Note, Row
    from coldcheck.bench.instruments.against_earth import AgainstEarth
    from coldcheck.bench.instruments.clip import Clip
    from coldcheck.bench.instruments.clipped import Clipped, Unbiased
    from coldcheck.bench.instruments.measure import Shown
    from coldcheck.bench.instruments.scope import ScopeAdvice, View
    from coldcheck.bench.instruments.slips import Slips
    from coldcheck.judge.finding import Finding

SCHEMA = "coldcheck.chart/1"


def render(chart: Chart) -> str:
    """The whole chart."""
    return dumped(
        {
            "schema": SCHEMA,
            "file": chart.file,
            "title": chart.title,
            "state": chart.state,
            "not_solved": chart.reason or None,
            "live_common": chart.live,
            "conditions": as_data(chart.conditions),
            "warnings": warnings(chart),
            "blocks": [_block(block) for block in chart.blocks],
            "ohms_are": OHMS_ARE,
            "volts_are": VOLTS_ARE,
            "caution": CAUTION,
        }
    )


def render_point(found: Explanation) -> str:
    """What is said of one point, or of two."""
    return dumped(
        {
            "schema": SCHEMA,
            "file": found.file,
            "title": found.title,
            "state": found.state,
            "point": found.point,
            "measured_from": found.other,
            "same_wire": list(found.names),
            "ohms": _ohms(found.ohms),
            "volts": _volts(found.volts),
            "no_voltage": found.reason or None,
            "notes": [_note(note) for note in found.notes],
            "source_ohms": figure_of(found.source.dc),
            "source_ohms_at_mains": None
            if found.source.ac is None
            else figure_of(abs(found.source.ac)),
            "source_ohms_are": found.how,
            "meters": [_shown(shown) for shown in found.shown],
            "highest_to_gnd": figure_of(found.highest_to_gnd),
            "scopes": [_scope(advice) for advice in found.scopes],
            "two_channels": [_scope(advice) for advice in found.channels],
            "ground_clip": [_clip(clip) for clip in found.clips],
            "slips": _slips(found.slips),
            "clip_allowed": found.clip_there,
            "on_the_mains": found.mains,
            "against_earth": _earth(found.earth),
            "cycle_hz": found.frequency,
            "wave": None if found.wave is None else [figure_of(v) for v in found.wave.samples],
            "sources": entries(c for shown in found.shown for c in shown.instrument.cites),
            "caution": CAUTION,
        }
    )


def dumped(value: object) -> str:
    """A report's text; raises ValueError for a number that JSON does not have."""
    return json.dumps(value, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _block(block: Block) -> dict[str, Any]:
    rows = [_row(row) for row in block.rows]
    return {"kind": block.kind, "name": block.name, "what": block.what, "rows": rows}


def _row(row: Row) -> dict[str, Any]:
    return {
        "point": row.pin.point,
        "pin": row.pin.label,
        "lead": row.pin.lead,
        "wire": row.name,
        "unused": row.pin.use or None,
        "ohms": None if row.ohms is None else _ohms(row.ohms),
        "through": list(row.through),
        "volts": _volts(row.volts),
        "notes": [_note(note) for note in row.notes],
    }


def _note(note: Note) -> dict[str, Any]:
    figures = {"number": note.number, "low": note.low, "high": note.high}
    given = {name: figure_of(value) for name, value in figures.items() if value is not None}
    return {"kind": note.kind, "parts": list(note.names), **given, "text": note_text(note)}


def _ohms(ohms: Ohms) -> dict[str, Any]:
    values = {"nominal": ohms.nominal, "low": ohms.low, "high": ohms.high}
    return {name: figure_of(value) for name, value in values.items()}


def _volts(volts: Voltages | None) -> dict[str, Any] | None:
    if volts is None:
        return None
    return {
        "dc": _band(volts.dc),
        "ac_rms": _band(volts.ac),
        "pp": _band(volts.pp),
        "min": figure_of(volts.lowest),
        "max": figure_of(volts.highest),
    }


def _band(band: Band) -> dict[str, Any]:
    return {n: figure_of(getattr(band, n)) for n in ("value", "low", "high")}


def _category(shown: Shown) -> str | None:
    category = shown.instrument.category
    return None if category is None else str(category)


def _shown(shown: Shown) -> dict[str, Any]:
    return {
        "instrument": shown.instrument.name,
        "response": shown.instrument.response,
        "category": _category(shown),
        "shown": figure_of(shown.shown),
        "low": figure_of(shown.low),
        "high": figure_of(shown.high),
        "unloaded": figure_of(shown.unloaded),
        "input_ohms": figure_of(shown.ohms),
        "range": figure_of(shown.range),
        "peak_at_input": figure_of(shown.peak),
        "rms_at_input": figure_of(shown.rms),
        "beyond": list(shown.over),
        "loading_known": shown.loading_known,
        "source": shown.instrument.source,
        "cites": places(shown.instrument.cites),
        "confidence": shown.instrument.confidence,
    }


def _earth(earth: AgainstEarth | None) -> dict[str, Any] | None:
    """Highest instants, volts: the neutral at earth, as drawn, and the line there."""
    if earth is None:
        return None
    return {"neutral_earthed": figure_of(earth.as_drawn), "line_earthed": figure_of(earth.turned)}


def _scope(advice: ScopeAdvice) -> dict[str, Any]:
    return {
        "instrument": advice.scope.name,
        "dc_coupled": _view(advice.dc),
        "ac_coupled": _view(advice.ac),
        "ac_coupling_needed": advice.ac_needed,
        "corner_hz": figure_of(advice.corner_hz),
    }


def _view(view: View) -> dict[str, Any]:
    return {
        "probe": figure_of(view.probe.attenuation),
        "volts_per_division": figure_of(view.per_division),
        "divisions": figure_of(view.divisions),
        "ripple_divisions": figure_of(view.ripple_divisions),
        "tip_volts": figure_of(view.tip_volts),
        "input_volts": figure_of(view.input_volts),
        "beyond": list(view.over),
    }


def _clip(clip: Clip) -> dict[str, Any]:
    done = clip.clipped
    return {
        "at": clip.net,
        "kind": clip.kind.value,
        "allowed": clip.allowed,
        **_solved(done),
        "discharges": list(clip.discharges),
        "not_worked_out": (clip.reason if done is None else done.reason) or None,
    }


def _slips(slips: Slips) -> dict[str, Any]:
    """Bridges from the point, the worst first; places without harm, and without an answer."""
    return {
        "beyond_limits": [{"to": s.to, "net": s.net, **_solved(s.done)} for s in slips.harmful],
        "within_limits": list(slips.quiet),
        "mains_without_earth": list(slips.mains),
        "not_worked_out": [{"to": to, "reason": why} for to, why in slips.unknown],
        "not_solved": list(slips.left_out),
    }


def _solved(done: Clipped | None) -> dict[str, Any]:
    """The circuit with two points joined."""
    return {
        "dc_amps": None if done is None else figure_of(done.dc_amps),
        "ac_amps": None if done is None else figure_of(done.ac_amps),
        "takes_bias_from": [] if done is None else [_unbiased(u) for u in done.unbiased],
        "exceeds": [] if done is None else [_exceeded(x) for x in done.findings],
        "fuses": [] if done is None else [{"at": b.name, "times": b.times} for b in done.fuses],
    }


def _unbiased(lost: Unbiased) -> dict[str, Any]:
    before, after = figure_of(lost.before), figure_of(lost.after)
    drawn = figure_of(lost.plate_ma)
    return {
        "at": lost.section,
        "grid_v": before,
        "grid_v_clipped": after,
        "plate_ma_clipped": drawn,
    }


def _exceeded(finding: Finding) -> dict[str, Any]:
    return {"rule": finding.rule, "at": list(finding.at), "message": finding.message}


def figure_of(value: float | None) -> float | str | None:
    """Six figures; an open circuit in words, since JSON has no infinity."""
    if value is None:
        return None
    if value == inf:
        return "infinite"
    return 0.0 if abs(value) < 1e-9 else float(f"{value:.6g}")
