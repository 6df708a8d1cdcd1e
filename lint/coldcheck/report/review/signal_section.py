"""The signal: gains, swings and corners stage by stage, and the hum."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.drawing.units import engineering
from coldcheck.report.shared.blocks import Note, Section, Table
from coldcheck.report.shared.numbers import NONE
from coldcheck.report.shared.plain import listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.verdict.document.content import (
        Gain,
        HumTold,
        OutputTold,
        SignalTold,
        SourceTold,
        StageTold,
    )

HEADINGS = ("stage", "gain", "dB", "low Hz", "ohm", "V rms", "at most", "ends in")
BOTTOMED = "plate at its cathode"
ENDS = {BOTTOMED: "plate low"}
"""What bounds a swing, short enough for a column, where its own words are not."""

BALANCED_DB = 120.0
"""Hum further down than this is two equal halves cancelling on paper, not a figure."""

NOTE = (
    "gain of each stage at 1 kHz as it works here, the whole last; ohm: seen there, without the "
    "speaker; at most: where a limit is reached, a small-signal estimate (distortion is plain from "
    "three quarters of it on)"
)
PLATE_LOW = "plate low: the plate down at its cathode; a pentode stops short of that"
HIGH = "capacitance in tubes and wiring and leakage inductance are not on file"


def signal_sections(signal: SignalTold) -> Iterator[Section]:
    """A section for each signal source; what holds for all of them stands under the last."""
    if not signal.solved:
        yield Section("Signal", (Note(f"not worked out: {signal.reason}"),))
        return
    common = tuple(map(Note, _notes(signal)))
    last = len(signal.sources) - 1
    for number, source in enumerate(signal.sources):
        explained = (Note(NOTE),) if number == 0 else ()
        notes = map(Note, _source_lines(source))
        blocks = (_table(source, signal), *explained, *notes, *(common if number == last else ()))
        yield Section(_title(source), blocks)
    if not signal.sources and common:
        yield Section("Signal", common)


def _title(source: SourceTold) -> str:
    at, volts = engineering(source.frequency_hz, "Hz", 3), engineering(source.volts_rms, "V", 3)
    return f"Signal, warm: {volts} at {source.source}, {at}"


def _table(source: SourceTold, signal: SignalTold) -> Table:
    lowest = signal.swept_from_hz
    stages = tuple(_stage_row(s, lowest) for s in source.stages)
    outputs = tuple(_output_row(o, source, lowest) for o in source.outputs)
    return Table(HEADINGS, stages + outputs, frozenset({0, len(HEADINGS) - 1}))


def _stage_row(stage: StageTold, lowest: float) -> tuple[str, ...]:
    return (
        f"{stage.section}.{stage.output}",
        *_gain(stage.gain, lowest),
        _ohm(stage.output_ohm),
        f"{stage.volts_rms:.3g}",
        NONE if stage.most_rms_v is None else f"{stage.most_rms_v:.3g}",
        _end(stage.limits[0].cause) if stage.limits else "",
    )


def _output_row(output: OutputTold, source: SourceTold, lowest: float) -> tuple[str, ...]:
    return (
        f"{source.source} to {output.name}",
        *_gain(output.gain, lowest),
        _ohm(output.output_ohm),
        f"{output.volts_rms:.3g}",
        NONE if output.most_rms_v is None else f"{output.most_rms_v:.3g}",
        "" if source.limited_by is None else f"{source.limited_by} first",
    )


def _end(cause: str) -> str:
    return ENDS.get(cause, cause)


def _gain(gain: Gain, lowest: float) -> tuple[str, str, str]:
    """Mid-band gain as a ratio and in decibels, and the low corner in hertz."""
    if gain.gain_db is None:
        return "0", NONE, NONE
    decibels = f"{gain.gain_db:.1f}".replace("-0.0", "0.0")
    corner = gain.low_corner_hz
    return f"{gain.gain:.3g}", decibels, f"< {lowest:.0f}" if corner is None else f"{corner:.2g}"


def _ohm(ohms: float) -> str:
    """Ohms for a column headed so: ``37.5k``."""
    return engineering(ohms, "ohm", 3).replace("ohm", "").replace(" ", "")


def _source_lines(source: SourceTold) -> Iterator[str]:
    """What the table cannot say: where it clips, the power, and corners from above."""
    if any(s.limits and s.limits[0].cause == BOTTOMED for s in source.stages):
        yield PLATE_LOW
    first = next((s for s in source.stages if s.section == source.limited_by), None)
    if first is not None:
        yield _limit_line(source, first)
    for output in source.outputs:
        if output.watts is not None:
            yield _power_line(output, overdriven=source.overdriven)
    gains = [(s.section, s.gain) for s in source.stages]
    gains += [(o.name, o.gain) for o in source.outputs]
    high = [(n, g.high_corner_hz) for n, g in gains if g.gain_db is not None]
    corners = [f"{n} {engineering(f, 'Hz', 3)}" for n, f in high if f is not None]
    if corners:
        yield f"high corner, of the drawn parts only: {listed(corners)}; lower in truth: {HIGH}"


def _limit_line(source: SourceTold, first: StageTold) -> str:
    limit = first.limits[0]
    reached, word = engineering(limit.source_rms_v, "V", 2), _end(limit.cause)
    said = f"{first.section} is the first at its limit ({word}), at {reached} from {source.source}"
    if source.overdriven:
        said += ": the stated signal is more than that, so the volts beyond are clipped"
    return said


def _power_line(output: OutputTold, *, overdriven: bool) -> str:
    """Watts at the stated signal, and at the first limit; what is clipped is not boasted of."""
    stated = engineering(output.watts or 0.0, "W", 2)
    limit = engineering(output.watts_at_most or 0.0, "W", 2)
    if output.watts_at_most is None:
        said = f"{stated} at the stated signal"
    elif overdriven:
        said = f"{limit} at the first stage's limit (small-signal estimate as stated: {stated})"
    else:
        said = f"{stated} at the stated signal, {limit} at the first stage's limit"
    if output.damping is not None:
        said += f"; damping factor {output.damping:.2g}"
    return f"{output.name}: {said}"


def _notes(signal: SignalTold) -> Iterator[str]:
    outputs = [o for source in signal.sources for o in source.outputs]
    gains = [s.gain for source in signal.sources for s in source.stages]
    gains += [o.gain for o in outputs]
    if all(g.high_corner_hz is None for g in gains):
        yield f"high corner: not judged; the drawn parts make none: {HIGH}"
    for name, henry in signal.assumed_primary_h.items():
        at = engineering(henry, "H", 2)
        yield f"low corner: {name} was taken to have {at} at its primary; it is not written"
    for source, reason in signal.unused.items():
        yield f"{source} drives nothing: {reason}"
    for name, hum in {o.name: o.hum for o in outputs}.items():
        if hum is not None:
            yield hum_line(name, hum, signal.assumed_leakage_ohm)


def hum_line(output: str, hum: HumTold, leakage_ohm: float) -> str:
    """Hum at an output in a sentence: ripple, and what an assumed heater leak would add."""
    said = f"hum at {output}: {_ripple(hum)}"
    if hum.leakage_below_signal_db is None:
        return said
    leak, total = engineering(leakage_ohm, "ohm", 2), engineering(hum.leakage_rms_v, "V", 2)
    return (
        f"{said}; {total} ({_below(hum.leakage_below_signal_db)} it), most through "
        f"{hum.most_through}, if every heater leaks {leak} to its cathode (an assumption)"
    )


def _ripple(hum: HumTold) -> str:
    if hum.ripple_rms_v is None:
        return "ripple not judged"
    ripple = engineering(hum.ripple_rms_v, "V", 2)
    if not hum.compared:
        return f"{ripple} of ripple; no signal arrives to compare it with"
    if hum.ripple_below_signal_db is None or hum.ripple_below_signal_db > BALANCED_DB:
        return "ripple cancels on paper; the halves of a real pair are never that equal"
    return f"{ripple} of ripple, {_below(hum.ripple_below_signal_db)} the signal"


def _below(decibels: float) -> str:
    return f"{decibels:.0f} dB below" if decibels >= 0 else f"{-decibels:.0f} dB above"
