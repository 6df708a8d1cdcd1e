"""The signal in a text report: gains, swings and corners stage by stage, and the hum."""

from __future__ import annotations

from math import log10, sqrt
from typing import TYPE_CHECKING

from rich.text import Text

from coldcheck.drawing.units import engineering
from coldcheck.report.shared.lines import columns, paragraph, say, show
from coldcheck.report.shared.plain import clean, listed
from coldcheck.solve.signal.hum import LEAKAGE_OHM
from coldcheck.solve.signal.results import BOTTOMED, CUT_OFF, GRID_CURRENT
from coldcheck.solve.signal.sweep import NOTHING, SWEEP_FROM

if TYPE_CHECKING:
    from collections.abc import Iterator

    from rich.console import Console

    from coldcheck.solve.signal.hum import Hum
    from coldcheck.solve.signal.results import Driven, Output, SignalSolution, Stage
    from coldcheck.solve.signal.sweep import Sweep
    from coldcheck.verdict.review import Review

HEADINGS = ("", "gain", "dB", "low Hz", "ohm", "V rms", "at most", "ends in")
ENDS = {CUT_OFF: "cut-off", GRID_CURRENT: "grid current", BOTTOMED: "plate low"}
"""What bounds a swing, short enough for a column."""

BALANCED_DB = 120.0
"""Hum further down than this is two equal halves cancelling on paper, not a figure."""

NOTE = (
    "gain of each stage at 1 kHz as it works here, the whole last; ohm: seen there, without the "
    "speaker; at most: where a limit is reached by straight lines (distortion is plain from three "
    "quarters of it on)"
)
PLATE_LOW = "plate low: the plate down at its cathode; a pentode stops short of that"
HIGH = "capacitance in tubes and wiring and leakage inductance are not on file"
_NONE = "–"


def print_signal(console: Console, review: Review) -> None:
    """Print a table for each signal source; nothing for a drawing without one."""
    signal = review.worked.signal() if review.worked is not None else None
    if signal is None:
        return
    if not signal.solved:
        say(console)
        say(console, "Signal", "bold")
        paragraph(console, f"not worked out: {clean(signal.reason)}", 2)
        return
    for number, driven in enumerate(signal.sources.values()):
        _print_driven(console, driven, explain=number == 0)
    hums = review.worked.hum() if review.worked is not None else ()
    for line in _notes(signal, hums):
        paragraph(console, line, 2)


def _print_driven(console: Console, driven: Driven, *, explain: bool) -> None:
    table = columns(*HEADINGS[:-1])
    table.add_column(HEADINGS[-1], no_wrap=True)
    for stage in driven.stages:
        table.add_row(*_stage_row(stage))
    for output in driven.outputs:
        table.add_row(*_output_row(output, driven))
    say(console)
    at = engineering(driven.frequency, "Hz", 3)
    volts = engineering(driven.volts, "V", 3)
    say(console, f"Signal, warm: {volts} at {clean(driven.source)}, {at}", "bold")
    show(console, table)
    if explain:
        paragraph(console, NOTE, 2)
    for line in _driven_lines(driven):
        paragraph(console, line, 2)


def _stage_row(stage: Stage) -> tuple[str | Text, ...]:
    most = stage.limits[0].source_peak if stage.limits else None
    share = abs(stage.cathode if stage.output == "cathode" else stage.plate) / sqrt(2)
    return (
        Text(clean(f"{stage.section} {stage.output}")),
        *gain_texts(stage.gain),
        low_text(stage.gain),
        ohm_text(abs(stage.ohm)),
        f"{share * stage.source_peak:.3g}",
        _NONE if most is None else f"{share * most:.3g}",
        "" if not stage.limits else ENDS.get(stage.limits[0].cause, stage.limits[0].cause),
    )


def _output_row(output: Output, driven: Driven) -> tuple[str | Text, ...]:
    most = output.undistorted
    return (
        Text(clean(output.name)),
        *gain_texts(output.gain),
        low_text(output.gain),
        ohm_text(abs(output.impedance.mid)),
        f"{output.volts:.3g}",
        _NONE if most is None else f"{most / sqrt(2):.3g}",
        "" if driven.first is None else clean(f"{driven.first} first"),
    )


def gain_texts(sweep: Sweep) -> tuple[str, str]:
    """Mid-band gain as a ratio and in decibels."""
    gain = abs(sweep.mid)
    if gain < NOTHING:
        return "0", _NONE
    return f"{gain:.3g}", f"{20 * log10(gain):.1f}".replace("-0.0", "0.0")


