"""The words of the ladder, the same in the picture and in the text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.report.shared.numbers import volts
from coldcheck.report.shared.plain import listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.lift_room import Edge
    from coldcheck.anatomy.lift_window import LiftWindow
    from coldcheck.bench.ladder.ladder import Ladder

LEGEND = (
    "Height is volts to gnd: a stroke at a net's DC, a bar from its lowest to its highest instant.",
    "Tubes: a dot is the cathode, the thick stroke the plate, dashes the screen, the short stroke "
    "the grid.",
    "Box beside a cathode: where its heater bus's DC may be in that state (none where the "
    "type's ratings are not meant for it); black bar: where it is; thick end: the one that "
    "closes the window of the bus.",
)
CAUTION = (
    "Worked out from the drawing, not from the wiring. Tube equipment holds lethal voltages, also "
    "after it is switched off."
)


def heading(found: Ladder) -> str:
    """The drawing's title, or its file."""
    return found.title or found.file


def notes(found: Ladder) -> Iterator[str]:
    """Each heater line's window and the states that close it; what is not drawn."""
    yield from map(_window, found.windows)
    if found.left_out:
        yield f"Not drawn, since they swing through gnd: {listed(found.left_out)}."


def _window(window: LiftWindow) -> str:
    if window.stands_at is None:
        head = f"{window.winding} floats"
    else:
        head = f"{window.winding} is at {volts(window.stands_at)} V when warm"
    if window.empty:
        return f"{head}; no lift suits all its tubes in every state."
    low, high = window.room.low, window.room.high
    if low is None and high is None:
        return f"{head}; no limit on file closes its window."
    return f"{head}; it may be from {_end(low)} to {_end(high)}."


def _end(edge: Edge | None) -> str:
    return "any" if edge is None else f"{volts(edge.volts)} V ({edge.section}, {edge.state})"
