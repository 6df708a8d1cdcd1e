"""Intent rules: what the designer said against what the circuit does."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.drawing.model import Expect
from coldcheck.rules.accept import EXPIRED, UNMATCHED
from coldcheck.rules.model import Rule, rule
from coldcheck.rules.places import si, volts

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from coldcheck.rules.model import Case, Finding, Outcome

WARM = "warm"


@rule(
    "intent.not-met",
    title="The circuit does not do what the drawing expects",
    level="notice",
    states="the state the expectation names, warm by default",
    needs="an `expect` line and a solution of its state",
    criterion="The predicted DC at the point is outside the bounds the `expect` line gives.",
    why=(
        "An expectation is the designer's own figure, from a calculation or an old service "
        "sheet. When the circuit as drawn gives another, either the figure or the drawing is "
        "wrong, and it is cheaper to find out before power is applied."
    ),
    source="the drawing itself",
    limits=(
        "The prediction is compared with the bounds as they are written; its own range is "
        "shown but does not widen them."
    ),
)
def not_met(case: Case) -> Iterator[Outcome]:
    """Compare every expectation with its prediction."""
    for expect in case.circuit.drawing.statements:
        if isinstance(expect, Expect):
            yield from _judge(case, expect)


def _judge(case: Case, expect: Expect) -> Iterator[Outcome]:
    state, point = expect.state or WARM, expect.point.text
    solution = case.solutions.get(state)
    if solution is None:
        text = f"there is no state called {state}; there are {', '.join(case.solutions)}"
        yield not_met.not_judged((point,), text)
    elif not solution.converged:
        yield not_met.not_judged((point,), f"state {state} not solved: {solution.reason}")
    else:
        wave = solution.wave(point)
        if wave is None:
            net = case.circuit.points.get(point, point)
            text = solution.undefined.get(net, "this point has no number")
            yield not_met.not_judged((point,), text)
        else:
            yield from _compare(case, expect, state, wave.dc)


def _compare(case: Case, expect: Expect, state: str, found: float) -> Iterator[Finding]:
    low, high = si(expect.low, "volt"), si(expect.high, "volt")
    below = 0.0 if low is None else low - found
    above = 0.0 if high is None else found - high
    miss, bound = (below, low) if below > above else (above, high)
    if miss <= 0:
        return
    evidence: dict[str, float | str] = {"predicted_dc_v": found}
    if low is not None:
        evidence["lowest_v"] = low
    if high is not None:
        evidence["highest_v"] = high
    finding = not_met.finding(
        case,
        (expect.point.text,),
        f"{expect.point.text} is predicted at {volts(found)}; "
        f"the drawing expects {_bounds(expect)}",
        "Trace the point's feed and load; if the figure was wrong, correct the expect line",
        state=state,
        evidence=evidence,
        excess=1 + miss / max(abs(bound or 0.0), 1.0),
    )
    yield _at_line(finding, expect)


def _bounds(expect: Expect) -> str:
    """The expectation without its keyword."""
    return expect.text.removeprefix("expect").strip()


def _at_line(finding: Finding, expect: Expect) -> Finding:
    """The finding at the ``expect`` line instead of the point's first mention."""
    return replace(finding, span=expect.span)


def _nothing(_case: Case) -> Iterable[Outcome]:
    """Waivers are looked at after all rules have run; see :mod:`coldcheck.rules.accept`."""
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
    source="the drawing itself",
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
    source="the drawing itself",
    limits=(
        "A waiver for a rule that could not be judged this time also counts as unmatched: "
        "look at what was not judged before taking it out."
    ),
)(_nothing)


RULES: tuple[Rule, ...] = (not_met, accept_expired, accept_unmatched)
