"""What every suspect would make the meters show: means and covariances, model by model.

A model is a suspect at one size; a channel is a kind of reading at a net.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.bench.channels import channels_of
from coldcheck.bench.instruments import DC_METER
from coldcheck.bench.models import Models
from coldcheck.solve.fault_spread import Shown, SpreadSolver

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from coldcheck.bench.channels import Channel
    from coldcheck.bench.instruments import Instrument
    from coldcheck.bench.suspects import Suspect
    from coldcheck.circuit.model import Circuit

    Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Library:
    """Every suspect's models (H of them) for the channels (K) of a circuit.

    owner, size
        Of each model its suspect's place in ``suspects`` (H,), and its size (H,).
    mean, covariance
        What is expected, (H, K), and how uncertain by tolerances, (H, K, K).
    noise
        Variance of a single reading by meter and floor, (H, K).
    unsolved
        Suspect's key -> why it has no models.
    lost
        Suspect's key -> nets that lose what held them.
    """

    suspects: tuple[Suspect, ...]
    channels: tuple[Channel, ...]
    owner: NDArray[np.intp]
    size: Array
    mean: Array
    covariance: Array
    noise: Array
    unsolved: dict[str, str]
    lost: dict[str, tuple[str, ...]]

    def channel(self, kind: str, net: str) -> int | None:
        """The place of a channel; ``None`` where there is none."""
        for k, channel in enumerate(self.channels):
            if channel.kind == kind and channel.net == net:
                return k
        return None


class NothingKnown(Exception):  # noqa: N818 - a condition, reported in words
    """The sound circuit itself has no numbers; the text says why."""


def library_of(
    circuit: Circuit,
    suspects: Sequence[Suspect],
    meter: Instrument = DC_METER,
) -> Library:
    """Solve every suspect, the first of which is the sound circuit. Raises NothingKnown.

    ``meter`` is what DC is read with.
    """
    solver = SpreadSolver(circuit)
    good = solver.shown(())
    if isinstance(good, str):
        raise NothingKnown(good)
    channels = channels_of(circuit, good, meter)
    models = Models(solver, channels, good, meter)
    unsolved: dict[str, str] = {}
    for place, suspect in enumerate(suspects):
        shown = [(c, models.shown(c)) for c in suspect.cases]
        solved = [(c, s) for c, s in shown if isinstance(s, Shown)]
        unsolved.update((suspect.key, s) for _, s in shown if isinstance(s, str) and not solved)
        models.add(place, suspect, solved)
    return Library(
        tuple(suspects), channels, np.array(models.owner), np.array(models.size), models.mean(),
        models.covariance(), models.noise(), unsolved, models.lost,
    )  # fmt: skip
