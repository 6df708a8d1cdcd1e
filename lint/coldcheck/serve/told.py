"""Sentences that the hovers share: figures with units, what is found at a place, Markdown tables.

Everything that comes from a drawing leaves here escaped.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.drawing.units import engineering
from coldcheck.report.shared.markdown import escaped
from coldcheck.report.shared.numbers import volts as volts_text
from coldcheck.report.shared.places import sentence

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from coldcheck.judge.finding import Finding
    from coldcheck.solve.solution import Solution, Wave
    from coldcheck.verdict.review import Review

MOST_FINDINGS = 5
SMALL_AC = 5e-3


def volts(number: float) -> str:
    """A voltage with its unit: ``285.1 V``."""
    return f"{volts_text(number)} V"


def percent(share: float) -> str:
    """A share of a rating in words: ``13 %``."""
    return f"{100 * share:.0f} %" if share >= 0.095 else f"{100 * share:.1g} %"


def of_rating(value: float, rated: float | None, symbol: str, what: str) -> str:
    """``0.64 W of 5 W, 13 % of its rating``; without a rating the value, and that none is given."""
    shown = engineering(value, symbol)
    if rated is None or rated <= 0:
        return f"{shown}; the drawing gives no {what}"
    share = value / rated
    beyond = ", **beyond it**" if share > 1.01 else ""
    return f"{shown} of {engineering(rated, symbol)}: {percent(share)} of its {what}{beyond}"


def across(wave: Wave) -> str:
    """A voltage between two points: ``13.1 V DC and 0.2 V AC rms``."""
    alternating = wave.ac_rms >= max(SMALL_AC, 1e-3 * abs(wave.dc))
    if alternating and abs(wave.dc) < SMALL_AC:
        return f"{volts(wave.ac_rms)} AC rms"
    return f"{volts(wave.dc)} DC" + (f" and {volts(wave.ac_rms)} AC rms" if alternating else "")


def through(wave: Wave) -> str:
    """A current: ``48.5 mA DC`` and its rms where it is not steady."""
    dc, rms = abs(wave.dc), wave.rms
    if rms < 1e-9:
        return "no current"
    if dc < 0.01 * rms:
        return f"{engineering(rms, 'A')} rms"
    steady = rms < 1.02 * dc
    return f"{engineering(dc, 'A')} DC" + (
        "" if steady else f", {engineering(rms, 'A')} rms in all"
    )


def warm_of(review: Review) -> Solution | None:
    """The nominal state, where it has numbers."""
    warm = review.solutions.get("warm")
    return warm if warm is not None and warm.converged else None


def why_no_warm(review: Review) -> str:
    """Why there are no figures for the nominal state."""
    warm = review.solutions.get("warm")
    reason = warm.reason if warm is not None else "nothing was worked out"
    return f"No figures: the warm state was not solved ({escaped(reason)})."


def findings_at(review: Review, about: Callable[[str], bool]) -> Iterator[str]:
    """What the review says of a place, as list items; then what it could not judge there."""
    found = [f for f in review.findings if any(map(about, f.at))]
    for finding in found[:MOST_FINDINGS]:
        yield f"* {_finding(finding)}"
    if len(found) > MOST_FINDINGS:
        yield f"* and {len(found) - MOST_FINDINGS} more"
    for item in review.not_judged:
        if any(map(about, item.at)):
            yield f"* not judged: {escaped(item.rule)}: {escaped(item.reason)}"


def _finding(finding: Finding) -> str:
    waived = "" if finding.accepted is None else f" (accepted: {escaped(finding.accepted)})"
    remedy = "" if finding.accepted is not None or not finding.remedy else f" {finding.remedy}."
    text = escaped(f"{sentence(finding)}.{remedy}")
    return f"**{finding.level.upper()}** {text} `{finding.rule}`{waived}"


def table(head: Iterable[str], rows: Iterable[Iterable[str]], left: int = 1) -> str:
    """A Markdown table of cells that are escaped here; all but the first columns to the right."""
    names = list(head)
    rule = ["---"] * left + ["--:"] * (len(names) - left)
    lines = [names, rule, *([escaped(cell) for cell in row] for row in rows)]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def page(*blocks: str) -> str:
    """Blocks of Markdown, the empty ones left out."""
    return "\n\n".join(block for block in blocks if block)
