"""How far each heater winding may be lifted: the DC range that every tube on it stands.

Where the winding is moved up by a volt, so is every heater on it against its cathode, at every
instant. So each limit of each tube in each state allows the winding a range of DC to gnd, and
what all ranges have in common is the window. All voltages are DC volts to gnd. The figures are
those that the rules on heater-cathode stress judge by: peaks with the swing of the signal, and
high line only for types whose ratings are for it.
"""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING

from coldcheck.anatomy.heater_lines import HeaterLine, heater_lines, insulated, is_filament_supply
from coldcheck.anatomy.lift_divider import Divider, divider_for
from coldcheck.anatomy.lift_room import Edge, Room, common
from coldcheck.anatomy.lift_split import split_groups
from coldcheck.anatomy.neighbourhood import reading
from coldcheck.anatomy.worked import cathode_swing
from coldcheck.circuit.once import once
from coldcheck.circuit.tubes import centred
from coldcheck.drawing.units import si
from coldcheck.records import dataclass
from coldcheck.solve.solution import HIGH

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Section, Tube
    from coldcheck.solve.solution import Solution

WANTED_VOLTS = 5.0
"""A middle below this is as good as a tie to gnd: no divider is worked out for it."""


@dataclass(frozen=True, slots=True)
class Group:
    """Tubes that can share a winding, what they have in common, and a divider for it.

    ``follows`` marks a tube for which no fixed lift is right, only a winding that moves with its
    cathode; ``apart`` one whose own sections contradict each other.
    """

    tubes: tuple[str, ...]
    room: Room
    divider: Divider | None
    follows: bool = False
    apart: bool = False


@dataclass(frozen=True, slots=True)
class LiftWindow:
    """What one heater winding may be lifted to, and where it is.

    room
        The lift that is right in every solved state with all tubes in their sockets.
    sockets
        The same with each tube out of its socket counted as well.
    stands_at, lowest, highest
        DC of the winding when warm, and its extremes over the states; ``None`` where it floats.
    unlimited
        Tubes without a limit on file for the heater negative or positive of the cathode.
    split
        Groups with a common window each, where ``room`` is empty.
    divider
        A worked divider to the middle of ``room``, where that is above gnd and a rail feeds it.
    """

    winding: str
    tubes: tuple[str, ...]
    room: Room
    sockets: Room
    stands_at: float | None
    lowest: float | None
    highest: float | None
    conflicts: tuple[str, ...]
    unlimited: tuple[str, ...]
    split: tuple[Group, ...]
    divider: Divider | None

    @property
    def empty(self) -> bool:
        """Whether no one lift suits all its tubes."""
        return self.room.empty


@once
def lift_windows(case: Case) -> tuple[LiftWindow, ...]:
    """The window of every heater winding with insulated cathodes on it, in drawing order.

    Windings of filament rectifiers and of directly heated tubes have none, nor have strings that
    hang on the mains; without a solved state there is none at all.
    """
    if not any(True for _ in steady(case)):
        return ()
    return tuple(_window(case, line) for line in heater_lines(case.circuit) if liftable(line))


def liftable(line: HeaterLine) -> bool:
    """Whether a line is a winding that can be lifted on its own."""
    own = any(is_filament_supply(t) or t.directly_heated for t in line.tubes)
    return bool(line.windings) and not own and any(insulated(t) for t in line.tubes)


def steady(case: Case) -> Iterator[Solution]:
    """The solved states with all tubes in their sockets."""
    return (s for s in case.solved() if not s.state.pulled)


def _window(case: Case, line: HeaterLine) -> LiftWindow:
    tubes = tuple(t for t in line.tubes if insulated(t))
    rooms = {t.name: common(rooms_of(case, line, [t]).values()) for t in tubes}
    by_state = rooms_of(case, line, tubes)
    room = common(by_state.values())
    known = [level for s in steady(case) if (level := level_of(line, s)) is not None]
    return LiftWindow(
        winding=line.name,
        tubes=tuple(rooms),
        room=room,
        sockets=room.meet(common(rooms_of(case, line, tubes, pulled=True).values())),
        stands_at=level_of(line, case.warm) if case.warm.converged else None,
        lowest=min(known, default=None),
        highest=max(known, default=None),
        conflicts=_conflicts(rooms),
        unlimited=tuple(t.name for t in tubes if _unlimited(t)),
        split=_split(case, line, rooms) if room.empty else (),
        divider=None if room.empty else _divider(case, line, by_state, room),
    )


def rooms_of(
    case: Case, line: HeaterLine, tubes: Iterable[Tube], *, pulled: bool = False, share: float = 1.0
) -> dict[str, Room]:
    """State -> the lift that the tubes stand in it; ``share`` of each limit is used."""
    some = tuple(tubes)
    states = (s for s in case.solved() if bool(s.state.pulled) is pulled)
    return {
        s.state.name: common(
            section_room(case, line, tube, section, s, share)
            for tube in some
            for section in tube.sections
        )
        for s in states
    }


