"""Heater windings: where each stands, how far it may be lifted, and what says so."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.report.shared.blocks import Note, Section, Table
from coldcheck.report.shared.numbers import volts
from coldcheck.report.shared.plain import listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.lift_room import Room
    from coldcheck.verdict.document.content import WindingTold

TITLE = "Heater windings, DC volts to gnd"
LEGEND = (
    "the window is the lift that every heater-cathode limit on file allows in every solved state "
    "with all tubes in"
)
HEADINGS = ("winding", "stands at", "window", "set by")


def heater_section(windings: tuple[WindingTold, ...]) -> Iterator[Section]:
    """The table of heater windings; nothing where there are none."""
    if windings:
        rows = tuple(row for w in windings for row in _rows(w))
        table = Table(HEADINGS, rows, frozenset(range(len(HEADINGS))))
        notes = map(Note, (LEGEND, *_notes(windings)))
        yield Section(TITLE, (table, *notes))


def _rows(winding: WindingTold) -> Iterator[tuple[str, ...]]:
    window = winding.window
    yield winding.winding, _stands(winding), _range(window, winding.empty), _set_by(window)
    for part in winding.split:
        if not part.window.empty:
            alone = f"  {listed(part.tubes)} alone"
            yield "", alone, _range(part.window, False), _set_by(part.window)


def _stands(winding: WindingTold) -> str:
    if winding.stands_at is None or winding.lowest is None or winding.highest is None:
        return "floats"
    low, high = volts(winding.lowest), volts(winding.highest)
    warm = volts(winding.stands_at)
    return warm if low == high else f"{warm} ({low} to {high})"


def _range(room: Room, empty: bool) -> str:
    if empty:
        return "none"
    if room.low is None and room.high is None:
        return "no limit on file"
    low = "any" if room.low is None else volts(room.low.volts)
    high = "any" if room.high is None else volts(room.high.volts)
    return f"{low} to {high}"


def _set_by(room: Room) -> str:
    edges = [e for e in (room.low, room.high) if e is not None]
    return ", ".join(f"{e.section} {e.state}" for e in edges)


def _notes(windings: tuple[WindingTold, ...]) -> Iterator[str]:
    for winding in windings:
        if winding.no_limit_on_file:
            names = listed(winding.no_limit_on_file)
            yield f"{winding.winding}: no limit on file, one way at least, for {names}"
        if winding.remedy:
            yield f"{winding.winding}, to the middle: {winding.remedy}"
