"""What every suspect would make the meters show: means and covariances, model by model.

A model is a suspect at one size; a channel is a kind of reading at a net.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.bench.diagnosis.channels import channels_of
from coldcheck.bench.diagnosis.models import BY_THEMSELVES, Models
from coldcheck.bench.diagnosis.readings import AC, DC
from coldcheck.bench.diagnosis.ripple import rippling
from coldcheck.bench.instruments.instruments import DC_METER
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.records import dataclass
from coldcheck.solve.faults.spread import Shown, SpreadSolver

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from numpy.typing import NDArray

    from coldcheck.bench.diagnosis.channels import Channel
    from coldcheck.bench.diagnosis.ripple import Rippling
    from coldcheck.bench.diagnosis.suspects import Case, Suspect
    from coldcheck.bench.instruments.instruments import Instrument
    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.faults.solver import _Good

    Array = NDArray[np.float64]

    Kept = tuple[int, Suspect, tuple[tuple[Case, Shown], ...]]
    """A suspect's place, the suspect, and what its cases show."""

SIGNAL_OFF = 0.03
"""Deviation of a meter's reading of a signal, as a share."""

DIFFER_VOLTS, DIFFER_SHARE = 1.0, 0.05
"""Volts, and the share of a net's voltage, from which two answers are two."""


@dataclass(frozen=True, slots=True)
class Solved:
    """What was solved: the sound circuit and its ripple, and of each suspect its cases."""

    rippling: Rippling
    cases: tuple[Kept, ...]


@dataclass(frozen=True, slots=True)
class Library:
    """Every suspect's models (H of them) for the channels (K) of a circuit.

    owner, size
        Of each model its suspect's place in ``suspects`` (H,), and its size (H,).
    joined
        Whether the next model is of the same suspect, and sizes in between are between them (H,).
    mean, covariance
        What is expected, (H, K), and how uncertain by tolerances, (H, K, K).
    noise
        Variance of a single reading by meter and floor, (H, K).
    unsolved
        Suspect's key -> why it has no models.
    lost
        Suspect's key -> nets that lose what held them.
    solved
        What all this is made from: further channels come from it without solving anew. ``None``
        for a few suspects beside others.
    """

    suspects: tuple[Suspect, ...]
    channels: tuple[Channel, ...]
    owner: NDArray[np.intp]
    size: Array
    joined: NDArray[np.bool_]
    mean: Array
    covariance: Array
    noise: Array
    unsolved: dict[str, str]
    lost: dict[str, tuple[str, ...]]
    solved: Solved | None = None

    def with_more(self, more: Library) -> Library:
        """The same with the suspects of another, of the same channels, after its own."""
        place = len(self.suspects)
        return replace(
            self, suspects=(*self.suspects, *more.suspects), lost={**self.lost, **more.lost},
            owner=np.concatenate([self.owner, more.owner + place]),
            size=np.concatenate([self.size, more.size]),
            joined=np.concatenate([self.joined, more.joined]),
            mean=np.concatenate([self.mean, more.mean]),
            covariance=np.concatenate([self.covariance, more.covariance]),
            noise=np.concatenate([self.noise, more.noise]),
        )  # fmt: skip

    def channel(self, kind: str, net: str, other: str = GROUND) -> int | None:
        """The place of a channel; ``None`` where there is none."""
        for k, channel in enumerate(self.channels):
            if (channel.kind, channel.net, channel.other) == (kind, net, other):
                return k
        return None


class NothingKnown(Exception):  # noqa: N818 - a condition, reported in words
    """The sound circuit itself has no numbers; the text says why."""


class SwitchedOn(SpreadSolver):
    """Solves every fault as switched on with it: gas tubes are dark until something strikes them.

    The fault solver lets a gas tube burn on that burned before the fault; at the bench the set has
    been off in between, and a tube may never strike that would go on burning.
    """

    def _known(self, state: str) -> _Good:
        good = super()._known(state)
        good.base = None
        return good


def _gas(circuit: Circuit) -> bool:
    return any(s.kind is SectionKind.REGULATOR for s in circuit.sections())


def _dark(dark: SwitchedOn, solved: Sequence[tuple[Case, Shown]]) -> Iterator[tuple[Case, Shown]]:
    """The cases that come out differently where no gas tube burned beforehand."""
    for case, burning in solved:
        if case.wiring is not None or not case.faults:
            continue
        found = dark.shown(case.faults)
        if isinstance(found, Shown) and _differ(found.volts, burning.volts):
            yield case, found