def common_room(case: Case, line: HeaterLine, share: float = 1.0) -> Room:
    """What all tubes of a line have in common with ``share`` of each limit used."""
    tubes = [t for t in line.tubes if insulated(t)]
    return common(rooms_of(case, line, tubes, share=share).values())


def section_room(
    case: Case,
    line: HeaterLine,
    tube: Tube,
    section: Section,
    solution: Solution,
    share: float = 1.0,
) -> Room:
    """The lift that one section stands in one state."""
    found = reading(solution, section)
    if found is None or found.cathode_v is None:
        return Room()
    if solution.state.kind == HIGH and centred(tube.type):
        return Room()
    dc, low, high = found.heater_cathode_dc, found.heater_cathode_low, found.heater_cathode_high
    if dc is None or low is None or high is None:
        peak = _half_swing(line) * solution.state.line
        dc, low, high = (x - found.cathode_v for x in (0.0, -peak, peak))
    swing = cathode_swing(case, solution, section)
    at, k = found.cathode_v + dc, found.cathode_v
    where = (tube, section, solution.state.name, k, share)
    least, most = (low - swing, dc), (high + swing, dc)
    down = [_edge(*where, name, at - v, -1) for name, v in zip(_DOWN, least, strict=True)]
    up = [_edge(*where, name, at - v, 1) for name, v in zip(_UP, most, strict=True)]
    return Room(
        max((e for e in down if e), key=lambda e: e.volts, default=None),
        min((e for e in up if e), key=lambda e: e.volts, default=None),
    )


_DOWN = ("heater-negative-peak", "heater-negative-dc")
_UP = ("heater-positive-peak", "heater-positive-dc")


def _edge(
    tube: Tube,
    section: Section,
    state: str,
    cathode_v: float,
    share: float,
    name: str,
    level: float,
    sign: int,
) -> Edge | None:
    """``level`` is the lift at which heater and cathode would be at the same voltage."""
    limit = tube.type.rating(name, section.type.name)
    if limit is None:
        return None
    volts = level + sign * share * limit.value
    where = (tube.name, section.name, state, name)
    said = limit.cited
    return Edge(volts, *where, limit.value, cathode_v, said.text, said.cites)


def _half_swing(line: HeaterLine) -> float:
    """Peak of an end against the tap, or against the other end of a winding without one."""
    winding = line.windings[0]
    share = 0.5 if len(winding.leads) == 3 else 1.0
    return share * sqrt(2) * (si(winding.volts, "volt") or 0.0)


def level_of(line: HeaterLine, solution: Solution) -> float | None:
    """The DC of a winding in a state: the mean of its leads, volts; ``None`` where it floats."""
    waves = [solution.waves.get(n) for n in line.windings[0].nets]
    known = [w.dc for w in waves if w is not None]
    return sum(known) / len(known) if known and len(known) == len(waves) else None


def _unlimited(tube: Tube) -> bool:
    return any(not any(tube.type.rating(n) for n in names) for names in (_DOWN, _UP))


def _conflicts(rooms: Mapping[str, Room]) -> tuple[str, ...]:
    """Tubes that no lift suits together with another one, or by themselves."""
    every = common(rooms.values())
    clash = (n for n, r in rooms.items() if r.least > every.most or r.most < every.least)
    return tuple(clash)


def _split(case: Case, line: HeaterLine, rooms: Mapping[str, Room]) -> tuple[Group, ...]:
    height = {name: _height(case, name) for name in rooms}
    ends = {name: (room.least, room.most) for name, room in rooms.items()}
    return tuple(_group(case, line, names) for names in split_groups(ends, height))


def _height(case: Case, tube: str) -> float:
    """The highest cathode of a tube in any steady state, volts."""
    sections = case.circuit.tubes[tube].sections
    found = (reading(s, x) for s in steady(case) for x in sections)
    return max(
        (r.cathode_v for r in found if r is not None and r.cathode_v is not None), default=0.0
    )


def _group(case: Case, line: HeaterLine, names: tuple[str, ...]) -> Group:
    by_state = rooms_of(case, line, [case.circuit.tubes[n] for n in names])
    room = common(by_state.values())
    if room.empty:
        apart = any(r.empty for r in by_state.values())
        return Group(names, room, None, follows=not apart, apart=apart)
    return Group(names, room, _divider(case, line, by_state, room))


def _divider(
    case: Case, line: HeaterLine, by_state: Mapping[str, Room], room: Room
) -> Divider | None:
    if room.middle < WANTED_VOLTS:
        return None
    bounds = {state: (r.least, r.most) for state, r in by_state.items()}
    return divider_for(case, line, room.middle, bounds)
