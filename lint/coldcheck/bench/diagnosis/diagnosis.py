"""Which single fault explains all readings together best, and what to measure next.

Every model of the library is a normal distribution of all readings. They are taken in one after
the other: each reading is judged against what the earlier ones leave open of it (conditioning a
normal distribution), so that a low mains voltage that moves all points together speaks against
nothing. Between two sizes that were solved the size is a parameter fitted from the readings: what
is expected moves evenly with its logarithm, so what is left is a parabola of it. A suspect's
likelihood is the mean over its sizes; with its weight it gives the share of belief (Bayes' rule).
That it is something that is not considered here has a share as well.
"""

from __future__ import annotations

from dataclasses import field
from itertools import combinations
from math import exp, inf
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.bench.diagnosis.channels import read_back, scaled
from coldcheck.bench.diagnosis.ranked import SELDOM, Next, Ranked, Weighed, chance
from coldcheck.bench.diagnosis.readings import DC
from coldcheck.bench.diagnosis.suspects import TWO
from coldcheck.bench.diagnosis.worth import SETTLES, both, information, pains
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from numpy.typing import NDArray

    from coldcheck.bench.diagnosis.library import Library
    from coldcheck.bench.diagnosis.readings import Reading
    from coldcheck.bench.diagnosis.suspects import Suspect

    Array = NDArray[np.float64]

APART = 1.5
"""Two suspects whose readings differ by less, in standard deviations of all readings together,
are not to be told apart by them."""

BARELY = 3.0
"""Two suspects whose likelihoods differ by no more than this factor are not decided between:
"barely worth mentioning" on the scale of Jeffreys ("Theory of Probability", 1961; from memory)."""

SOUND = 0.2
"""Share of the belief before any reading that nothing is wrong (a choice of ours): so much has to
speak against a part in a large circuit as in a small one."""

OUTSIDE = 0.02
"""Share of the belief before any reading that it is something not considered here (a choice of
ours): every reading is then open, about as wide as all suspects and the sound circuit together."""

DOUBT = 0.15
"""Share of the belief that it is something else, at least, where the best fits loosely: readings
that far off come about once in twenty if it is right."""

BOTH = 0.1
"""How often a set has two faults, over having one (a choice of ours)."""

SURE_OF_TWO = 0.8
"""How much is believed of all pairs that were solved: others, not solved, fit as well at times."""

SEEN, TELLS = 3.0, 3.0
"""Deviations from the sound circuit from which a suspect shows at a point, and bits that it tells
that a second fault shows there."""

WIDER = 0.3
"""Of a reading's size, so much at least."""

LIKELY = 1e-3
"""Share of the belief below which a suspect is no longer asked for the next point."""

BEST, CLOSEST, GOES_WITH = 5, 3, 0.3
"""Channels that are looked at by twos, those of them whose companion is looked at too, and the
share of a reading's variance that the companion has to explain."""

MANY, FEW = 40, 4
"""Suspects that are gone through for what they would show at a point, and that are told."""

SEVERAL, SAME = 4, 0.9
"""Points looked at for each that is told, and the share of a reading that another one
foretells from which it is the same again."""

TOLD = 5e-3
"""Share of the belief below which it is not said what a suspect would show at the next point."""


