"""What a further reading is worth: how much it tells, and what it costs to take."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.bench.diagnosis.readings import OHM, SIGNAL

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from coldcheck.bench.diagnosis.channels import Channel

    Array = NDArray[np.float64]

DANGER_VOLTS = 500.0
"""Sets what a higher voltage at a point counts against measuring there (a choice of ours)."""

SWITCHED = 2.0
"""What it costs to switch the power off and on again, in readings without risk or trouble: for what
is left to be read as it is now it has to go back."""

GENERATOR = 0.5
"""What it costs to have the signal on, which is off for all else."""

TINY = 1e-24
"""Keeps logarithms of variances that are none."""

SETTLES = 20.0
"""Seconds (the mean time of its rise) that an ohmmeter may take for a reading to be asked for; one
that takes so long has to tell twice as much."""


def pains(channels: Sequence[Channel], last: Channel | None) -> Array:
    """What the reading of each channel costs, (K,): 1 for one without risk or trouble.

    ``last`` is where the last reading was taken: the power is off or on as for that.
    """
    found = [
        1 + c.peak / DANGER_VOLTS + c.wait / SETTLES + GENERATOR * (c.kind == SIGNAL)
        for c in channels
    ]
    if last is not None:
        switched = [(c.kind == OHM) != (last.kind == OHM) for c in channels]
        found = [p + SWITCHED * s for p, s in zip(found, switched, strict=True)]
    return np.array(found)


def information(p: Array, mean: Array, variance: Array) -> float:
    """Bits that a reading tells about which of F normal distributions it comes from."""
    both = variance[:, None] + variance
    wider = both / (2 * np.sqrt(variance[:, None] * variance))
    far = (mean[:, None] - mean) ** 2 / both / 4 + 0.5 * np.log(wider)
    return float(-p @ np.log2(np.exp(-far) @ p))


def both(p: Array, mean: Array, covariance: Array) -> float:
    """The same of two readings together: means (F, 2), covariance (F, 2, 2)."""
    spread = (covariance[:, None] + covariance) / 2
    one, other, across = spread[..., 0, 0], spread[..., 1, 1], spread[..., 0, 1]
    size = np.maximum(one * other - across**2, TINY)
    own = np.maximum(covariance[:, 0, 0] * covariance[:, 1, 1] - covariance[:, 0, 1] ** 2, TINY)
    x, y = np.moveaxis(mean[:, None] - mean, -1, 0)
    square = (x * x * other - 2 * x * y * across + y * y * one) / size
    far = square / 8 + 0.5 * np.log(size) - 0.25 * np.log(own[:, None] * own)
    return float(-p @ np.log2(np.exp(-far) @ p))
