"""Two faults at once, where no single one explains the readings or the best fits loosely.

Which pairs are worth solving is guessed from the singles: what two would show is about what one
shows, moved by what the other does to the sound circuit (its volts added, or in proportion, as
a rail does to what it feeds). Those that come nearest are solved as they are.
"""

from __future__ import annotations

from dataclasses import replace
from math import exp
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.bench.diagnosis.diagnosis import BOTH, Diagnosis
from coldcheck.bench.diagnosis.library import Library
from coldcheck.bench.diagnosis.models import BY_THEMSELVES
from coldcheck.bench.diagnosis.readings import DC
from coldcheck.bench.diagnosis.suspects import GOOD, TWO, Case, Suspect
from coldcheck.records import dataclass
from coldcheck.solve.faults.spread import Shown

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from coldcheck.bench.diagnosis.models import Models

    Array = NDArray[np.float64]

TRIED = 60
"""Pairs that are solved."""

HARD = 2
"""Of those so many that are slow to solve."""

EARNED = 0.01
"""Share of the belief below which two faults explain no more than one of them does."""

LEAST = 2
"""Readings below which no two faults are looked for: two may show anything there."""

NEIGHBOURS = 4.0
"""Sizes of two suspects beside the solved ones that would explain the readings about as well."""

REFINED, FITTED, FARTHEST = 12, 2, 1.0
"""Pairs whose sizes are fitted, how often, and how far at a time (logarithm)."""

SMALL_VOLTS = 1.0
"""Volts below which proportions say nothing."""


@dataclass(frozen=True, slots=True)
class _Pair:
    """Two faults at these sizes: the models of each alone, and what both together would show."""

    suspect: Suspect
    one: int
    other: int
    sizes: tuple[float, float]
    mean: Array
    covariance: Array
    noise: Array


def wanted(diagnosis: Diagnosis) -> bool:
    """Whether two faults are to be looked for."""
    return len(diagnosis.taken) >= LEAST and diagnosis.ranked()[0].loose


def with_pairs(diagnosis: Diagnosis, models: Models) -> Diagnosis:
    """The diagnosis of the same readings with the pairs that may explain them."""
    more = _solved(diagnosis, models)
    if more is None:
        return diagnosis
    every = _again(diagnosis, more)
    worth = {r.suspect.key for r in every.ranked() if r.share >= EARNED}
    kept = [k for k, s in enumerate(more.suspects) if s.key in worth]
    return _again(diagnosis, _only(more, kept)) if kept else diagnosis


def _again(diagnosis: Diagnosis, more: Library) -> Diagnosis:
    """The same readings with more suspects."""
    found = Diagnosis(diagnosis.library.with_more(more))
    for channel, value in diagnosis.taken:
        found.take_value(channel, value)
    return found


def _only(library: Library, kept: Sequence[int]) -> Library:
    """A library of pairs, one model each, with these alone."""
    return replace(
        library, suspects=tuple(library.suspects[k] for k in kept), owner=np.arange(len(kept)),
        size=library.size[kept], joined=library.joined[kept], mean=library.mean[kept],
        covariance=library.covariance[kept], noise=library.noise[kept],
    )  # fmt: skip


def _solved(diagnosis: Diagnosis, models: Models) -> Library | None:
    """The models of the pairs that come nearest, the likeliest of them at fitted sizes."""
    models.begin()
    library = diagnosis.library
    near = [p for a, b in _nearest(diagnosis) for p in _pair(library, a, b)]
    found = _added(library, models, near)
    for _ in range(FITTED):
        found.sort(key=lambda p: -_likely(diagnosis, p))
        better = [q for p in found[:REFINED] for q in _refined(diagnosis, p)]
        again = {p.suspect.key: p for p in _added(library, models, better)}
        likelier = [again.get(p.suspect.key, p) for p in found]
        pairs = zip(found, likelier, strict=True)
        found = [max(both, key=lambda p: _likely(diagnosis, p)) for both in pairs]
    return _library(models, found) if found else None


