"""Parts of the JSON report beyond the states: ``signal``, ``off`` and ``warm_up``.

Each is left out where there is nothing to say: no ``signal`` source, an unreadable drawing.
"""

from __future__ import annotations

from math import log10, sqrt
from typing import TYPE_CHECKING, Any

from coldcheck.report.review.warming import when_warm
from coldcheck.report.shared.json_values import number, safe
from coldcheck.solve.off.discharge import GUARD_V, TOUCH_V
from coldcheck.solve.signal.hum import LEAKAGE_OHM
from coldcheck.solve.signal.sweep import NOTHING
from coldcheck.solve.solution import WARM

if TYPE_CHECKING:
    from collections.abc import Iterable

    from coldcheck.solve.off.discharge import Decay
    from coldcheck.solve.off.off_state import NetDecay, OffState
    from coldcheck.solve.signal.hum import Hum
    from coldcheck.solve.signal.results import Driven, Output, SignalSolution, Stage
    from coldcheck.solve.signal.sweep import Sweep
    from coldcheck.solve.warmup import Peak
    from coldcheck.verdict.review import Review


def worked(review: Review) -> dict[str, Any]:
    """The optional members of a drawing that are worked out beyond its states."""
    if review.worked is None or review.circuit is None:
        return {}
    signal = review.worked.signal()
    found = {} if signal is None else {"signal": _signal(signal, review.worked.hum())}
    return {**found, "off": _off(review.worked.off()), "warm_up": _warm_up(review)}


def _signal(signal: SignalSolution, hums: Iterable[Hum]) -> dict[str, Any]:
    by_output = {h.output: h for h in hums}
    return {
        "solved": signal.solved,
        "reason": None if signal.solved else safe(signal.reason),
        "sources": [_source(d, by_output) for d in signal.sources.values()],
        "unused": {safe(k): safe(v) for k, v in signal.unused.items()},
        "assumed_primary_h": {safe(k): number(v) for k, v in signal.assumed.items()},
    }


def _source(driven: Driven, hums: dict[str, Hum]) -> dict[str, Any]:
    return {
        "source": safe(driven.source),
        "volts_rms": number(driven.volts),
        "frequency_hz": number(driven.frequency),
        "limited_by": None if driven.first is None else safe(driven.first),
        "overdriven": driven.overdriven,
        "stages": [_stage(s) for s in driven.stages],
        "outputs": [_output(o, hums.get(o.name)) for o in driven.outputs],
    }


def _stage(stage: Stage) -> dict[str, Any]:
    return {
        "section": safe(stage.section),
        "input": stage.input,
        "output": stage.output,
        **_gain(stage.gain),
        "output_ohm": number(abs(stage.ohm)),
        "plate_swing_peak_v": number(stage.plate_swing),
        "cathode_swing_peak_v": number(stage.cathode_swing),
        "overdriven": stage.overdriven,
        "limits": [
            {"cause": x.cause, "source_rms_v": number(x.source_peak / sqrt(2))}
            for x in stage.limits
        ],
    }


def _gain(sweep: Sweep) -> dict[str, float | None]:
    gain = abs(sweep.mid)
    return {
        "gain": number(gain),
        "gain_db": number(20 * log10(gain)) if gain > NOTHING else None,
        "low_corner_hz": number(sweep.low_corner),
        "high_corner_drawn_parts_hz": number(sweep.high_corner),
    }


def _output(output: Output, hum: Hum | None) -> dict[str, Any]:
    most = output.undistorted
    return {
        "name": safe(output.name),
        **_gain(output.gain),
        "output_ohm": number(abs(output.impedance.mid)),
        "load_ohm": number(output.load),
        "volts_rms": number(output.volts),
        "most_rms_v": None if most is None else number(most / sqrt(2)),
        "watts": number(output.watts),
        "damping": number(output.damping),
        "hum": None if hum is None else _hum(hum),
    }


def _hum(hum: Hum) -> dict[str, float | None]:
    return {
        "ripple_rms_v": number(hum.ripple),
        "ripple_below_signal_db": number(hum.below_signal_db),
        "assumed_leakage_ohm": LEAKAGE_OHM,
        "leakage_rms_v": number(sum(hum.leakage.values())),
        "leakage_below_signal_db": number(hum.leakage_below_signal_db),
    }


def _off(off: OffState) -> dict[str, Any]:
    return {
        "touch_v": TOUCH_V,
        "guard_v": GUARD_V,
        "reason": safe(off.unsolved) or None,
        "not_timed": [safe(n) for n in off.unvalued],
        "positions": [
            {
                "thrown": [safe(s) for s in p.thrown],
                "capacitors": [_capacitor(d) for d in p.capacitors],
                "points": [_point(n) for n in p.nets],
            }
            for p in off.positions
        ],
    }


def _capacitor(decay: Decay) -> dict[str, Any]:
    return {
        "capacitor": safe(decay.capacitor.name),
        "volts": number(abs(decay.volts)),
        "joules": number(decay.joules, 3),
        "seconds": number(decay.seconds, 4),
        "guard_seconds": number(decay.guard_seconds, 4),
        "charged_in": safe(decay.charged_in),
        "drained_through": [safe(n) for n in decay.drained_by],
        "perhaps_drained_through": [safe(n) for n in decay.undrawn],
    }


def _point(net: NetDecay) -> dict[str, Any]:
    return {
        "point": safe(net.net),
        "volts": number(net.volts),
        "seconds": number(net.seconds, 4),
        "guard_seconds": number(net.guard_seconds, 4),
        "charged_in": safe(net.charged_in),
    }


def _warm_up(review: Review) -> dict[str, Any]:
    assert review.worked is not None
    assert review.circuit is not None
    way = review.worked.warm_up()
    warm = when_warm(review.circuit, review.solutions.get(WARM))
    return {
        "steps": [safe(s) for s in way.steps],
        "not_solved": [safe(s) for s in way.missing],
        "capacitors": _peaks(way.capacitors, warm.capacitors),
        "heater_cathode": _peaks(way.heaters, warm.heaters),
        "grid_cathode": _peaks(way.grids, warm.grids),
    }


def _peaks(way: Iterable[Peak], warm: Iterable[Peak]) -> dict[str, Any]:
    known = {p.at: p.volts for p in warm}
    return {
        safe(p.at): {
            "highest_v": number(p.volts),
            "warm_v": number(known.get(p.at)),
            "state": safe(p.state),
        }
        for p in way
    }
