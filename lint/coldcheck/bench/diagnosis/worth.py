"""What a further reading is worth: how much it tells, and what it costs to take."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.bench.diagnosis.readings import OHM

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from coldcheck.bench.diagnosis.channels import Channel

    Array = NDArray[np.float64]

DANGER_VOLTS = 500.0
"""Sets what a higher voltage at a point counts against measuring there (a choice of ours)."""

SWITCHED = 2.0
"""How many times as much a reading has to tell for which the power goes off, or on again."""

SETTLES = 20.0
"""Seconds (the mean time of its rise) that an ohmmeter may take for a reading to be asked for; one
that takes so long has to tell twice as much."""


def pains(channels: Sequence[Channel], last: Channel | None) -> Array:
    """What the reading of each channel costs, (K,): 1 for one without risk or trouble.

    ``last`` is where the last reading was taken: the power is off or on as for that.
    """
    found = [1 + c.peak / DANGER_VOLTS + c.wait / SETTLES for c in channels]
    if last is not None:
        switched = [(c.kind == OHM) != (last.kind == OHM) for c in channels]
        found = [p * (SWITCHED if s else 1.0) for p, s in zip(found, switched, strict=True)]
    return np.array(found)


def information(p: Array, mean: Array, variance: Array) -> float:
    """Bits that a reading tells about which of F normal distributions it comes from."""
    both = variance[:, None] + variance
    wider = both / (2 * np.sqrt(variance[:, None] * variance))
    far = (mean[:, None] - mean) ** 2 / both / 4 + 0.5 * np.log(wider)
    return float(-p @ np.log2(np.exp(-far) @ p))
