"""Heater windings: where each stands, how far it may be lifted, and what says so."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from rich.text import Text

from coldcheck.anatomy.case import Case
from coldcheck.anatomy.lift_window import lift_windows
from coldcheck.report.shared.lines import columns, paragraph, say, show
from coldcheck.report.shared.numbers import volts
from coldcheck.report.shared.plain import clean, listed

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from rich.console import Console

    from coldcheck.anatomy.lift_divider import Divider
    from coldcheck.anatomy.lift_room import Room
    from coldcheck.anatomy.lift_window import Group, LiftWindow
    from coldcheck.verdict.review import Review

TITLE = "Heater windings, DC volts to gnd"
LEGEND = (
    "the window is the lift that every heater-cathode limit on file allows in every solved state "
    "with all tubes in"
)
HEADINGS = ("", "stands at", "window", "set by")


def windows_of(review: Review) -> tuple[LiftWindow, ...]:
    """The lift windows of a reviewed drawing; none where nothing was worked out."""
    if review.circuit is None or "warm" not in review.solutions:
        return ()
    known = review.worked
    return lift_windows(known.case if known else Case(review.circuit, review.solutions))


def print_heaters(console: Console, review: Review) -> None:
    """Print the table of heater windings; nothing where there are none."""
    windows = windows_of(review)
    if not windows:
        return
    table = columns(*HEADINGS, left=4)
    for window in windows:
        for cells in _rows(window):
            table.add_row(*(Text(clean(c)) for c in cells))
    say(console)
    say(console, TITLE, "bold")
    show(console, table)
    paragraph(console, LEGEND, 2)
    for note in _notes(windows):
        paragraph(console, note, 2)


def _rows(window: LiftWindow) -> Iterator[tuple[str, str, str, str]]:
    room = window.room
    yield window.winding, _stands(window), _range(room, window.empty), _set_by(room)
    for group in window.split:
        if not group.room.empty:
            yield (
                "",
                f"  {listed(group.tubes)} alone",
                _range(group.room, False),
                _set_by(group.room),
            )


def _stands(window: LiftWindow) -> str:
    if window.stands_at is None or window.lowest is None or window.highest is None:
        return "floats"
    low, high = volts(window.lowest), volts(window.highest)
    warm = volts(window.stands_at)
    return warm if low == high else f"{warm} ({low} to {high})"


def _range(room: Room, empty: bool) -> str:
    if empty:
        return "none"
    if room.low is None and room.high is None:
        return "no limit on file"
    low = "any" if room.low is None else volts(room.least)
    high = "any" if room.high is None else volts(room.most)
    return f"{low} to {high}"


def _set_by(room: Room) -> str:
    edges = [e for e in (room.low, room.high) if e is not None]
    return ", ".join(f"{e.section} {e.state}" for e in edges)


def _notes(windows: tuple[LiftWindow, ...]) -> Iterator[str]:
    for window in windows:
        if window.unlimited:
            names = clean(listed(window.unlimited))
            yield f"{clean(window.winding)}: no limit on file, one way at least, for {names}"
        if window.divider is not None and _outside(window):
            yield f"{clean(window.winding)}, to the middle: {clean(window.divider.text)}"


def _outside(window: LiftWindow) -> bool:
    levels = (window.stands_at, window.lowest, window.highest)
    return any(v is not None and not window.room.holds(v) for v in levels)


def heater_windings(
    review: Review, number: Callable[[float | None], float | None]
) -> list[dict[str, Any]]:
    """The JSON entries, one a winding; volts DC to gnd, ``None`` for an end that nothing sets.

    ``number`` rounds a float as the rest of the report does.
    """
    return [_rounded(_entry(w), number) for w in windows_of(review)]


def _rounded(entry: Any, number: Callable[[float | None], float | None]) -> Any:
    if isinstance(entry, dict):
        return {key: _rounded(value, number) for key, value in entry.items()}
    if isinstance(entry, list):
        return [_rounded(value, number) for value in entry]
    return number(entry) if isinstance(entry, float) else entry


def _entry(window: LiftWindow) -> dict[str, Any]:
    """Every field of the result under its own name, but the window's own names for its parts."""
    return {
        "winding": window.winding,
        "tubes": list(window.tubes),
        "stands_at": window.stands_at,
        "lowest": window.lowest,
        "highest": window.highest,
        "window": asdict(window.room),
        "with_a_tube_out": asdict(window.sockets),
        "empty": window.empty,
        "conflicts": list(window.conflicts),
        "no_limit_on_file": list(window.unlimited),
        "split": [_part(g) for g in window.split],
        "divider": _divider(window.divider),
    }


def _part(group: Group) -> dict[str, Any]:
    return {
        "tubes": list(group.tubes),
        "window": asdict(group.room),
        "follows_its_cathode": group.follows,
        "sections_disagree": group.apart,
        "divider": _divider(group.divider),
    }


def _divider(divider: Divider | None) -> dict[str, Any] | None:
    return None if divider is None else asdict(divider)
