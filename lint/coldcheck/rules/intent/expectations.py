"""Intent rules: what the designer said against what the circuit does."""

from __future__ import annotations

from dataclasses import replace
from math import isfinite
from typing import TYPE_CHECKING

from coldcheck.drawing.model import Expect
from coldcheck.drawing.statements import EXPECTED_IN
from coldcheck.drawing.units import si
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.finding import QUANTITY, Unjudged
from coldcheck.judge.rule import Rule, rule
from coldcheck.rules.intent.figures import NoFigure, predicted
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.rules.intent.figures import Predicted

UNMATCHED, EXPIRED = "intent.accept-unmatched", "intent.accept-expired"

BOUNDLESS = 1e6
"""The excess of what has no end, such as a charge that nothing drains."""

_REMEDIES = {
    "voltage": "Trace the point's feed and load; if the figure was wrong, correct the expect line",
    "current": "Look at what feeds it and what it feeds; if the figure was wrong, correct the "
    "expect line",
    "dissipation": "Look at its voltage and its current; if the figure was wrong, correct the "
    "expect line",
    "gain": "Look at the load, the cathode's bypass and the feedback of each stage on the way; if "
    "the figure was wrong, correct the expect line",
    "ripple": "Look at the filter ahead of it; if the figure was wrong, correct the expect line",
    "drain": "Put a bleeder of less resistance across it; if the figure was wrong, correct the "
    "expect line",
}


@rule(
    "intent.not-met",
    title="The circuit does not do what the drawing expects",
    level="notice",
    states="the state the expectation names, warm by default",
    needs="an `expect` line and a solution of its state",
    criterion=(
        "The predicted figure is outside the bounds the `expect` line gives: the DC of a point or "
        "between two, a current (DC; rms through windings, heaters, capacitors, fuses, lamps, "
        "speakers and switches), a dissipation, a gain at 1 kHz (of a stage, or from the signal "
        "to a point or across a part), the ripple of a point (rms), or the time until less than "
        "60 V is left after switch-off, in the slowest position of the switches."
    ),
    why=(
        "An expectation is the designer's own figure, from a calculation or an old service "
        "sheet. When the circuit as drawn gives another, either the figure or the drawing is "
        "wrong, and it is cheaper to find out before power is applied."
    ),
    source=Citation("drawing"),
    limits=(
        "The nominal prediction is compared with the bounds as they are written: that tubes and "
        "parts spread does not widen them. What starts below 50 V, and a capacitor of up "
        "to 0.1 uF (above 450 V: of up to 45 microcoulomb), counts as drained at once."
    ),
)
def not_met(case: Case) -> Iterator[Outcome]:
    """Compare every expectation with its prediction."""
    for expect in case.circuit.drawing.statements:
        if isinstance(expect, Expect):
            yield from _judge(case, expect)


def _judge(case: Case, expect: Expect) -> Iterator[Outcome]:
    try:
        found = predicted(case, expect)
    except NoFigure as reason:
        yield not_met.not_judged((expect.point.text,), str(reason), Unjudged.EXPECTATION)
    else:
        yield from _compare(case, expect, found)


def _compare(case: Case, expect: Expect, found: Predicted) -> Iterator[Finding]:
    unit = EXPECTED_IN[expect.quantity] or "dimensionless"
    low, high = si(expect.low, unit), si(expect.high, unit)
    below = 0.0 if low is None else low - found.value
    above = 0.0 if high is None else found.value - high
    miss, bound = (below, low) if below > above else (above, high)
    if miss <= 0:
        return
    finding = not_met.finding(
        case,
        _places(expect),
        f"{found.subject} is predicted at {found.said}; the drawing expects {_bounds(expect)}",
        _REMEDIES[expect.quantity],
        state=found.state,
        evidence=_evidence(expect, found, low, high),
        excess=min(1 + miss / _scale(expect, bound), BOUNDLESS),
    )
    yield _at_line(finding, expect)


def _places(expect: Expect) -> tuple[str, ...]:
    return tuple(p.text for p in (expect.point, expect.other) if p is not None)


def _scale(expect: Expect, bound: float | None) -> float:
    """What a miss is compared with; around 0 V it is a volt."""
    least = 1.0 if expect.quantity == "voltage" else 1e-12
    return max(abs(bound or 0.0), least)


def _evidence(
    expect: Expect, found: Predicted, low: float | None, high: float | None
) -> dict[str, Figure | str]:
    known = figure(found.value, found.unit) if isfinite(found.value) else found.said
    evidence: dict[str, Figure | str] = {found.key: known}
    if low is not None:
        evidence["lowest"] = figure(low, found.unit)
    if high is not None:
        evidence["highest"] = figure(high, found.unit)
    evidence[QUANTITY] = expect.quantity + (f" in {expect.state}" if expect.state else "")
    return evidence


def _bounds(expect: Expect) -> str:
    """The expectation without its keyword."""
    return expect.text.removeprefix("expect").strip()


def _at_line(finding: Finding, expect: Expect) -> Finding:
    """The finding at the ``expect`` line instead of the point's first mention."""
    return replace(finding, span=expect.span)


def _nothing(_case: Case) -> Iterable[Outcome]:
    """Waivers are looked at after all rules have run; see :mod:`coldcheck.verdict.waivers`."""
    return ()


accept_expired = rule(
    EXPIRED,
    title="A waiver has run out",
    level="notice",
    states="the drawing alone",
    needs="an `accept` line with a date",
    criterion="The date after `until` is past. The waiver then waives nothing.",
    why=(
        "A date was put there so that somebody looks again. Leaving an expired waiver in the "
        "drawing makes it look as if somebody had."
    ),
    source=Citation("drawing"),
    limits=("Dates are compared with the day of the review as the computer tells it."),
)(_nothing)

accept_unmatched = rule(
    UNMATCHED,
    title="A waiver that waives nothing",
    level="notice",
    states="the drawing alone",
    needs="an `accept` line",
    criterion="No finding has the waiver's rule and one of its places.",
    why=(
        "Either the defect is gone, and the line would silently hide its return, or rule or "
        "place is misspelt, and the finding it was meant for is still open."
    ),
    source=Citation("drawing"),
    limits=(
        "A waiver for a rule that could not be judged this time also counts as unmatched: "
        "look at what was not judged before taking it out."
    ),
)(_nothing)


RULES: tuple[Rule, ...] = (
    not_met,
    accept_expired,
    accept_unmatched,
)
