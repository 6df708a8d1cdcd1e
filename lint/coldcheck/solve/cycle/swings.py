"""What is added to the equations of a cycle to see how its means move: sparse, many columns."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.records import dataclass

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    Places = NDArray[np.intp]
    Entry = tuple[int, int, Array]


@dataclass(slots=True)
class Swings:
    """Columns of additions, most of them to one or two equations each.

    ``rows`` has (equation, column, samples (N,)) in amperes or volts, column by column, ``ports``
    the same for additions to the voltages of ports.
    """

    columns: int
    rows: list[Entry] = field(default_factory=list)
    ports: list[Entry] = field(default_factory=list)

    def entries(self) -> tuple[Places, Places, Array]:
        """Equations (e,), columns (e,) and samples (e, N) of what is added to the equations."""
        rows, columns, samples = zip(*self.rows, strict=True)
        return np.array(rows), np.array(columns), np.stack(samples)

    def means(self, size: int) -> Array:
        """The means of all that is added to each equation, (m, k)."""
        means = np.zeros((size, self.columns))
        for row, column, samples in self.rows:
            means[row, column] += samples.mean()
        return means

    def volts(self, ports: int, instants: int) -> Array:
        """What is added to the voltages of ports, (p, N, k) volts."""
        volts = np.zeros((ports, instants, self.columns))
        for port, column, samples in self.ports:
            volts[port, :, column] += samples
        return volts
