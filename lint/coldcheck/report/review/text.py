"""The text report: findings with their evidence, what was not judged, the numbers, the verdict."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.cells import cell_len
from rich.text import Text

from coldcheck.judge.finding import LEVELS
from coldcheck.report.review.findings import print_edge, print_finding
from coldcheck.report.review.gains import print_signal
from coldcheck.report.review.heater_table import print_heaters
from coldcheck.report.review.switched_off import print_off
from coldcheck.report.review.tables import print_rails, print_states, print_tubes
from coldcheck.report.review.warming import print_warm_up
from coldcheck.report.shared.lines import entries, paragraph, say
from coldcheck.report.shared.plain import clean, counted, listed
from coldcheck.report.shared.signal_words import gravest_first
from coldcheck.verdict.added import PACKAGES

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from rich.console import Console

    from coldcheck.verdict.review import Review

CAUTION = (
    "Tube equipment holds lethal voltages, also after it is switched off. This report judges "
    "the drawing, not the wiring. Local codes and a qualified person decide what may be powered."
)

_RULE_WIDTH = 27


def render(
    review: Review,
    console: Console,
    gate: str | None = None,
    *,
    caution: bool = True,
    made: str | None = None,
) -> None:
    """Print the report on one drawing; without a gate, by the drawing's own.

    On a terminal each finding is a block; elsewhere it starts with a line in the form of the
    GNU coding standards. ``caution`` prints the closing caution; a caller that prints several
    reports leaves it to the last. ``made`` are the tables where they were made before.
    """
    _heading(console, review)
    _findings(console, review)
    _accepted(console, review)
    _standing(console, review)
    _not_judged(console, review)
    if made is None:
        tables(review, console)
    else:
        say(console, Text.from_ansi(made.removesuffix("\n")))
    say(console)
    paragraph(console, verdict_line(review, gate), style="bold")
    if caution:
        closing(console)


def tables(review: Review, console: Console) -> None:
    """Print what the solutions say, state by state."""
    print_rails(console, review)
    print_tubes(console, review)
    print_heaters(console, review)
    print_signal(console, review)
    print_warm_up(console, review)
    print_off(console, review)
    print_states(console, review)


def closing(console: Console) -> None:
    """Print the caution that ends every text report."""
    say(console)
    paragraph(console, CAUTION)


def _heading(console: Console, review: Review) -> None:
    title, file = clean(review.title), clean(review.file)
    paragraph(console, title or file, style="bold")
    if title:
        say(console, file)  # whole, to be copied
    longest = max(cell_len(title), cell_len(file))
    say(console, "─" * min(longest, console.width))


EDGES = "Possible: within the limit as predicted, beyond it within the usual spread"


def _findings(console: Console, review: Review) -> None:
    found = [f for f in gravest_first(review.findings) if f.accepted is None and not f.standing]
    for number, finding in enumerate(f for f in found if not f.only_edge):
        if number or console.is_terminal:
            say(console)
        print_finding(console, review, finding)
    edges = [f for f in found if f.only_edge]
    if edges:
        say(console)
        say(console, EDGES, "bold")
        for finding in edges:
            print_edge(console, finding)


def _accepted(console: Console, review: Review) -> None:
    accepted = [f for f in gravest_first(review.findings) if f.accepted is not None]
    if not accepted:
        return
    say(console)
    say(console, "Accepted by the drawing", "bold")
    for finding in accepted:
        head = f"{finding.rule} at {clean(listed(finding.at))}, {finding.level}"
        paragraph(console, f"{head}: {clean(finding.message)}", 2)
        entries(console, [("because", clean(finding.accepted or ""))], 5, 9)


def _standing(console: Console, review: Review) -> None:
    standing = [f for f in gravest_first(review.findings) if f.standing]
    if standing:
        say(console)
        say(console, "Standing, known to the ledger", "bold")
    for finding in standing:
        head = f"{finding.rule} at {clean(listed(finding.at))}, {finding.level}"
        paragraph(console, f"{head}: {clean(finding.message)}", 2)


def _not_judged(console: Console, review: Review) -> None:
    lines = list(not_judged(review))
    if not lines:
        return
    say(console)
    say(console, "Not judged", "bold")
    entries(console, lines, 2, _RULE_WIDTH)


def not_judged(review: Review) -> Iterator[tuple[str, str]]:
    """What was not judged: the rule (or what it is about), and where and why, one line a reason."""
    groups: dict[tuple[str, str], list[str]] = {}
    for item in review.not_judged:
        places = groups.setdefault((item.rule, item.reason), [])
        places.extend(p for p in item.at if p not in places)
    for (rule, reason), places in groups.items():
        where = f"{clean(', '.join(places))}: " if places else ""
        yield rule if "." in rule or rule == PACKAGES else "the drawing", where + clean(reason)


def verdict_line(review: Review, gate: str | None = None) -> str:
    """The outcome in one sentence. It never says more than was judged."""
    gate = gate or review.gate
    verdict = review.verdict(gate)
    above = gate if gate == LEVELS[-1] else f"{gate} or above"
    if not review.readable and review.broken:
        return "verdict: none — the review broke down, and nothing was judged"
    if verdict == "unreadable":
        return f"verdict: unreadable — {counted(len(review.findings), 'place')} to mend first"
    if verdict == "fail":
        found = counted(len(review.at_or_above(gate)), "finding")
        return f"verdict: fail — {found} at {above}"
    return f"verdict: pass — nothing found at {above} by the rules that could be judged"


def summary(reviews: Iterable[Review], gate: str | None = None) -> str:
    """One line over several drawings: how many pass, fail, and could not be read."""
    verdicts = [r.verdict(gate) for r in reviews]
    parts = [f"{verdicts.count(v)} {v}" for v in ("fail", "unreadable", "pass") if v in verdicts]
    return f"{counted(len(verdicts), 'drawing')}: {', '.join(parts)}"