def _added(library: Library, models: Models, pairs: Sequence[_Pair]) -> list[_Pair]:
    """The pairs that have an answer, each with its model."""
    first, found = len(models.rows), list[_Pair]()
    shown = models.shown_all([p.suspect.cases[0] for p in pairs], HARD)
    for pair, one in zip(pairs, shown, strict=True):
        if isinstance(one, Shown):
            models.add(len(found), pair.suspect, [(pair.suspect.cases[0], one)])
            found.append(pair)
    if not found:
        return []
    _, _, _, mean, covariance, noise = models.known(first)
    return [
        _overheard(library, replace(p, mean=m, covariance=c, noise=n))
        for p, m, c, n in zip(found, mean, covariance, noise, strict=True)
    ]


def _overheard(library: Library, pair: _Pair) -> _Pair:
    """The pair with what is not worked out for pairs: what one does to it and the other added."""
    at = [k for k, c in enumerate(library.channels) if c.kind in BY_THEMSELVES]
    if not at:
        return pair
    mean, covariance = pair.mean.copy(), pair.covariance.copy()
    one, other, sound = (library.mean[m, at] for m in (pair.one, pair.other, 0))
    mean[at] = one + other - sound
    block = np.ix_(at, at)
    covariance[block] = library.covariance[pair.one][block] + library.covariance[pair.other][block]
    return replace(pair, mean=mean, covariance=covariance)


def _library(models: Models, pairs: Sequence[_Pair]) -> Library:
    count = len(pairs)
    return Library(
        tuple(p.suspect for p in pairs), models.channels, np.arange(count), np.zeros(count),
        np.zeros(count, dtype=bool), np.array([p.mean for p in pairs]),
        np.array([p.covariance for p in pairs]), np.array([p.noise for p in pairs]),
        unsolved={}, lost={},
    )  # fmt: skip


def _at_taken(diagnosis: Diagnosis, pair: _Pair) -> tuple[list[int], Array, Array]:
    """The channels that were read, what the readings are off, and the inverse of the spread."""
    at = [channel for channel, _ in diagnosis.taken]
    values = np.array([value for _, value in diagnosis.taken])
    spread = pair.covariance[np.ix_(at, at)] + np.diag(pair.noise[at])
    return at, values - pair.mean[at], np.asarray(np.linalg.inv(spread), dtype=float)


def _likely(diagnosis: Diagnosis, pair: _Pair) -> float:
    """The logarithm of the likelihood of the readings with a pair, and of its weight."""
    _, off, inverse = _at_taken(diagnosis, pair)
    about = float(np.linalg.slogdet(inverse)[1] - off @ inverse @ off) / 2
    return about + float(np.log(pair.suspect.weight))


def _refined(diagnosis: Diagnosis, pair: _Pair) -> Iterator[_Pair]:
    """The pair at the sizes that fit better, by how each alone moves with its size."""
    at, off, inverse = _at_taken(diagnosis, pair)
    library = diagnosis.library
    slopes = np.array([_slope(library, m)[at] for m in (pair.one, pair.other)])
    matrix = slopes @ inverse @ slopes.T + np.eye(2)  # a factor of e is as far as one trusts it
    moved = np.clip(np.linalg.solve(matrix, slopes @ inverse @ off), -FARTHEST, FARTHEST)
    a, b = (s * exp(m) for s, m in zip(pair.sizes, moved, strict=True))
    yield from _pair(library, pair.one, pair.other, (a, b))


def _slope(library: Library, model: int) -> Array:
    """How what a suspect shows moves with the logarithm of its size, (K,)."""
    nearby = [m for m in (model, model - 1) if m >= 0 and library.joined[m]]
    if not nearby:
        return np.zeros(len(library.channels))
    m = nearby[0]
    step = np.log(library.size[m + 1] / library.size[m])
    return np.asarray((library.mean[m + 1] - library.mean[m]) / step)


