"""Parts of the JSON report beyond the states: ``signal``, ``off`` and ``warm_up``.

Each is left out where there is nothing to say: no ``signal`` source, an unreadable drawing.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from coldcheck.report.shared.json_values import number, safe, whole

if TYPE_CHECKING:
    from coldcheck.verdict.document.content import (
        Document,
        Gain,
        HumTold,
        OffTold,
        OutputTold,
        PeakTold,
        SignalTold,
        SourceTold,
        StageTold,
        WarmUpTold,
    )


def worked(document: Document) -> dict[str, Any]:
    """The optional members of a drawing that are worked out beyond its states."""
    found: dict[str, Any] = {}
    if document.signal is not None:
        found["signal"] = _signal(document.signal)
    if document.off is not None:
        found["off"] = _off(document.off)
    if document.warm_up is not None:
        found["warm_up"] = _warm_up(document.warm_up)
    return found


def _signal(signal: SignalTold) -> dict[str, Any]:
    return {
        "solved": signal.solved,
        "reason": None if signal.solved else safe(signal.reason),
        "sources": [_source(s, signal) for s in signal.sources],
        "unused": whole(signal.unused),
        "assumed_primary_h": whole(signal.assumed_primary_h),
    }


def _source(source: SourceTold, signal: SignalTold) -> dict[str, Any]:
    return {
        "source": safe(source.source),
        "volts_rms": number(source.volts_rms),
        "frequency_hz": number(source.frequency_hz),
        "limited_by": None if source.limited_by is None else safe(source.limited_by),
        "overdriven": source.overdriven,
        "stages": [_stage(s) for s in source.stages],
        "outputs": [_output(o, signal.assumed_leakage_ohm) for o in source.outputs],
    }


def _stage(stage: StageTold) -> dict[str, Any]:
    return {
        "section": safe(stage.section),
        "input": stage.input,
        "output": stage.output,
        **_gain(stage.gain),
        "output_ohm": number(stage.output_ohm),
        "plate_swing_peak_v": number(stage.plate_swing_peak_v),
        "cathode_swing_peak_v": number(stage.cathode_swing_peak_v),
        "overdriven": stage.overdriven,
        "limits": whole([asdict(bound) for bound in stage.limits]),
    }


def _gain(gain: Gain) -> dict[str, float | None]:
    return {
        "gain": number(gain.gain),
        "gain_db": number(gain.gain_db),
        "low_corner_hz": number(gain.low_corner_hz),
        "high_corner_drawn_parts_hz": number(gain.high_corner_hz),
    }


def _output(output: OutputTold, leakage_ohm: float) -> dict[str, Any]:
    return {
        "name": safe(output.name),
        **_gain(output.gain),
        "output_ohm": number(output.output_ohm),
        "load_ohm": number(output.load_ohm),
        "volts_rms": number(output.volts_rms),
        "most_rms_v": number(output.most_rms_v),
        "watts": number(output.watts),
        "damping": number(output.damping),
        "hum": None if output.hum is None else _hum(output.hum, leakage_ohm),
    }


def _hum(hum: HumTold, leakage_ohm: float) -> dict[str, float | None]:
    return {
        "ripple_rms_v": number(hum.ripple_rms_v),
        "ripple_below_signal_db": number(hum.ripple_below_signal_db),
        "assumed_leakage_ohm": leakage_ohm,
        "leakage_rms_v": number(hum.leakage_rms_v),
        "leakage_below_signal_db": number(hum.leakage_below_signal_db),
    }


def _off(off: OffTold) -> dict[str, Any]:
    return {
        "touch_v": off.touch_v,
        "guard_v": off.guard_v,
        "reason": safe(off.reason) or None,
        "not_timed": whole(off.not_timed),
        "positions": [whole(asdict(p)) for p in off.positions],
    }


def _warm_up(way: WarmUpTold) -> dict[str, Any]:
    return {
        "steps": whole(way.steps),
        "not_solved": whole(way.not_solved),
        "capacitors": _peaks(way.capacitors),
        "heater_cathode": _peaks(way.heater_cathode),
        "grid_cathode": _peaks(way.grid_cathode),
    }


def _peaks(peaks: tuple[PeakTold, ...]) -> dict[str, Any]:
    return {
        safe(p.at): {
            "highest_v": number(p.highest_v),
            "warm_v": number(p.warm_v),
            "state": safe(p.state),
        }
        for p in peaks
    }
