"""What to do about a heater line that is too low or too high for a tube on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.lift_divider import divider_for
from coldcheck.anatomy.lift_window import common_room, rooms_of
from coldcheck.anatomy.neighbourhood import reading
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.wording import volts

if TYPE_CHECKING:
    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.heater_lines import HeaterLine
    from coldcheck.anatomy.lift_room import Room
    from coldcheck.circuit.model import Section

MARGIN = 0.9
"""A suggestion keeps this much of a limit where it can."""

NOTHING = 5.0
"""A lift of less than this is a tie to gnd."""


def lift_remedy(case: Case, line: HeaterLine, section: Section, sign: int) -> str:
    """What to do about a heater-cathode stress beyond its limit.

    ``sign`` is -1 where the heater is too low and +1 where it is too high.
    """
    if section.kind is SectionKind.RECTIFIER and line.windings:
        return f"Give {section.tube} a heater winding of its own and tie it to its cathode"
    room = common_room(case, line, MARGIN)
    share = MARGIN
    if room.empty:
        room, share = common_room(case, line), 1.0
    if not line.windings or room.empty or room.most < 0:
        return (
            f"No one lift suits all tubes on {line.name}: give {section.tube} a heater winding of "
            f"its own, tied near its cathode"
        )
    target = _target(case, section, room)
    if sign > 0 and room.holds(0.0) and target < NOTHING:
        return f"Tie {line.text} to gnd; nothing on it needs a lift"
    verb = "Lift" if sign < 0 else "Lower the lift of"
    return f"{verb} {line.text} to about {volts(target)}{_divider(case, line, target, share)}"


def _target(case: Case, section: Section, room: Room) -> float:
    """Half the cathode's voltage, kept inside the window: no more than is needed."""
    found = reading(case.warm, section) if case.warm.converged else None
    half = (found.cathode_v or 0.0) / 2 if found is not None else 0.0
    return min(max(half, room.least, 0.0), max(room.most, 0.0))


def _divider(case: Case, line: HeaterLine, target: float, share: float) -> str:
    """A worked divider, where one is needed and a rail can feed it."""
    if target < NOTHING:
        return ""
    rooms = rooms_of(case, line, line.tubes, share=share)
    bounds = {state: (room.least, room.most) for state, room in rooms.items()}
    found = divider_for(case, line, target, bounds)
    return "" if found is None else f": {found.text}"
