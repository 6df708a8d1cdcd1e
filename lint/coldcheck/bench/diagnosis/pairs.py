"""Two faults at once, where no single one explains the readings or the best fits loosely.

Which pairs are worth solving is guessed from the singles: what two would show is about what one
shows, moved by what the other does to the sound circuit (its volts added, or in proportion, as
a rail does to what it feeds). Those that come nearest are solved as they are.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.bench.diagnosis.diagnosis import BOTH, Diagnosis
from coldcheck.bench.diagnosis.library import Library
from coldcheck.bench.diagnosis.readings import DC
from coldcheck.bench.diagnosis.suspects import GOOD, TWO, Case, Suspect
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

SMALL_VOLTS = 1.0
"""Volts below which proportions say nothing."""


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
    """The models of the pairs that come nearest."""
    pairs = [_pair(diagnosis, a, b) for a, b in _nearest(diagnosis)]
    suspects = [p for p in pairs if p is not None]
    models.begin()
    first = len(models.rows)
    kept: list[Suspect] = []
    for suspect, shown in zip(
        suspects, models.shown_all([s.cases[0] for s in suspects], HARD), strict=True
    ):
        if isinstance(shown, Shown):
            models.add(len(kept), suspect, [(suspect.cases[0], shown)])
            kept.append(suspect)
    if not kept:
        return None
    return Library(tuple(kept), models.channels, *models.known(first), unsolved={}, lost={})


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


def _pair(diagnosis: Diagnosis, one: int, other: int) -> Suspect | None:
    """Two suspects at these sizes; ``None`` where both have leads elsewhere, or are one part."""
    library, singles = diagnosis.library, []
    for model in (one, other):
        suspect = library.suspects[int(library.owner[model])]
        case = _at(suspect, float(library.size[model]))
        many = int((library.owner == library.owner[model]).sum())
        singles.append((suspect, case, many))
    (a, first, a_many), (b, second, b_many) = singles
    if GOOD in (a, b) or set(a.parts) & set(b.parts) or (first.wiring and second.wiring):
        return None
    total = sum(s.weight for s in library.suspects if s.kind != TWO)
    weight = BOTH * a.weight * b.weight / total * _few(a_many * b_many)
    case = Case(0.0, (*first.faults, *second.faults), first.wiring or second.wiring)
    words = f"two faults: {a.said(first.size)}; and {b.said(second.size)}"
    parts = (*a.parts, *b.parts)
    return Suspect(f"{a.key} + {b.key}", TWO, parts, words, weight, (case,))


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
