"""The signal stage by stage, its outputs, and the hum there."""

from __future__ import annotations

from math import log10, sqrt
from typing import TYPE_CHECKING

from coldcheck.solve.signal.hum import LEAKAGE_OHM
from coldcheck.solve.signal.sweep import NOTHING, SWEEP_FROM
from coldcheck.verdict.document.content import (
    Bound,
    Gain,
    HumTold,
    OutputTold,
    SignalTold,
    SourceTold,
    StageTold,
)
from coldcheck.verdict.document.digits import rounded

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from coldcheck.solve.signal.hum import Hum
    from coldcheck.solve.signal.results import Driven, Output, SignalSolution, Stage
    from coldcheck.solve.signal.sweep import Sweep


def signal_told(signal: SignalSolution, hums: Iterable[Hum]) -> SignalTold:
    """What each source drives, or why there are no numbers."""
    by_output = {h.output: h for h in hums}
    return SignalTold(
        signal.solved,
        "" if signal.solved else signal.reason,
        tuple(_source(d, by_output) for d in signal.sources.values()),
        dict(signal.unused),
        {name: rounded(henry) for name, henry in signal.assumed.items()},
        LEAKAGE_OHM,
        SWEEP_FROM,
    )


def _source(driven: Driven, hums: Mapping[str, Hum]) -> SourceTold:
    return SourceTold(
        driven.source,
        rounded(driven.volts),
        rounded(driven.frequency),
        driven.first,
        driven.overdriven,
        tuple(map(_stage, driven.stages)),
        tuple(_output(o, hums.get(o.name)) for o in driven.outputs),
    )


def _stage(stage: Stage) -> StageTold:
    per_peak = abs(stage.cathode if stage.output == "cathode" else stage.plate) / sqrt(2)
    most = stage.limits[0].source_peak if stage.limits else None
    return StageTold(
        section=stage.section,
        input=stage.input,
        output=stage.output,
        gain=_gain(stage.gain),
        output_ohm=rounded(abs(stage.ohm)),
        plate_swing_peak_v=rounded(stage.plate_swing),
        cathode_swing_peak_v=rounded(stage.cathode_swing),
        overdriven=stage.overdriven,
        volts_rms=rounded(per_peak * stage.source_peak),
        most_rms_v=None if most is None else rounded(per_peak * most),
        limits=tuple(Bound(x.cause, rounded(x.source_peak / sqrt(2))) for x in stage.limits),
    )


def _gain(sweep: Sweep) -> Gain:
    gain = abs(sweep.mid)
    return Gain(
        rounded(gain),
        rounded(20 * log10(gain)) if gain > NOTHING else None,
        rounded(sweep.low_corner),
        rounded(sweep.high_corner),
    )


def _output(output: Output, hum: Hum | None) -> OutputTold:
    most = None if output.undistorted is None else output.undistorted / sqrt(2)
    at_most = None if most is None or output.load is None else most**2 / (output.load or 1.0)
    return OutputTold(
        name=output.name,
        gain=_gain(output.gain),
        output_ohm=rounded(abs(output.impedance.mid)),
        load_ohm=rounded(output.load),
        volts_rms=rounded(output.volts),
        most_rms_v=rounded(most),
        watts=rounded(output.watts),
        watts_at_most=rounded(at_most),
        damping=rounded(output.damping),
        hum=None if hum is None else hum_told(hum),
    )


def hum_told(hum: Hum) -> HumTold:
    """The hum at one output."""
    worst = max(hum.leakage, key=hum.leakage.__getitem__) if hum.leakage else ""
    return HumTold(
        rounded(hum.ripple),
        rounded(hum.below_signal_db),
        rounded(sum(hum.leakage.values())),
        rounded(hum.leakage_below_signal_db),
        worst,
        bool(hum.signal),
    )
