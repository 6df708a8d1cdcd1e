"""What stands between a meter's two tips, channel by channel, in a circuit that was solved."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.circuit.model import GROUND

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from coldcheck.bench.diagnosis.channels import Channel
    from coldcheck.solve.faults.spread import Shown

    Array = NDArray[np.float64]

APART_OHM = 1e9
"""Ohms from which nothing drawn joins two nets: the solver's own leaks are a hundred gigohms."""


class Tips:
    """The nets of channels (K) among those of a circuit (M, gnd left out)."""

    def __init__(self, channels: Sequence[Channel], nets: Sequence[str]) -> None:
        place = {net: k for k, net in enumerate(nets)}
        self.at = np.array([place.get(c.net, 0) for c in channels], dtype=int)
        self.other = np.array([place.get(c.other, -1) for c in channels], dtype=int)
        self.pairs = np.flatnonzero([c.other != GROUND for c in channels])

    def volts(self, shown: Shown) -> Array:
        """DC between the tips, (K,); NaN where nothing holds one against the other."""
        return self._put(shown.volts, self._waves(shown).mean(axis=1), shown)

    def ac(self, shown: Shown) -> Array:
        """AC rms between the tips, (K,)."""
        return self._put(shown.ac, self._waves(shown).std(axis=1), shown)

    def ohms(self, shown: Shown) -> Array:
        """Ohms behind the tips for direct current, (K,)."""
        return self._put(shown.ohms, self._behind(shown), shown)

    def moved(self, deviations: Array) -> Array:
        """What the DC between the tips moves by, (P, K), where the nets move so much, (P, M)."""
        found: Array = deviations[:, self.at]
        found[:, self.pairs] -= deviations[:, self.other[self.pairs]]
        return found

    def _put(self, single: Array, between: Array, shown: Shown) -> Array:
        """What each net has by itself, and what the pairs have between them."""
        found: Array = single[self.at].copy()
        loose = np.isnan(shown.volts[self._ends].sum(axis=0))
        found[self.pairs] = np.where(loose & (self._behind(shown) > APART_OHM), np.nan, between)
        return found

    @property
    def _ends(self) -> NDArray[np.intp]:
        return np.array([self.at[self.pairs], self.other[self.pairs]], dtype=int)

    def _waves(self, shown: Shown) -> Array:
        a, b = self._ends
        return np.asarray(shown.waves[a] - shown.waves[b], dtype=float)

    def _behind(self, shown: Shown) -> Array:
        a, b = self._ends
        z = shown.behind
        return np.asarray(np.abs(z[a, a] + z[b, b] - z[a, b] - z[b, a]), dtype=float)
