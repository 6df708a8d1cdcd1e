"""What one does to a switch: a toggle is thrown, a rotary switch turned to another position.

Both are known by a name, as states and discharges have them: ``S1``, and ``S2 at 4``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.circuit.problems import listed
from coldcheck.drawing.kinds import PartKind

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from coldcheck.circuit.model import Branch, Circuit

_AT = " at "


def turned(switch: str, position: int) -> str:
    """The name of turning a switch of three positions or more to one that is not drawn."""
    return f"{switch}{_AT}{position}"


def switch_of(throw: str) -> str:
    """The switch that is thrown or turned."""
    return throw.partition(_AT)[0]


def switches_of(throws: Iterable[str]) -> tuple[str, ...]:
    """The switches that are thrown or turned, in the order of their names."""
    return tuple(dict.fromkeys(map(switch_of, sorted(throws))))


def thrown_text(throws: Iterable[str]) -> str:
    """``S1 thrown``, ``S2 at 4``; ``S1 and S3 thrown``."""
    plain = sorted(t for t in throws if _AT not in t)
    rest = sorted(t for t in throws if _AT in t)
    return listed([*([f"{listed(plain)} thrown"] if plain else []), *rest])


def decks(circuit: Circuit) -> dict[tuple[str, str], list[Branch]]:
    """The contacts of each deck, in drawing order, by its switch and the net of its common."""
    found: dict[tuple[str, str], list[Branch]] = {}
    for branch in circuit.branches.values():
        if branch.kind is PartKind.CONTACT:
            found.setdefault((branch.owner, branch.a), []).append(branch)
    return found


def throws_by_hand(circuit: Circuit) -> tuple[str, ...]:
    """Everything one can do to one switch, in the order of the drawing."""
    return throws_among(b for b in circuit.branches.values() if b.traits.by_hand)


def throws_among(contacts: Iterable[Branch]) -> tuple[str, ...]:
    """Everything one can do to these contacts: switch by switch, in the order of positions."""
    return tuple(_in_order(tuple(contacts)))


def _in_order(contacts: tuple[Branch, ...]) -> Iterator[str]:
    for owner in dict.fromkeys(b.owner for b in contacts):
        own = {t for b in contacts if b.owner == owner for t in b.thrown_by}
        yield from sorted(own, key=lambda t: int(t.partition(_AT)[2] or 0))
