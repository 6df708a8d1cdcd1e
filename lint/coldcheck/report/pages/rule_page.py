"""The page of a rule: what it looks for, why, and its drawings with the review of each."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from coldcheck.report.pages.side_by_side import side_by_side
from coldcheck.report.shared.lines import entries, paragraph, say
from coldcheck.report.shared.places import sentence
from coldcheck.report.shared.plain import clean, counted, listed
from coldcheck.report.shared.signal_words import panel

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from rich.console import Console

    from coldcheck.judge.finding import Finding
    from coldcheck.judge.rule import Rule
    from coldcheck.verdict.pairs import Pair
    from coldcheck.verdict.review import Review

_WIDTH = 33


def render(
    rule: Rule,
    console: Console,
    pair: Pair | None,
    reviews: Mapping[str, Review],
    others: Sequence[str] = (),
    package: str = "",
) -> None:
    """Print one rule with a pair; ``reviews`` holds those of its ``wrong`` and ``right``.

    ``others`` are the names of the rule's further pairs, ``package`` is what it comes with where
    it is not one of our own.
    """
    _head(rule, console, package)
    if pair is not None:
        _drawings(console, pair)
        both = shared(reviews, rule.id)
        for side in ("wrong", "right"):
            _review(console, side, reviews[side], rule.id, both)
        if both:
            say(console)
            paragraph(console, f"Besides, both drawings get {listed(counted_names(both))}.", 2)
    if others:
        say(console)
        entries(console, [("more", f"coldcheck why {name}") for name in others], 2, 11)
    say(console)
    paragraph(console, f'To waive one finding: accept {rule.id} at PLACE because "..."', 2)


def _head(rule: Rule, console: Console, package: str) -> None:
    head = panel(rule.level)
    head.append(f"  {rule.id}", style="bold")
    say(console, head)
    paragraph(console, rule.title, 2)
    say(console)
    entries(console, documentation(rule), 2, 11)
    if package:
        entries(console, [("package", clean(package))], 2, 11)


def documentation(rule: Rule) -> list[tuple[str, str]]:
    """The rule's own words, label and text, in the order they are read."""
    parts = (
        ("looks for", rule.criterion),
        ("why", rule.why),
        ("states", rule.states),
        ("needs", rule.needs),
        ("limits", rule.limits),
        ("thresholds", "; ".join(t.text for t in rule.thresholds)),
        ("source", rule.source),
    )
    return [(label, text) for label, text in parts if text]


def _drawings(console: Console, pair: Pair) -> None:
    say(console)
    say(console, "The drawings", "bold")
    paragraph(console, clean(pair.lesson), 2)
    say(console)
    side_by_side(console, pair.wrong, pair.right, ("wrong", "right"))


def _review(console: Console, side: str, review: Review, rule: str, both: Counter[str]) -> None:
    """What the review says of one side: this rule's findings in full, the others by name."""
    say(console)
    say(console, f"Review of the {side} drawing", "bold")
    found = open_findings(review)
    for finding in (f for f in found if f.rule == rule):
        _finding(console, finding)
    rest = names_of(f for f in found if f.rule != rule) - both
    if rest:
        paragraph(console, f"also {listed(counted_names(rest))}", 2)
    waived = [f for f in review.findings if f.accepted is not None]
    if waived:
        paragraph(console, f"accepted by the drawing: {listed(f.rule for f in waived)}", 2)
    if not any(f.rule == rule for f in found) and not rest:
        paragraph(console, nothing_found(review, both), 2)


def nothing_found(review: Review, both: Counter[str]) -> str:
    """That a drawing has nothing, as far as it could be judged, but what ``both`` have."""
    unjudged = counted(len(review.not_judged), "remark") + " on what was not judged"
    more = "nothing more" if both else "nothing"
    return f"{more} found by the rules that could be judged; {unjudged}"


def open_findings(review: Review) -> list[Finding]:
    """What the review found and the drawing does not accept, the gravest first."""
    return [f for f in review.findings if f.accepted is None]


def names_of(findings: Iterable[Finding]) -> Counter[str]:
    """How often each rule speaks at each level."""
    return Counter(f"{f.rule} ({f.level})" for f in findings)


def shared(reviews: Mapping[str, Review], rule: str) -> Counter[str]:
    """What both sides say alike and the pair is not about."""
    sides = [names_of(f for f in open_findings(r) if f.rule != rule) for r in reviews.values()]
    return sides[0] & sides[1] if len(sides) == 2 else Counter()


def counted_names(names: Counter[str]) -> list[str]:
    """Names, each with how often it is there where that is more than once."""
    return [name if count == 1 else f"{name} {count} times" for name, count in names.items()]


def _finding(console: Console, finding: Finding) -> None:
    where = "" if finding.at else f" in line {finding.span.line}"
    state = "" if finding.state in ("", "drawing") else f", {clean(finding.state)}"
    paragraph(console, f"{finding.level}{where}{state}: {clean(sentence(finding))}", 2)
    paragraph(console, f"remedy: {clean(finding.remedy)}", 2)


def render_list(rules: Iterable[Rule], console: Console) -> None:
    """Print all rules by family, with their level and title."""
    families: dict[str, list[Rule]] = {}
    for rule in rules:
        families.setdefault(rule.family, []).append(rule)
    for number, (family, members) in enumerate(families.items()):
        if number:
            say(console)
        say(console, family.capitalize(), "bold")
        rows = ((r.id, f"{r.level}: {r.title}") for r in members)
        entries(console, rows, 2, _WIDTH, label_style="")
