"""A drawing that was given up because it would have cost too much, told as its size is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.circuit.limits import HINT, TOO_LARGE
from coldcheck.drawing.model import Problem, Span

if TYPE_CHECKING:
    from collections.abc import Iterable

    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.solution import Solution


def too_much(circuit: Circuit, solutions: Iterable[Solution]) -> Problem | None:
    """What was beyond the bound on work in any state; ``None`` where nothing was.

    The other states are no answer then: the one that was given up may be the worst.
    """
    found = next((s.too_large for s in solutions if s.too_large is not None), None)
    if found is None:
        return None
    start = Span(circuit.drawing.file, 1, 1, 2)
    span = min((b.span for b in circuit.branches.values()), default=start)
    line = circuit.drawing.line(span)
    return Problem(span, TOO_LARGE, found.found, f"at most {found.expected}", HINT, line)
