"""How large a drawing may be to be worked out: each limit tells itself where it is passed.

A drawing may come from anyone. Paths, states, modes and equations grow faster than the drawing
does, so what would take minutes or gigabytes is refused by counting, before anything is solved;
the same drawing is refused on every machine. The limits are far above any amplifier or radio:
the samples have at most some 70 parts, 10 tubes and 12 capacitors.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.circuit.kinds import Contact
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import Accept, Expect, Problem, SignalLine

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from coldcheck.circuit.model import Circuit
    from coldcheck.drawing.model import Span

TOO_LARGE = "drawing.too-large"
LARGEST: Mapping[str, int] = {
    "parts": 1_500,
    "points": 3_000,
    "tubes": 100,
    "tubes beside values that are not known": 25,
    "capacitors": 200,
    "rectifying parts": 48,
    "switch contacts": 100,
    "windings": 200,
    "signal sources": 50,
    "expectations": 500,
    "waivers": 500,
}
"""What is counted -> how many a review takes on. Diodes, zeners, LEDs, plates of rectifiers and
gas tubes are rectifying parts: each is solved for at every instant of the cycle."""

MOST_PROBLEMS = 300
"""Problems of reading that are told one by one."""

HINT = "is this one circuit? draw what can be looked at alone in a drawing of its own"


def too_large(circuit: Circuit) -> tuple[Problem, ...]:
    """A problem for each limit the circuit passes, at the first thing beyond it."""
    counted = dict(_counted(circuit))
    return tuple(
        Problem(
            spans[LARGEST[what]],
            TOO_LARGE,
            f"{len(spans)} {what}",
            f"at most {LARGEST[what]}",
            HINT,
            circuit.drawing.line(spans[LARGEST[what]]),
        )
        for what, spans in counted.items()
        if len(spans) > LARGEST[what]
    )


def _counted(circuit: Circuit) -> Iterator[tuple[str, Sequence[Span]]]:
    branches = circuit.branches.values()
    statements = circuit.drawing.statements
    tubes = circuit.tubes.values()
    yield "parts", [b.span for b in branches]
    yield "points", [circuit.span(net) for net in circuit.graph]
    yield "tubes", [t.span for t in tubes]
    # Every state of such a drawing is solved for several trial values.
    is_open = any(b.part is not None and b.part.unknown for b in branches)
    yield "tubes beside values that are not known", [t.span for t in tubes if is_open]
    yield "capacitors", [b.span for b in branches if b.kind is PartKind.CAPACITOR]
    one_way = [b.span for b in branches if b.traits.one_way]
    passing = [s for s in circuit.sections() if not s.kind.amplifies]
    one_way += [circuit.tubes[s.tube].span for s in passing for _ in s.plates]
    yield "rectifying parts", one_way
    yield "switch contacts", [b.span for b in branches if b.traits.contact is not Contact.NONE]
    wound = [w.span for w in circuit.windings()]
    yield "windings", [*wound, *(c.span for c in circuit.coils())]
    yield "signal sources", [s.span for s in statements if isinstance(s, SignalLine)]
    yield "expectations", [s.span for s in statements if isinstance(s, Expect)]
    yield "waivers", [s.span for s in statements if isinstance(s, Accept)]


def shortened(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """The problems in the order of the text, cut where they would bury the reader."""
    told = sorted(problems, key=lambda p: p.span)
    if len(told) <= MOST_PROBLEMS:
        return tuple(told)
    rest = told[MOST_PROBLEMS]
    last = Problem(
        rest.span,
        TOO_LARGE,
        f"{len(told) - MOST_PROBLEMS} more places that cannot be read",
        f"at most {MOST_PROBLEMS} at a time",
        "mend those above first: many of the others may go with them",
        rest.source_line,
    )
    return (*told[:MOST_PROBLEMS], last)
