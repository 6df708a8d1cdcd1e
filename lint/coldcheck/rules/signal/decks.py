"""Decks of one switch whose like parts stand in another order."""

from __future__ import annotations

from itertools import permutations
from typing import TYPE_CHECKING

from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.throws import decks
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

MOST_APART = 2
"""Positions in which two decks differ, where two parts were exchanged."""


@rule(
    "signal.decks-out-of-step",
    title="Ranges of one switch in another order on its second deck",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="a switch with two decks and one part alone on each contact",
    criterion="On each of two decks of a switch every contact leads to one resistor or capacitor, "
    "the same values on both, rising or falling from contact to contact on one of them; on the "
    "other two of them stand in each other's place.",
    why="Ranges are chosen on both sides of a circuit at once: the two halves of a multivibrator, "
    "the two arms of a bridge. With two parts exchanged on one deck those ranges have a large part "
    "on one side and a small one on the other: frequency and symmetry are wrong on both.",
    source=PRACTICE,
    limits="Decks with different values, and those neither of which is in order, are left alone.",
)
def decks_out_of_step(case: Case) -> Iterator[Outcome]:
    """Compare the decks of each switch, contact by contact."""
    for one, other in permutations(decks(case.circuit).values(), 2):
        if one[0].owner == other[0].owner and _in_order(case.circuit, one):
            yield from _compared(case, one, other)


def _part(circuit: Circuit, contact: Branch) -> Branch | None:
    """The one resistor or capacitor on a contact."""
    others = [b for b in circuit.at(contact.b) if b is not contact]
    plain = len(others) == 1 and others[0].kind in (PartKind.RESISTOR, PartKind.CAPACITOR)
    alone = plain and not circuit.electrodes_at(contact.b) and contact.b not in LANDMARKS
    return others[0] if alone else None


def _parts(circuit: Circuit, deck: list[Branch]) -> list[Branch]:
    """The parts of all contacts; none where a contact has no part of its own, or no value."""
    found = [b for c in deck if (b := _part(circuit, c)) is not None and b.value is not None]
    alike = len({b.kind for b in found}) == 1
    return found if alike and len(found) == len(deck) else []


def _values(parts: list[Branch]) -> list[float]:
    return [float(b.value.to_base_units().m) for b in parts if b.value is not None]


def _in_order(circuit: Circuit, deck: list[Branch]) -> bool:
    values = _values(_parts(circuit, deck))
    return len(values) > MOST_APART and values in (sorted(values), sorted(values, reverse=True))


def _compared(case: Case, one: list[Branch], other: list[Branch]) -> Iterator[Finding]:
    mine, theirs = _parts(case.circuit, one), _parts(case.circuit, other)
    here, there = _values(mine), _values(theirs)
    if here == there or sorted(here) != sorted(there):
        return
    apart = [i for i, (a, b) in enumerate(zip(here, there, strict=True)) if a != b]
    if len(apart) == MOST_APART and mine[0].kind is theirs[0].kind:
        yield _finding(case, one[0].owner, [mine[i] for i in apart], [theirs[i] for i in apart])


def _finding(case: Case, switch: str, right: list[Branch], wrong: list[Branch]) -> Finding:
    names, others = listed(b.owner for b in wrong), listed(b.owner for b in right)
    return decks_out_of_step.finding(
        case,
        (*(b.owner for b in wrong), switch, *(b.owner for b in right)),
        f"{names} are in each other's place on {switch}: on its other deck {others}, of the same "
        "values, are the other way round, and all other positions agree",
        f"Exchange {names} on {switch}",
        certainty="certain",
    )


RULES: tuple[Rule, ...] = (decks_out_of_step,)
