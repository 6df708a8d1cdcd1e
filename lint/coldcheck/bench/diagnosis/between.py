"""What meters show at a size between two that were solved.

Of a linear circuit in which one thing is changed by u (the conductance of a leak, what a resistor
is more than its value) every voltage and resistance is (a + b u) / (1 + c u): from what is shown
without it, d, u over d is straight in u (derived from Woodbury's formula for one term). A circuit
with tubes is near enough to that between neighbours; where one side and the other differ in sign,
and for AC, what is shown is taken as straight in the logarithm of the size.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.bench.diagnosis.channels import LEADS, MOST_OHMS, OVERLOAD
from coldcheck.bench.diagnosis.readings import DC, OHM

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Array = NDArray[np.float64]

ACROSS = frozenset(("leak", "touch", "heater-cathode", "insulation"))
"""Kinds of suspects whose size is ohms beside what is there: none are endless."""

ADDED = frozenset(("resistance", "gassy"))
"""Kinds whose size is ohms or amperes that should not be there."""

LEAST = 1e-9
"""Of what is shown, a difference that is none."""


def away_from_sound(kind: str, size: float) -> float:
    """How much is changed at a size, 0 where nothing is."""
    if kind in ACROSS:
        return 1 / size
    return size if kind in ADDED else size - 1


def between(
    kinds: NDArray[np.str_], means: tuple[Array, Array, Array], at: Sequence[float], share: float
) -> Array:
    """What channels (K) show at the middle one of three sizes.

    ``means`` (K,) each are the sound circuit's and those at the sizes either side; ``at`` is how
    much is changed at the three, and ``share`` how far the middle is in the logarithm of the size.
    """
    sound, one, other = (_straightened(kinds, m) for m in means)
    d1, d2 = one - sound, other - sound
    least = LEAST * (1 + np.abs(sound))
    good = (d1 * d2 > 0) & (np.minimum(np.abs(d1), np.abs(d2)) > least) & (at[0] * at[2] > 0)
    good &= np.where(kinds == OHM, np.maximum(one, other) < OVERLOAD * MOST_OHMS, kinds == DC)
    with np.errstate(divide="ignore", invalid="ignore"):
        along = (at[1] - at[0]) / (at[2] - at[0])
        curved = sound + at[1] / ((1 - along) * at[0] / d1 + along * at[2] / d2)
        curved = np.where(kinds == OHM, np.log(np.maximum(curved, 0.0) + LEADS), curved)
    return np.where(good, curved, (1 - share) * means[1] + share * means[2])


def _straightened(kinds: NDArray[np.str_], mean: Array) -> Array:
    """Volts and ohms, of which the logarithm was taken."""
    return np.where(kinds == OHM, np.exp(np.where(kinds == OHM, mean, 0.0)) - LEADS, mean)
