"""Heater windings: where each stands, how far it may be lifted, and what says so."""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import TYPE_CHECKING

from coldcheck.anatomy.case import Case
from coldcheck.anatomy.lift_room import Edge, Room
from coldcheck.anatomy.lift_window import lift_windows
from coldcheck.solve.solution import WARM
from coldcheck.verdict.document.content import Part, WindingTold
from coldcheck.verdict.document.digits import rounded

if TYPE_CHECKING:
    from collections.abc import Mapping

    from coldcheck.anatomy.lift_divider import Divider
    from coldcheck.anatomy.lift_window import Group, LiftWindow
    from coldcheck.verdict.review import Review


def windings_told(review: Review) -> tuple[WindingTold, ...]:
    """The heater windings of a reviewed drawing; none where nothing was worked out."""
    if review.circuit is None or WARM not in review.solutions:
        return ()
    known = review.worked
    case = known.case if known else Case(review.circuit, review.solutions)
    return tuple(map(_told, lift_windows(case)))


def _told(window: LiftWindow) -> WindingTold:
    divider = window.divider
    return WindingTold(
        winding=window.winding,
        tubes=window.tubes,
        stands_at=rounded(window.stands_at),
        lowest=rounded(window.lowest),
        highest=rounded(window.highest),
        window=_room(window.room),
        with_a_tube_out=_room(window.sockets),
        empty=window.empty,
        conflicts=window.conflicts,
        no_limit_on_file=window.unlimited,
        split=tuple(map(_part, window.split)),
        divider=_divider(divider),
        remedy=divider.text if divider is not None and _outside(window) else "",
    )


def _outside(window: LiftWindow) -> bool:
    levels = (window.stands_at, window.lowest, window.highest)
    return any(v is not None and not window.room.holds(v) for v in levels)


def _part(group: Group) -> Part:
    return Part(
        tubes=group.tubes,
        window=_room(group.room),
        follows_its_cathode=group.follows,
        sections_disagree=group.apart,
        divider=_divider(group.divider),
    )


def _room(room: Room) -> Room:
    return Room(_edge(room.low), _edge(room.high))


def _edge(edge: Edge | None) -> Edge | None:
    if edge is None:
        return None
    figures = {name: rounded(getattr(edge, name)) for name in ("volts", "limit", "cathode_v")}
    return replace(edge, **figures)


def _divider(divider: Divider | None) -> Mapping[str, float | str] | None:
    if divider is None:
        return None
    return {k: rounded(v) if isinstance(v, float) else v for k, v in asdict(divider).items()}
