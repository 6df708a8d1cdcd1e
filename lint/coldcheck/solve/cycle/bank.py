"""All tubes with grids at once: their currents and slopes, evaluated type by type."""

from __future__ import annotations

from itertools import accumulate, pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from coldcheck.solve.cycle.devices import incidence
from coldcheck.solve.cycle.triplets import DENSE_UP_TO

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from coldcheck.solve.cycle.devices import Valve
    from coldcheck.solve.cycle.network import Network
    from coldcheck.solve.tubes.laws import Law

    Array = NDArray[np.float64]


class ValveBank:
    """The tubes of a state; q is the number of their electrodes, all sections together.

    ``at`` (m, q) is their incidence, dense or sparse like the network's matrices.
    Sections of one type are evaluated in one call of their law.
    """

    def __init__(self, network: Network, valves: Sequence[Valve]) -> None:
        self.valves = tuple(valves)
        edges = accumulate((len(v.ends) for v in valves), initial=0)
        self.slices = [slice(a, b) for a, b in pairwise(edges)]
        self.size = sum(len(v.ends) for v in valves)
        self.at: Any = incidence(network, [e for v in valves for e in v.ends])
        self.sparse = network.size > DENSE_UP_TO
        self._groups = self._grouped()
        self._rows, self._columns = _places([rows for _, rows in self._groups])

    def _grouped(self) -> list[tuple[Law, NDArray[np.intp]]]:
        """(law, rows of shape (sections, electrodes)) for each different law."""
        found: dict[Law, list[list[int]]] = {}
        for valve, part in zip(self.valves, self.slices, strict=True):
            found.setdefault(valve.law, []).append(list(range(part.start, part.stop)))
        return [(law, np.array(rows)) for law, rows in found.items()]

    def names(self) -> list[tuple[str, str]]:
        """(section, electrode) for each row."""
        return [(v.section.name, e) for v in self.valves for e in v.law.electrodes]

    def slopes_from(self, names: Sequence[tuple[str, str]], slopes: Any) -> Any:
        """Another bank's sparse slopes, its rows called ``names``, as this bank's (q, q).

        ``None`` where this bank has tubes that the other lacks.
        """
        places = {name: k for k, name in enumerate(self.names())}
        if not places.keys() <= set(names):
            return None
        at = np.array([places.get(name, -1) for name in names], dtype=int)
        known = slopes.tocoo()
        rows, columns = at[known.row], at[known.col]
        kept = (rows >= 0) & (columns >= 0)
        return self._matrix(rows[kept], columns[kept], known.data[kept])

    def linear(self, volts: Array) -> tuple[Array, Any]:
        """Currents (q,) and the block-diagonal slopes (q, q), siemens, at volts (q,)."""
        amps, slopes = self.over_cycle(volts[:, None])
        return amps[:, 0], slopes

    def over_cycle(self, volts: Array) -> tuple[Array, Any]:
        """Currents (q, N) and the cycle's mean slopes (q, q), siemens, at volts (q, N)."""
        amps, (rows, columns, values) = self.each_instant(volts)
        return amps, self._matrix(rows, columns, values.mean(axis=1))

    def each_instant(self, volts: Array) -> tuple[Array, tuple[Any, Any, Array]]:
        """Currents (q, N) and slopes at volts (q, N).

        The slopes are row and column indices (k,) within (q, q) and values (k, N), siemens.
        """
        amps = np.zeros_like(volts)
        values = np.empty((len(self._rows), volts.shape[1]))
        done = 0
        for law, rows in self._groups:
            sections, electrodes = rows.shape
            i, slopes = law.currents(volts[rows.T].reshape(electrodes, -1))
            amps[rows.T] = i.reshape(electrodes, sections, -1)
            count = electrodes * electrodes * sections
            values[done : done + count] = slopes.reshape(count, -1)
            done += count
        return amps, (self._rows, self._columns, values)

    def _matrix(self, rows: Any, columns: Any, values: Array) -> Any:
        """Entries as a matrix (q, q), dense or sparse like the network's."""
        if self.sparse:
            from scipy.sparse import coo_array

            return coo_array((values, (rows, columns)), shape=(self.size, self.size)).tocsc()
        matrix = np.zeros((self.size, self.size))
        matrix[rows, columns] = values
        return matrix


def _places(groups: Sequence[NDArray[np.intp]]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Row and column of every slope, in the order the laws give them: by electrode, electrode."""
    none = np.zeros(0, dtype=np.intp)
    rows = [np.repeat(g.T[:, None], g.shape[1], axis=1).ravel() for g in groups]
    columns = [np.repeat(g.T[None], g.shape[1], axis=0).ravel() for g in groups]
    return np.concatenate([none, *rows]), np.concatenate([none, *columns])
