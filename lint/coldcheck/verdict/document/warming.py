"""The warm-up: what stands higher on the way than it does when warm."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.solve.solution import WARM
from coldcheck.solve.warmup import warm_up
from coldcheck.verdict.document.content import PeakTold, WarmUpTold
from coldcheck.verdict.document.digits import rounded

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.solution import Solution
    from coldcheck.solve.warmup import Peak, WarmUp
    from coldcheck.verdict.review import Review

SHARE, VOLTS = 1.1, 5.0
"""Only what is a tenth and five volts higher on the way is told."""


def warm_up_told(review: Review) -> WarmUpTold | None:
    """The way from switch-on to warm beside the warm set."""
    if review.worked is None or review.circuit is None:
        return None
    way = review.worked.warm_up()
    warm = when_warm(review.circuit, review.solutions.get(WARM))
    return beside(way, warm)


def beside(way: WarmUp, warm: WarmUp) -> WarmUpTold:
    """Each peak of the way beside what is there when warm."""
    return WarmUpTold(
        way.steps,
        way.missing,
        tuple(_peaks(way.capacitors, warm.capacitors)),
        tuple(_peaks(way.heaters, warm.heaters)),
        # A grid that is merely less negative is not strained.
        tuple(_peaks(way.grids, warm.grids, least=VOLTS)),
    )


def when_warm(circuit: Circuit, warm: Solution | None) -> WarmUp:
    """What the same capacitors, heaters and grids see when warm: a way of one step."""
    return warm_up(circuit, {} if warm is None else {WARM: warm})


def _peaks(
    way: Iterable[Peak], warm: Iterable[Peak], least: float | None = None
) -> Iterator[PeakTold]:
    known = {p.at: p.volts for p in warm}
    for peak in way:
        now = known.get(peak.at)
        strained = _beyond(peak.volts, now) and (least is None or peak.volts > least)
        yield PeakTold(peak.at, rounded(peak.volts), rounded(now), peak.state, strained)


def _beyond(volts: float, warm: float | None) -> bool:
    size, before = abs(volts), abs(warm or 0.0)
    return size > VOLTS + before and size > SHARE * before