@dataclass(slots=True)
class Diagnosis:
    """Readings taken in one by one."""

    library: Library
    taken: list[tuple[int, float]] = field(default_factory=list)
    _mean: Array = field(init=False)
    _variance: Array = field(init=False)
    _known: list[tuple[Array, Array]] = field(default_factory=list)
    _log: Array = field(init=False)
    _misfit: Array = field(init=False)
    _step: Array = field(init=False)
    _slope: Array = field(init=False)
    _bend: Array = field(init=False)
    _weights: Array = field(init=False)
    _open: tuple[Array, Array] = field(init=False)
    _log_open: float = 0.0
    _shows: Array | None = None

    def __post_init__(self) -> None:
        self._mean = self.library.mean.copy()
        self._variance = np.diagonal(self.library.covariance, axis1=1, axis2=2).copy()
        self._log = np.zeros(len(self._mean))
        self._misfit = np.zeros(len(self._mean))
        self._slope, self._bend = np.zeros(len(self._mean)), np.zeros(len(self._mean))
        self._step = self._steps()
        self._weights = np.array([s.weight for s in self.library.suspects])
        single = np.array([s.kind != TWO for s in self.library.suspects])
        self._weights[0] = SOUND / (1 - SOUND) * max(self._weights[1:][single[1:]].sum(), 1.0)
        self._open = self._anything()

    def take(self, readings: Iterable[Reading]) -> tuple[Reading, ...]:
        """Take readings in; those of which the models know nothing come back.

        Several of one channel count as one, their mean: reading a point again with the same meter
        says nothing new of the circuit, and a thousand of them are no more work than one.
        """
        left, values = [], dict[int, list[float]]()
        for reading in readings:
            channel = self.library.channel(reading.kind, reading.net, reading.other)
            if channel is None:
                left.append(reading)
            else:
                values.setdefault(channel, []).append(scaled(reading.kind, reading.value))
        for channel, several in values.items():
            self.take_value(channel, sum(several) / len(several))
        return tuple(left)

    def take_value(self, channel: int, value: float) -> None:
        """Take one reading in, as :func:`~coldcheck.bench.diagnosis.channels.scaled` has it."""
        self.taken.append((channel, value))
        column = self._column(channel)
        total = column[:, channel] + self.library.noise[:, channel]
        off, step = value - self._mean[:, channel], self._step[:, channel]
        self._log -= 0.5 * (off**2 / total + np.log(2 * np.pi * total))
        self._misfit += off**2 / total
        self._slope += off * step / total
        self._bend += step**2 / total
        middle, wide = (x[channel] for x in self._open)
        self._log_open -= 0.5 * float((value - middle) ** 2 / wide + np.log(2 * np.pi * wide))
        gain = column / total[:, None]
        self._mean += gain * off[:, None]
        self._step -= gain * step[:, None]
        self._variance -= gain * column
        self._known.append((column, gain))

    def _column(self, channel: int) -> Array:
        """The covariance (H, K) of all channels with one, as what is known so far leaves it."""
        column = self.library.covariance[:, :, channel].copy()
        for known, gain in self._known:
            column -= gain * known[:, channel, None]
        return column

    def _steps(self) -> Array:
        """What is expected at the next size less what is at a model's own, (H, K)."""
        mean = self.library.mean
        after = np.append(mean[1:], mean[-1:], axis=0)
        return np.where(self.library.joined[:, None], after - mean, 0.0)

    def _toward(self) -> Array:
        """The share of the way to the next size where each model is likeliest, (H,)."""
        return np.asarray(np.clip(self._slope / np.maximum(self._bend, 1e-12), 0.0, 1.0))

    def _cells(self) -> tuple[Array, Array, Array]:
        """Of each model and the way to the next size: the best place, its gain, and the mean.

        The gain is of the logarithm of the likelihood there; the mean, of the likelihood over the
        way, is that times the width of its peak, or of its fall at an end.
        """
        t = self._toward()
        gain = t * (self._slope - 0.5 * t * self._bend)
        falls = np.abs(self._slope - t * self._bend)
        width = np.minimum(np.sqrt(2 * np.pi / np.maximum(self._bend, 1e-12)), 1.0)
        return t, gain, np.minimum(width, 1 / np.maximum(falls, 1.0))

    def _anything(self) -> tuple[Array, Array]:
        """Mean and variance (K,) of readings if it is something that is not considered here."""
        dc = np.array([c.kind == DC for c in self.library.channels], dtype=bool)
        middle, mean = self.library.mean[0], self.library.mean
        wide = ((mean - middle) ** 2).mean(axis=0)
        least = np.where(dc, 1.0 + WIDER * np.abs(middle), 1.0)
        return middle, np.asarray(wide + least**2)

    # -- ranking --------------------------------------------------------------------------

    @property
    def outside(self) -> float:
        """The share of belief that it is something that is not considered here."""
        return self._shared()[2]

    def _beliefs(self) -> tuple[Array, Array]:
        """The share of belief of each suspect (F,), and of each model in its suspect (H,)."""
        return self._shared()[:2]

    def _shared(self) -> tuple[Array, Array, float]:
        owner, count = self.library.owner, len(self.library.suspects)
        _, gain, width = self._cells()
        best = self._log + gain
        most = best.max(initial=-np.inf)
        relative = width * np.exp(np.maximum(best - most, -700.0))
        models = np.bincount(owner, minlength=count)
        within = np.bincount(owner, relative, minlength=count)
        belief = self._weights * within / np.maximum(models, 1)
        two = np.array([s.kind == TWO for s in self.library.suspects])
        usual = self._weights[~two].sum()
        outside = OUTSIDE * usual * np.exp(np.clip(self._log_open - most, -700.0, 700.0))
        outside += (1 / SURE_OF_TWO - 1) * belief[two].sum()
        if self._loose(best + np.log(self._weights[owner])):
            outside = max(outside, DOUBT / (1 - DOUBT) * belief.sum())
        total = belief.sum() + outside
        return belief / total, relative / within[owner], float(outside / total)

    def _loose(self, standing: Array) -> bool:
        """Whether what stands highest of the models (H,) fits loosely, at its likeliest size."""
        first = int(standing.argmax())
        left = self._misfit[first] - 2 * self._cells()[1][first]
        return bool(self.taken) and left > chance(len(self.taken), SELDOM)

    def ranked(self) -> tuple[Ranked, ...]:
        """All suspects that have models, the likeliest first."""
        shares, _ = self._beliefs()
        toward, gain, _ = self._cells()
        fit, best = self._log + gain, dict[int, int]()
        for model, owner in enumerate(self.library.owner.tolist()):
            if owner not in best or fit[model] > fit[best[owner]]:
                best[owner] = model
        most = max(fit[m] for m in best.values())
        found = [
            self._ranked(
                m, float(toward[m]), float(shares[o]), float(fit[m] - most), float(gain[m])
            )
            for o, m in best.items()
        ]
        return tuple(sorted(found, key=lambda r: (-r.share, r.misfit)))

    def _ranked(self, model: int, toward: float, share: float, fit: float, gain: float) -> Ranked:
        count, size = max(len(self.taken), 1), self.library.size
        between = float(size[model])
        if toward:
            between = float(size[model] ** (1 - toward) * size[model + 1] ** toward)
        left = max(float(self._misfit[model]) - 2 * gain, 0.0) / count
        suspect = self.library.suspects[int(self.library.owner[model])]
        return Ranked(suspect, share, exp(max(fit, -700.0)), between, left, model, count, toward)

    def groups(self) -> tuple[tuple[Ranked, ...], ...]:
        """The ranking in groups that these readings cannot separate, the likeliest group first.

        A group is what lies within ``APART`` of its likeliest member, or is only ``BARELY`` less
        likely by the readings alone. To the sound circuit's group belongs whatever lies within
        ``APART`` of that: what these readings do not show. What the readings refute, the sound
        circuit before all, is in no group with what they do not: a suspect that leaves a reading
        wide open lies near everything.
        """
        rest, found = list(self.ranked()), []
        while rest:
            alike = [r for r in rest if r.refuted == rest[0].refuted]
            near = self._near(rest[0], alike)
            good = next((r for r in alike if r.model in near and self._sound(r)), None)
            if good is not None:
                near |= self._near(good, alike)
            found.append(tuple(r for r in rest if r.model in near))
            rest = [r for r in rest if r.model not in near]
        return tuple(sorted(found, key=lambda g: -sum(r.share for r in g)))

    def _sound(self, ranked: Ranked) -> bool:
        return ranked.suspect is self.library.suspects[0]

    def _near(self, first: Ranked, rest: list[Ranked]) -> set[int]:
        """The models of those that cannot be told from one of them."""
        far = self._apart(rest, first)
        pairs = zip(rest, far, strict=True)
        return {
            r.model for r, d in pairs if d <= APART or first.likelihood <= BARELY * r.likelihood
        }

    def apart(self, models: Sequence[int], other: int) -> Array:
        """How far models' readings are from another's at what was taken, in deviations, (M,).

        Of all readings together, under the other model.
        """
        return self._far(self.library.mean[list(models)], self.library.mean[other], other)

    def _apart(self, several: Sequence[Ranked], other: Ranked) -> Array:
        """The same of suspects at their likeliest sizes."""
        means = np.array([self._expected(r) for r in several])
        return self._far(means, self._expected(other), other.model)

    def _expected(self, ranked: Ranked) -> Array:
        """What a suspect would show at its likeliest size, (K,), before any reading."""
        mean, model = self.library.mean, ranked.model
        if not ranked.toward:
            return np.asarray(mean[model])
        return np.asarray(mean[model] + ranked.toward * (mean[model + 1] - mean[model]))

    def _far(self, means: Array, mean: Array, other: int) -> Array:
        """How far such means (M, K) are from another's at what was taken, in its deviations."""
        channels = sorted({channel for channel, _ in self.taken})
        spread = self.library.covariance[other][np.ix_(channels, channels)]
        spread = spread + np.diag(self.library.noise[other, channels])
        moved = means[:, channels] - mean[channels]
        square = np.einsum("mk,km->m", moved, np.linalg.solve(spread, moved.T))
        return np.asarray(np.sqrt(np.maximum(square, 0.0)))

    def weighed(self, ranked: Ranked) -> tuple[Weighed, ...]:
        """Each reading by itself under a suspect at its likeliest size."""
        expected = self._expected(ranked)
        return tuple(
            self._weighed(channel, value, ranked.model, float(expected[channel]))
            for channel, value in self.taken
        )

    def _weighed(self, channel: int, value: float, model: int, expected: float) -> Weighed:
        known, where = self.library, self.library.channels[channel]

        def off(m: int, mean: float) -> float:
            variance = known.covariance[m, channel, channel] + known.noise[m, channel]
            return float((value - mean) / np.sqrt(variance))

        good = int(np.flatnonzero(known.owner == 0)[0])
        sound = float(known.mean[good, channel])
        offs, nearer = (off(model, expected), off(good, sound)), _nearer(value, expected, sound)
        value, expected = read_back(where.kind, value), read_back(where.kind, expected)
        return Weighed(where.point, where.kind, value, expected, *offs, nearer)

    # -- the next point -------------------------------------------------------------------

    def varied_points(self, count: int = 3) -> tuple[Next, ...]:
        """The same without those that tell what one before them does: another end of a winding."""
        found: list[Next] = []
        good = int(np.flatnonzero(self.library.owner == 0)[0])
        for one in self.next_points(SEVERAL * count):
            at = self.library.channels.index(one.channel)
            goes = self._column(at)[good] ** 2
            own = self._variance[good] * self._variance[good, at] + 1e-30
            same = [self.library.channels.index(n.channel) for n in found
                    if n.channel.kind == one.channel.kind]  # fmt: skip
            if all(goes[k] <= SAME * own[k] for k in same):
                found.append(one)
        return tuple(found[:count])

    def next_points(self, count: int = 3) -> tuple[Next, ...]:
        """The readings not yet taken that separate the remaining suspects best.

        A point at ``DANGER_VOLTS`` has to tell twice as much as one at next to nothing, and so
        has one for which the power is to be switched, if nothing more is read with it so.
        """
        bits, worth = self._worth()
        order = [int(k) for k in np.argsort(-worth)[:count] if worth[k] > -inf]
        leading = [r for r in self.ranked()[:MANY] if r.share >= TOLD]
        return tuple(
            Next(self.library.channels[k], float(bits[k]), self._telling(k, leading)) for k in order
        )

    def _telling(
        self, channel: int, leading: Sequence[Ranked]
    ) -> tuple[tuple[Suspect, float, float], ...]:
        """What the first would show there, and those that would show something else."""
        kind = self.library.channels[channel].kind
        known = [(r, *self._shown_at(r, channel)) for r in leading]
        other = [x for x in known[1:] if abs(x[1] - known[0][1]) > max(x[2], known[0][2])]
        found = []
        for r, mean, deviation in [*known[:1], *(other or known[1:])][:FEW]:
            value, far = (read_back(kind, mean + x) for x in (0.0, deviation))
            wide = deviation if kind == DC else (0.0 if value == inf else far - value)
            found.append((r.suspect, value, wide))
        return tuple(found)

    def _shown_at(self, ranked: Ranked, channel: int) -> tuple[float, float]:
        """What a suspect would show at a channel, as the models have it, and the deviation."""
        model = ranked.model
        mean = self._mean[model, channel] + ranked.toward * self._step[model, channel]
        variance = self._variance[model, channel] + self.library.noise[model, channel]
        return float(mean), float(variance**0.5)

    def _worth(self) -> tuple[Array, Array]:
        """Bits of a reading of each channel, (K,), and what it is worth: bits for its pains.

        That is by itself or with another after it, whichever is more: what the mains is tells
        nothing of a fault, and much beside a rail. ``-inf`` for what is not to be read.
        """
        channels = self.library.channels
        kept, p, within = self._asked()
        bits = self._bits(kept, p, within) + self._second()
        last = channels[self.taken[-1][0]] if self.taken else None
        cost = pains(channels, last)
        worth = bits / cost
        done = [channel for channel, _ in self.taken]
        worth[[*done, *(k for k, c in enumerate(channels) if c.wait > SETTLES)]] = -inf
        found = worth.copy()
        for a, b, told in self._pairs(kept, p, within, worth):
            for first, second in ((a, b), (b, a)):
                after = pains(channels, channels[first])[second]
                found[first] = max(found[first], told / (cost[first] + after))
        return bits, found

    def _asked(self) -> tuple[NDArray[np.intp], Array, Array]:
        """The suspects that the next point is asked for, their shares, and all models' within."""
        shares, within = self._beliefs()
        kept = np.flatnonzero(shares > LIKELY * shares.max())
        return kept, shares[kept] / shares[kept].sum(), within

    def _bits(self, kept: NDArray[np.intp], p: Array, within: Array) -> Array:
        """Expected information of a reading of each channel about which suspect it is, (K,).

        A lower bound: -sum p_i ln sum p_j exp(-B_ij) with Bhattacharyya's distance B between what
        two suspects would show (Kolchinsky and Tracey, "Estimating mixture entropy with pairwise
        distances", 2017). A suspect of several sizes is one normal distribution here.
        """
        mean, variance = self._moments(kept, within)
        return np.array([information(p, m, v) for m, v in zip(mean.T, variance.T, strict=True)])

    def _pairs(
        self, kept: NDArray[np.intp], p: Array, within: Array, worth: Array
    ) -> Iterator[tuple[int, int, float]]:
        """Two channels of those worth most, and the bits that both together tell.

        With them what goes with the first of them in a sound circuit and is of another kind.
        """
        some = [int(k) for k in np.argsort(-worth)[:BEST] if worth[k] > -inf]
        some += [k for k in self._beside(some[:CLOSEST], worth) if k not in some]
        mean, covariance = self._together(kept, within, some)
        for a, b in combinations(range(len(some)), 2):
            at = [a, b]
            told = both(p, mean[:, at], covariance[:, at][:, :, at])
            yield some[a], some[b], told

    def _beside(self, some: Sequence[int], worth: Array) -> set[int]:
        """What goes closest with each channel in a sound circuit and is of another kind."""
        kinds = np.array([c.kind for c in self.library.channels])
        good = int(np.flatnonzero(self.library.owner == 0)[0])
        own = self._variance[good] + self.library.noise[good]
        found = set()
        for channel in some:
            close = self._column(channel)[good] ** 2 / (own * own[channel])
            close = np.where((kinds == kinds[channel]) | (worth == -inf), 0.0, close)
            if close.max(initial=0.0) > GOES_WITH:
                found.add(int(close.argmax()))
        return found

    def _together(
        self, kept: NDArray[np.intp], within: Array, some: Sequence[int]
    ) -> tuple[Array, Array]:
        """Means (F, S) and covariance (F, S, S) of what each suspect would show at channels."""
        spread = np.stack([self._column(k)[:, list(some)] for k in some], axis=1)
        spread = spread + np.eye(len(some)) * self.library.noise[:, None, list(some)]
        at = (self._mean + self._toward()[:, None] * self._step)[:, list(some)]
        square = spread + at[:, :, None] * at[:, None]
        mean, square = (self._mixed(kept, within, x) for x in (at, square))
        return mean, square - mean[:, :, None] * mean[:, None]

    def _mixed(self, kept: NDArray[np.intp], within: Array, of: Array) -> Array:
        """The mean (F, ...) over each suspect's sizes of what its models (H, ...) have."""
        owner = self.library.owner
        those, starts = np.unique(owner, return_index=True)
        weighed = within.reshape(-1, *[1] * (of.ndim - 1)) * of
        return np.asarray(np.add.reduceat(weighed, starts)[np.searchsorted(those, kept)])

    def _second(self) -> Array:
        """Bits that each channel tells of a second fault, (K,).

        By how common the suspects are that would show there and at nothing that was read so far.
        """
        known, owner = self.library, self.library.owner
        if self._shows is None:
            wide = np.diagonal(known.covariance, axis1=1, axis2=2) + known.noise
            wide = np.maximum(wide, wide[:1])
            shown = np.abs(known.mean - known.mean[0]) > SEEN * np.sqrt(wide)
            models = np.maximum(np.bincount(owner, minlength=len(known.suspects)), 1)
            each = np.zeros((len(known.suspects), len(known.channels)))
            np.add.at(each, owner, shown)
            self._shows = each / models[:, None]
        weight = self._weights * (np.arange(len(self._weights)) > 0)
        hidden = np.prod([1 - self._shows[:, k] for k, _ in self.taken], axis=0) * weight
        return np.asarray(BOTH * TELLS * hidden @ self._shows / weight.sum())

    def _moments(self, kept: NDArray[np.intp], within: Array) -> tuple[Array, Array]:
        """Mean and variance (F, K) of what each kept suspect would show."""
        at = self._mean + self._toward()[:, None] * self._step
        square = self._variance + self.library.noise + at**2
        mean, square = (self._mixed(kept, within, x) for x in (at, square))
        return mean, np.maximum(square - mean**2, 1e-12)


def _nearer(value: float, expected: float, sound: float) -> bool:
    """Whether a reading is nearer to what a suspect gives than to what a sound circuit does."""
    return abs(value - expected) < abs(value - sound)