def low_text(sweep: Sweep) -> str:
    """The low corner in hertz, or that it lies below what was looked at."""
    if abs(sweep.mid) < NOTHING:
        return _NONE
    corner = sweep.low_corner
    return f"< {SWEEP_FROM:.0f}" if corner is None else f"{corner:.2g}"


def ohm_text(ohms: float) -> str:
    """Ohms for a column headed so: ``37.5k``."""
    return engineering(ohms, "ohm", 3).replace("ohm", "").replace(" ", "")


def _driven_lines(driven: Driven) -> Iterator[str]:
    """What the table cannot say: where it clips, the power, and corners from above."""
    if any(s.limits and s.limits[0].cause == BOTTOMED for s in driven.stages):
        yield PLATE_LOW
    stages = {s.section: s for s in driven.stages}
    if driven.first is not None:
        yield clean(_limit_line(driven, stages[driven.first]))
    for output in driven.outputs:
        if output.watts is not None:
            yield clean(_power_line(output, overdriven=driven.overdriven))
    sweeps = [(s.section, s.gain) for s in driven.stages]
    sweeps += [(o.name, o.gain) for o in driven.outputs]
    high = [(n, s.high_corner) for n, s in sweeps if abs(s.mid) > NOTHING]
    corners = [f"{n} {engineering(f, 'Hz', 3)}" for n, f in high if f is not None]
    if corners:
        yield clean(
            f"high corner, of the drawn parts only: {listed(corners)}; lower in truth: {HIGH}"
        )


def _limit_line(driven: Driven, first: Stage) -> str:
    limit = first.limits[0]
    reached = engineering(limit.source_peak / sqrt(2), "V", 2)
    word = ENDS.get(limit.cause, limit.cause)
    said = f"{first.section} is the first at its limit ({word}), at {reached} from {driven.source}"
    if driven.overdriven:
        said += ": the stated signal is more than that, so the volts beyond are clipped"
    return said


def _power_line(output: Output, *, overdriven: bool) -> str:
    """Watts at the stated signal, and at the first limit; what is clipped is not boasted of."""
    stated, most = _watts(output.volts, output), output.undistorted
    if most is None:
        said = f"{stated} at the stated signal"
    elif overdriven:
        limit = _watts(most / sqrt(2), output)
        said = f"{limit} at the first stage's limit (by straight lines {stated} as stated)"
    else:
        limit = _watts(most / sqrt(2), output)
        said = f"{stated} at the stated signal, {limit} at the first stage's limit"
    if output.damping is not None:
        said += f"; damping factor {output.damping:.2g}"
    return f"{output.name}: {said}"


def _watts(volts: float, output: Output) -> str:
    return engineering(volts**2 / (output.load or 1.0), "W", 2)


def _notes(signal: SignalSolution, hums: tuple[Hum, ...]) -> Iterator[str]:
    driven = signal.sources.values()
    sweeps = [s.gain for d in driven for s in d.stages] + [
        o.gain for d in driven for o in d.outputs
    ]
    if all(s.high_corner is None for s in sweeps):
        yield f"high corner: not judged; the drawn parts make none: {HIGH}"
    for name, henry in signal.assumed.items():
        at = engineering(henry, "H", 2)
        yield clean(f"low corner: {name} was taken to have {at} at its primary; it is not written")
    for source, reason in signal.unused.items():
        yield clean(f"{source} drives nothing: {reason}")
    for found in hums:
        yield clean(hum_line(found))


def hum_line(hum: Hum) -> str:
    """Hum at an output in a sentence: ripple, and what an assumed heater leak would add."""
    said = f"hum at {hum.output}: "
    if hum.ripple is None:
        said += "ripple not judged"
    elif not hum.signal:
        said += f"{_small(hum.ripple)} of ripple; no signal arrives to compare it with"
    elif hum.below_signal_db is None or hum.below_signal_db > BALANCED_DB:
        said += "ripple cancels on paper; the halves of a real pair are never that equal"
    else:
        said += f"{_small(hum.ripple)} of ripple, {_below(hum.below_signal_db)} the signal"
    total = sum(hum.leakage.values())
    if hum.leakage_below_signal_db is None:
        return said
    worst = max(hum.leakage, key=hum.leakage.__getitem__)
    leak = engineering(LEAKAGE_OHM, "ohm", 2)
    return (
        f"{said}; {_small(total)} ({_below(hum.leakage_below_signal_db)} it), most through "
        f"{worst}, if every heater leaks {leak} to its cathode (an assumption)"
    )


def _small(volts: float) -> str:
    return engineering(volts, "V", 2)


def _below(decibels: float) -> str:
    return f"{decibels:.0f} dB below" if decibels >= 0 else f"{-decibels:.0f} dB above"