def _nearest(diagnosis: Diagnosis) -> Iterator[tuple[int, int]]:
    """Models of two suspects each that come nearest to the readings, the nearest first."""
    score = _scores(diagnosis)
    owner, found, seen = diagnosis.library.owner, 0, set()
    order = np.argsort(-score, axis=None)[: 400 * TRIED]
    for a, b in zip(*np.unravel_index(order, score.shape), strict=True):
        both = frozenset((int(owner[a]), int(owner[b])))
        if both in seen or len(both) == 1 or 0 in both or not np.isfinite(score[a, b]):
            continue
        seen.add(both)
        yield int(a), int(b)
        found += 1
        if found == TRIED:
            return


def _scores(diagnosis: Diagnosis) -> Array:
    """How likely the readings would be with a pair, guessed, with its weight: (H, H) logarithms."""
    library = diagnosis.library
    at = [channel for channel, _ in diagnosis.taken]
    values = np.array([value for _, value in diagnosis.taken])
    mean = library.mean[:, at]
    dc = np.array([library.channels[k].kind == DC for k in at]) & (np.abs(mean[0]) > SMALL_VOLTS)
    moved, times = mean - mean[0], np.where(dc, mean / np.where(dc, mean[0], 1.0), 1.0)
    weight = np.log([s.weight for s in library.suspects])[library.owner]
    weight = weight - np.log(np.bincount(library.owner))[library.owner]
    out = np.full((len(mean), len(mean)), -np.inf)
    for k, own in enumerate(mean):
        spread = library.covariance[k][np.ix_(at, at)] + np.diag(library.noise[k, at])
        half = np.linalg.inv(np.linalg.cholesky(spread))
        added = ((values - own - moved) @ half.T) ** 2
        scaled = ((values - np.where(dc, own * times, own + moved)) @ half.T) ** 2
        least = np.minimum(added.sum(axis=1), scaled.sum(axis=1))
        out[k] = np.log(np.diag(half)).sum() - 0.5 * least + weight[k] + weight
    return out


def _pair(
    library: Library, one: int, other: int, sizes: tuple[float, float] | None = None
) -> Iterator[_Pair]:
    """Two suspects at the sizes of these models, or at others.

    None where both have leads elsewhere, or are of one part.
    """
    a, b = (library.suspects[int(library.owner[m])] for m in (one, other))
    a_size, b_size = sizes or (float(library.size[one]), float(library.size[other]))
    first, second = _at(a, a_size), _at(b, b_size)
    if GOOD in (a, b) or set(a.parts) & set(b.parts) or (first.wiring and second.wiring):
        return
    many = [int((library.owner == library.owner[m]).sum()) for m in (one, other)]
    total = sum(s.weight for s in library.suspects if s.kind != TWO)
    weight = BOTH * a.weight * b.weight / total * _few(many[0] * many[1])
    case = Case(0.0, (*first.faults, *second.faults), first.wiring or second.wiring)
    words = f"two faults: {a.said(first.size)}; and {b.said(second.size)}"
    parts = (*a.parts, *b.parts)
    suspect = Suspect(f"{a.key} + {b.key}", TWO, parts, words, weight, (case,))
    nothing = np.zeros(0)
    yield _Pair(suspect, one, other, (first.size, second.size), nothing, nothing, nothing)


def _few(sizes: int) -> float:
    """The share of the pairs of sizes that one which was solved stands for."""
    return min(NEIGHBOURS / sizes, 1.0)


def _at(suspect: Suspect, size: float) -> Case:
    """A suspect at a size: what was solved nearest to it, with the size itself put in."""
    near = min(suspect.cases, key=lambda c: abs(np.log((c.size or 1.0) / (size or 1.0))))
    if size == near.size or len(near.faults) != 1 or near.wiring is not None:
        return near
    (fault,) = near.faults
    if fault.magnitude != near.size:  # open for good is no size of a resistor
        return near
    return replace(near, size=size, faults=(replace(fault, magnitude=size),))
