"""What was worked out, section by section: chosen and worded from the document, not worked out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.drawing.units import engineering
from coldcheck.report.review.heater_section import heater_section
from coldcheck.report.review.off_section import off_section
from coldcheck.report.review.signal_section import signal_sections
from coldcheck.report.review.warming_section import warming_section
from coldcheck.report.shared.blocks import Entries, Note, Section, Table
from coldcheck.report.shared.numbers import NONE, volts

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.verdict.document.content import (
        Document,
        Level,
        Reading,
        SectionTold,
        StateTold,
        TransistorTold,
    )

WARM, COLD = "warm", "cold"

RAILS_TITLE = "Supply rails, volts to gnd"
RAILS_COLD_TITLE = "; cold is just after switch-on, tubes not yet drawing"
RAILS_SPREAD = "+/- is the usual spread of parts, tubes and the mains together; not a bound"
RAILS = ("point", "DC", "+/-", "AC rms", "lowest", "highest")
RAILS_COLD = ("cold DC", "cold highest")
TUBES_TITLE = "Tubes, warm; plate and grid to cathode, heater to cathode at its worst instant"
TUBES = ("tube", "type", "plate V", "mA", "grid V", "cathode V", "plate W", "of max", "heater V")
TRANSISTORS_TITLE = "Transistors, warm"
TRANSISTORS = ("part", "type", "volts", "mA", "steering V", "W", "of rated")
TRANSISTORS_NOTE = (
    "volts from drain to source, collector to emitter, in to out; steering: from gate or base to "
    "source or emitter, of a regulator from its output to its third lead; rated: the watts of the "
    "sheet, for a case at 25 degrees, which says nothing of how hot it gets as it is mounted"
)
RECTIFIERS_TITLE = "Rectifiers, warm; inverse is the largest reverse voltage"
RECTIFIERS = ("tube", "type", "mA", "peak mA", "inverse V", "drop W", "heater V")


def sections(document: Document) -> Iterator[Section]:
    """Every section there is something to say in."""
    yield from _rails(document)
    yield from _tubes(document)
    yield from _transistors(document)
    yield from heater_section(document.heater_windings)
    if document.signal is not None:
        yield from signal_sections(document.signal)
    if document.warm_up is not None:
        yield from warming_section(document.warm_up)
    if document.off is not None:
        yield from off_section(document.off)
    yield from _states(document)


def _state(document: Document, name: str) -> StateTold | None:
    found = document.states.get(name)
    return found if found is not None and found.solved else None


def _rails(document: Document) -> Iterator[Section]:
    if not document.rails:
        return
    warm, cold = _state(document, WARM), _state(document, COLD)
    rows = []
    for name in document.rails:
        cells = _five(warm.points.get(name) if warm else None)
        if cold is not None:
            cells += _two(cold.points.get(name))
        rows.append((name, *cells))
    title = RAILS_TITLE + (RAILS_COLD_TITLE if cold is not None else "")
    headings = RAILS if cold is None else RAILS + RAILS_COLD
    yield Section(title, (Table(headings, tuple(rows)), Note(RAILS_SPREAD)))


def _five(level: Level | None) -> tuple[str, ...]:
    if level is None:
        return (NONE,) * 5
    return tuple(map(volts, (level.dc, level.plus_minus, level.ac_rms, level.low, level.high)))


def _two(level: Level | None) -> tuple[str, ...]:
    return (NONE, NONE) if level is None else (volts(level.dc), volts(level.high))


def _tubes(document: Document) -> Iterator[Section]:
    warm = _state(document, WARM)
    if warm is None:
        return
    known = [(s, warm.tubes[s.name]) for s in document.sections]
    amplifying = tuple(_tube_row(s, r) for s, r in known if not s.rectifier)
    rectifying = tuple(_rectifier_row(s, r) for s, r in known if s.rectifier)
    words = frozenset({0, 1})
    if amplifying:
        yield Section(TUBES_TITLE, (Table(TUBES, amplifying, words),))
    if rectifying:
        yield Section(RECTIFIERS_TITLE, (Table(RECTIFIERS, rectifying, words),))


def _transistors(document: Document) -> Iterator[Section]:
    warm = _state(document, WARM)
    if warm is not None and warm.transistors:
        rows = tuple(_transistor_row(n, told) for n, told in warm.transistors.items())
        table = Table(TRANSISTORS, rows, frozenset({0, 1}))
        yield Section(TRANSISTORS_TITLE, (table, Note(TRANSISTORS_NOTE)))


def _transistor_row(name: str, told: TransistorTold) -> tuple[str, ...]:
    return (
        name,
        told.type,
        volts(told.volts),
        _digits(told.ma, ".3g"),
        volts(told.steering_v),
        _digits(told.watts, ".2f"),
        NONE if told.share is None else f"{100 * told.share:.0f} %",
    )


def _tube_row(section: SectionTold, reading: Reading) -> tuple[str, ...]:
    return (
        section.name,
        section.type,
        volts(reading.plate_v),
        _digits(reading.plate_ma, ".3g"),
        volts(reading.grid_v),
        volts(reading.cathode_v),
        _digits(reading.plate_w, ".2f"),
        NONE if section.share is None else f"{100 * section.share:.0f} %",
        heater_text(reading.heater_cathode_worst),
    )


def _rectifier_row(section: SectionTold, reading: Reading) -> tuple[str, ...]:
    return (
        section.name,
        section.type,
        _digits(reading.plate_ma, ".3g"),
        _digits(reading.peak_plate_ma, ".3g"),
        volts(reading.inverse_v),
        _digits(reading.plate_w, ".2f"),
        heater_text(reading.heater_cathode_worst),
    )


def _digits(value: float | None, form: str) -> str:
    return NONE if value is None else format(value, form)


def heater_text(worst: float | None) -> str:
    """The worst instant between heater and cathode with the sign of the heater, in volts."""
    if worst is None:
        return NONE
    return f"{worst:+.0f}" if abs(worst) >= 0.5 else "0"


def _states(document: Document) -> Iterator[Section]:
    """Which states were solved, how well, and which were not and why."""
    if document.states:
        yield Section("States", (Entries(tuple(_state_lines(document)), 12),))


def _state_lines(document: Document) -> Iterator[tuple[str, str]]:
    good = {n: s for n, s in document.states.items() if s.solved}
    if good:
        worst = max(s.residual_a or 0.0 for s in good.values())
        yield "solved", ", ".join(good)
        yield "", f"currents balance at every point within {engineering(max(worst, 1e-12), 'A', 2)}"
    for name, state in document.states.items():
        if not state.solved:
            yield "not solved", f"{name}: {state.reason or 'no reason given'}"