def _differ(one: Array, other: Array) -> bool:
    off = np.abs(one - other) > DIFFER_VOLTS + DIFFER_SHARE * np.abs(other)
    return bool(off.any() or (np.isnan(one) != np.isnan(other)).any())


def library_of(
    circuit: Circuit,
    suspects: Sequence[Suspect],
    meter: Instrument = DC_METER,
    told: Callable[[int, int], None] = lambda *_: None,
    models: Models | None = None,
) -> Library:
    """Solve every suspect, the first of which is the sound circuit. Raises NothingKnown.

    ``meter`` is what DC is read with; ``told`` hears how many cases of how many are done;
    ``models`` are those of the circuit where there are any yet.
    """
    models = models or models_of(circuit, meter)
    unsolved: dict[str, str] = {}
    dark = SwitchedOn(circuit) if _gas(circuit) else None
    every = [c for s in suspects for c in s.cases]
    shown, done = models.shown_all(every), 0
    kept: list[Kept] = []
    for place, suspect in enumerate(suspects):
        found = [(c, next(shown)) for c in suspect.cases]
        solved = [(c, s) for c, s in found if isinstance(s, Shown)]
        unsolved.update((suspect.key, s) for _, s in found if isinstance(s, str) and not solved)
        for some in [solved] if dark is None else [solved, list(_dark(dark, solved))]:
            models.add(place, suspect, some)
            kept.append((place, suspect, tuple(some)))
        done += len(found)
        told(done, len(every))
    return Library(
        tuple(suspects), models.channels, *models.known(), unsolved=unsolved, lost=models.lost,
        solved=Solved(models.rippling, tuple(kept)),
    )  # fmt: skip


def models_of(circuit: Circuit, meter: Instrument) -> Models:
    """What turns faults of a circuit into models; none of them yet. Raises NothingKnown."""
    solver = SpreadSolver(circuit)
    good = solver.shown(())
    if isinstance(good, str):
        raise NothingKnown(good)
    return Models(solver, channels_of(circuit, good, meter), rippling(solver, good), meter)


def with_channels(
    library: Library, circuit: Circuit, channels: Sequence[Channel], meter: Instrument = DC_METER
) -> Library:
    """The library with more channels, of pairs of points, from what was solved for it."""
    old = [k for k, c in enumerate(library.channels) if c.kind in (DC, AC)]
    seen = (*(library.channels[k] for k in old), *channels)
    some = len(old)
    assert library.solved is not None
    models = Models(SpreadSolver(circuit), seen, library.solved.rippling, meter, some)
    for place, suspect, solved in library.solved.cases:
        models.add(place, suspect, solved)
    more = len(library.channels) + np.arange(len(channels))
    *_, mean, found, noise = models.known()
    wide = np.pad(library.covariance, ((0, 0), (0, len(channels)), (0, len(channels))))
    wide[:, np.array(old)[:, None], more] = found[:, :some, some:]
    wide[:, more[:, None], np.array(old)] = found[:, some:, :some]
    wide[:, more[:, None], more] = found[:, some:, some:]
    return replace(
        library,
        channels=(*library.channels, *channels),
        mean=np.hstack([library.mean, mean[:, some:]]),
        covariance=wide,
        noise=np.hstack([library.noise, noise[:, some:]]),
    )


def with_apart(
    library: Library, channels: Sequence[Channel], mean: Array, own: Array, together: float = 0.0
) -> Library:
    """The library with channels that go with no other kind: means and variances (H, n).

    ``together`` is a deviation that all of them share.
    """
    count = len(channels)
    wide = np.pad(library.covariance, ((0, 0), (0, count), (0, count)))
    more = len(library.channels) + np.arange(count)
    wide[:, more[:, None], more] = together**2
    wide[:, more, more] += own
    return replace(
        library, channels=(*library.channels, *channels), mean=np.hstack([library.mean, mean]),
        covariance=wide, noise=np.hstack([library.noise, np.full_like(mean, SIGNAL_OFF**2)]),
    )  # fmt: skip


def models_for(models: Models, library: Library) -> Models:
    """The same circuit and meter for the channels of a library; none of its faults yet."""
    found = Models(models.solver, library.channels, models.rippling, models.meter)
    found.usual_signal = np.where(np.isin(found.kinds, BY_THEMSELVES), library.mean[0], 0.0)
    return found
