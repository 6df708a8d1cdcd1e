"""The warm-up in a text report: what stands higher on the way than it does when warm."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.text import Text

from coldcheck.report.review.switched_off import short_state
from coldcheck.report.shared.lines import columns, paragraph, say, show
from coldcheck.report.shared.numbers import volts
from coldcheck.report.shared.plain import clean, listed
from coldcheck.solve.solution import WARM
from coldcheck.solve.warmup import warm_up

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from rich.console import Console

    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.solution import Solution
    from coldcheck.solve.warmup import Peak, WarmUp
    from coldcheck.verdict.review import Review

TITLE = "Warming up: higher on the way than when warm, volts at the worst instant"
SHARE, VOLTS = 1.1, 5.0
"""Only what is a tenth and five volts higher on the way is told."""

_NONE = "–"


def print_warm_up(console: Console, review: Review) -> None:
    """Print what the way from switch-on to warm strains more than the warm set; else nothing."""
    warming = review.worked.warm_up() if review.worked is not None else None
    if warming is None or review.circuit is None:
        return
    rows = list(higher(warming, when_warm(review.circuit, review.solutions.get(WARM))))
    if not rows and not warming.missing:
        return
    say(console)
    say(console, TITLE, "bold")
    if rows:
        table = columns("", "highest", "warm")
        table.add_column("in", no_wrap=True)
        for label, peak, now in rows:
            before = _NONE if now is None else volts(now)
            cells = (label, volts(peak.volts), before, short_state(peak.state))
            table.add_row(*(Text(clean(cell)) for cell in cells))
        show(console, table)
    if warming.missing:
        paragraph(console, clean(f"not solved: {listed(warming.missing)}"), 2)


def when_warm(circuit: Circuit, warm: Solution | None) -> WarmUp:
    """What the same capacitors, heaters and grids see when warm: a way of one step."""
    return warm_up(circuit, {} if warm is None else {WARM: warm})


def higher(warming: WarmUp, warm: WarmUp) -> Iterator[tuple[str, Peak, float | None]]:
    """Label, peak and warm value of what is noticeably higher on the way."""
    yield from _beyond("", warming.capacitors, warm.capacitors)
    yield from _beyond(" heater-k", warming.heaters, warm.heaters)
    for label, peak, now in _beyond(" grid", warming.grids, warm.grids):
        if peak.volts > VOLTS:  # a grid that is merely less negative is not strained
            yield label, peak, now


def _beyond(
    suffix: str, peaks: Iterable[Peak], warm: Iterable[Peak]
) -> Iterator[tuple[str, Peak, float | None]]:
    known = {p.at: p.volts for p in warm}
    for peak in peaks:
        now = known.get(peak.at)
        before, size = abs(now or 0.0), abs(peak.volts)
        if size > VOLTS + before and size > SHARE * before:
            yield peak.at + suffix, peak, now
