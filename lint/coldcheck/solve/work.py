"""What solving a circuit may cost: counted, so that a drawing is refused everywhere or nowhere.

A circuit of a few dozen parts can couple everything to everything at every instant. The count is
of multiplications, which is what the time goes into; nothing looks at a clock.
"""

from __future__ import annotations

from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import Unsolvable

LARGEST_MATRIX = 2_500
"""Unknowns that are eliminated together: port variables that conduct in the same group."""

MOST_WORK = 60_000_000_000
"""Multiplications for all states of a circuit together, half a minute. The samples need at most a
hundredth of it; a bridge behind a fuse of half an ohm, where the cheap ways miss the balance by
rounding alone, a third."""


class TooMuchWork(Unsolvable):
    """More than is ever done for one circuit."""

    def __init__(self, found: str, expected: str) -> None:
        super().__init__(f"{found}; at most {expected}")
        self.found, self.expected = found, expected


@dataclass(slots=True)
class Work:
    """What was done so far for one circuit."""

    done: int = 0

    def eliminate(self, unknowns: int) -> None:
        """Before a full matrix is inverted. Raises TooMuchWork."""
        if unknowns > LARGEST_MATRIX:
            found = f"{unknowns} currents that all depend on each other over the cycle"
            raise TooMuchWork(found, f"{LARGEST_MATRIX}")
        self.multiply(unknowns**3)

    def multiply(self, count: int) -> None:
        """Before so many multiplications. Raises TooMuchWork."""
        self.done += count
        if self.done > MOST_WORK:
            found = f"more than {MOST_WORK // 10**9} thousand million multiplications to solve it"
            raise TooMuchWork(found, f"{MOST_WORK // 10**9} thousand million")
