"""A heater winding whose tubes want lifts that exclude each other."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from coldcheck.anatomy.heater_lines import heater_lines
from coldcheck.anatomy.lift_window import (
    Group,
    LiftWindow,
    common_room,
    level_of,
    lift_windows,
    rooms_of,
    steady,
)
from coldcheck.drawing.wording import listed, sentence, volts
from coldcheck.judge import ranges
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import Rule, rule
from coldcheck.sources.register import Citation, Cited

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.lift_room import Edge, Room
    from coldcheck.judge.finding import Finding, Outcome


@rule(
    "heater.no-common-lift",
    title="No one lift suits the tubes on a heater winding",
    level="notice",
    states="every solved state with all tubes in their sockets",
    needs="the heater winding, the cathodes on it in volts, and the limits of the types",
    criterion="No DC voltage of the winding that keeps heater to cathode of every tube on it "
    "within its limits in every state, cold and warm, and as drawn one of them is over.",
    why="A high cathode wants its heater lifted after it, a cathode near gnd, or one that is still "
    "cold, stands only so much lift. Where the two wishes exclude each other, no divider helps: "
    "the tubes need windings of their own.",
    source=Citation("type-sheet"),
    limits="One fixed lift is looked for; a lift that moves from state to state is only judged as "
    "drawn. Windings of filament rectifiers and directly heated tubes, rectified heater supplies "
    "and strings on the mains have no window.",
)
def no_common_lift(case: Case) -> Iterator[Outcome]:
    """One finding a winding; it explains the single stresses on it."""
    for window in lift_windows(case):
        if window.empty and strained(case, window):
            yield _empty(case, window)


def strained(case: Case, window: LiftWindow) -> bool:
    """Whether, where the winding is, a limit of a tube on it is exceeded in a steady state."""
    line = next(x for x in heater_lines(case.circuit) if x.name == window.winding)
    tubes = [case.circuit.tubes[n] for n in window.tubes]
    rooms = rooms_of(case, line, tubes, share=ranges.BARELY)
    levels = ((s.state.name, level_of(line, s)) for s in steady(case))
    over = any(v is not None and not rooms[state].holds(v) for state, v in levels)
    return over and common_room(case, line, ranges.BARELY).empty


def _empty(case: Case, window: LiftWindow) -> Finding:
    low, high = window.room.low, window.room.high
    assert low is not None
    assert high is not None  # a room is empty only where both ends are set
    message = (
        f"{window.winding}: no one lift suits its tubes: {_wish(low)} needs its heater at "
        f"{volts(low.volts)} or more, {_wish(high)} stands it at {volts(high.volts)} at most"
    )
    return no_common_lift.finding(
        case,
        (window.winding, *window.conflicts),
        message,
        split_remedy(case, window),
        state=low.state,
        evidence={
            "needs": figure(low.volts, "V"),
            "needs_limit": figure(low.limit, "V"),
            "stands": figure(high.volts, "V"),
            "stands_limit": figure(high.limit, "V"),
            "other_state": high.state,
            **({} if window.stands_at is None else {"heater_dc": figure(window.stands_at, "V")}),
        },
        source=Cited(
            " and ".join(dict.fromkeys((low.source, high.source))),
            tuple(dict.fromkeys((*low.cites, *high.cites))),
        ),
        excess=1 + (low.volts - high.volts) / high.limit,
    )


def _wish(edge: Edge) -> str:
    return f"{edge.section} (cathode at {volts(edge.cathode_v)}, {edge.state})"


def split_remedy(case: Case, window: LiftWindow) -> str:
    """Which tubes go on which winding, and what each winding is tied to."""
    apart = [g for g in window.split if g.apart]
    if len(window.split) == 1 and not apart:
        return f"Give {window.split[0].tubes[0]} {_follow(case, window.split[0])}"
    parts = [f"{listed(g.tubes)} on a winding {_tie(case, g)}" for g in window.split if not g.apart]
    windings = f"Use {_count(len(parts))} heater windings: {'; '.join(parts)}" if parts[1:] else ""
    one = f"Leave {parts[0]}" if len(parts) == 1 else ""
    swaps = [f"{g.tubes[0]}: no lift suits both its sections, use two tubes" for g in apart]
    text = "; ".join(x for x in (windings or one, *swaps) if x)
    return sentence(text)


def _count(number: int) -> str:
    return {2: "two", 3: "three"}.get(number, str(number))


def _tie(case: Case, group: Group) -> str:
    if group.follows:
        return f"of its own, {_tied_to_cathode(case, group)}"
    if group.room.holds(0.0):
        return f"tied to gnd (it may stand from {range_text(group.room)})"
    divider = "" if group.divider is None else f": {group.divider.text}"
    return f"lifted to about {volts(group.room.middle)} (from {range_text(group.room)}){divider}"


def _follow(case: Case, group: Group) -> str:
    return f"a heater winding of its own, {_tied_to_cathode(case, group)}"


def _tied_to_cathode(case: Case, group: Group) -> str:
    """A winding that follows the cathode has the limit in hand in every state."""
    sections = case.circuit.tubes[group.tubes[0]].sections
    return f"its tap on the cathode of {sections[0].name}, so that it rises and falls with it"


def range_text(room: Room) -> str:
    """``-80 V to 95 V``, with ``any`` for an end that nothing on file sets."""
    low = "any" if room.least == -inf else volts(room.least)
    high = "any" if room.most == inf else volts(room.most)
    return f"{low} to {high}"


RULES: tuple[Rule, ...] = (no_common_lift,)
