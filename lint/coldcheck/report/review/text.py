"""The text report: findings with their evidence, what was not judged, the numbers, the verdict."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from rich.cells import cell_len

from coldcheck.judge.finding import LEVELS, PACKAGES
from coldcheck.report.review.findings import print_edge, print_finding
from coldcheck.report.review.sections import sections
from coldcheck.report.shared.lines import entries, paragraph, print_section, say
from coldcheck.report.shared.plain import clean, counted, listed
from coldcheck.verdict.ruling import DECIDED_BY, Verdict

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from rich.console import Console

    from coldcheck.judge.finding import NotJudged
    from coldcheck.verdict.document.content import Document
    from coldcheck.verdict.ruling import Ruling

CAUTION = (
    "Tube equipment holds lethal voltages, also after it is switched off. This report judges "
    "the drawing, not the wiring. Local codes and a qualified person decide what may be powered."
)

_RULE_WIDTH = 27


def render(ruling: Ruling, console: Console, *, caution: bool = True) -> None:
    """Print the report on one drawing.

    On a terminal each finding is a block; elsewhere it starts with a line in the form of the
    GNU coding standards. ``caution`` prints the closing caution; a caller that prints several
    reports leaves it to the last.
    """
    document = ruling.document
    _heading(console, document)
    _findings(console, document)
    _accepted(console, document)
    _standing(console, document)
    _not_judged(console, document)
    for section in sections(document):
        print_section(console, section)
    say(console)
    paragraph(console, clean(verdict_line(ruling)), style="bold")
    if caution:
        closing(console)


def closing(console: Console) -> None:
    """Print the caution that ends every text report."""
    say(console)
    paragraph(console, CAUTION)


def _heading(console: Console, document: Document) -> None:
    title, file = clean(document.title), clean(document.file)
    if title:
        paragraph(console, title, style="bold")
    say(console, file, "" if title else "bold")  # whole, to be copied
    longest = max(cell_len(title), cell_len(file))
    say(console, "─" * min(longest, console.width))


EDGES = "Possible: within the limit as predicted, beyond it within the usual spread"


def _findings(console: Console, document: Document) -> None:
    found = [f for f in document.findings if f.accepted is None and not f.standing]
    for number, finding in enumerate(f for f in found if not f.only_edge):
        if number or console.is_terminal:
            say(console)
        print_finding(console, document, finding)
    edges = [f for f in found if f.only_edge]
    if edges:
        say(console)
        say(console, EDGES, "bold")
        for finding in edges:
            print_edge(console, finding)


def _accepted(console: Console, document: Document) -> None:
    accepted = [f for f in document.findings if f.accepted is not None]
    if not accepted:
        return
    say(console)
    say(console, "Accepted by the drawing", "bold")
    for finding in accepted:
        head = f"{finding.rule} at {clean(listed(finding.at))}, {finding.level}"
        paragraph(console, f"{head}: {clean(finding.message)}", 2)
        entries(console, [("because", clean(finding.accepted or ""))], 5, 9)


def _standing(console: Console, document: Document) -> None:
    standing = [f for f in document.findings if f.standing]
    if standing:
        say(console)
        say(console, "Standing, known to the ledger", "bold")
    for finding in standing:
        head = f"{finding.rule} at {clean(listed(finding.at))}, {finding.level}"
        paragraph(console, f"{head}: {clean(finding.message)}", 2)


def _not_judged(console: Console, document: Document) -> None:
    lines = list(not_judged(document))
    if not lines:
        return
    say(console)
    say(console, "Not judged", "bold")
    entries(console, lines, 2, _RULE_WIDTH)


def not_judged(document: Document) -> Iterator[tuple[str, str]]:
    """What was not judged: the rule (or what it is about), and where and why, one line a reason."""
    groups: dict[tuple[str, str], list[str]] = {}
    for item in document.not_judged:
        places = groups.setdefault((item.rule, item.reason), [])
        places.extend(p for p in item.at if p not in places)
    for (rule, reason), places in groups.items():
        where = f"{clean(', '.join(places))}: " if places else ""
        yield rule if "." in rule or rule == PACKAGES else "the drawing", where + clean(reason)


def verdict_line(ruling: Ruling) -> str:
    """The outcome in one sentence. It never says more than was judged."""
    level = ruling.gate.level
    above = level if level == LEVELS[-1] else f"{level} or above"
    head = f"verdict: {ruling.verdict}"
    known = what_stands([ruling])
    stands = f"; {known}" if known else ""
    match ruling.verdict:
        case Verdict.UNREADABLE:
            places = counted(len(ruling.document.findings), "place")
            return f"{head} — {places} to mend first"
        case Verdict.HELD:
            return f"{head} — {_count_held(ruling, above)}{stands}"
        case Verdict.UNDECIDED:
            return f"{head} — {what_would_decide(ruling.undecided)}{stands}"
        case Verdict.LET_THROUGH if not ruling.document.drawn:
            return f"{head} — the change loosens nothing here"
        case Verdict.LET_THROUGH:
            said = f"nothing {'else ' if stands else ''}found at {above} in what was judged"
            return f"{head} — {said}{stands}; {_count_not_judged(ruling.document)}"


def _count_held(ruling: Ruling, above: str) -> str:
    """How much holds it; what a change loosens counts whatever the gate is."""
    loose = sum(f.loosens for f in ruling.counting)
    own = len(ruling.counting) - loose
    said = [f"{counted(own, 'finding')} at {above}"] if own else []
    said += [f"{counted(loose, 'loosening')} by the change"] if loose else []
    return " and ".join(said)


def what_stands(rulings: Iterable[Ruling]) -> str:
    """What was let through though it was found, by level and by who let it; empty for nothing."""
    accepted, standing = Counter[str](), Counter[str]()
    for ruling, finding in ((r, f) for r in rulings for f in r.document.findings):
        if LEVELS[0] == finding.level != ruling.gate.level:
            continue  # advice, which no gate but its own asks for
        if finding.accepted is not None:
            accepted[finding.level] += 1
        elif finding.standing:
            standing[finding.level] += 1
    said = [f"{_levels(accepted)} accepted in the drawing"] if accepted else []
    said += [f"{_levels(standing)} in the ledger"] if standing else []
    return ", ".join(said)


def _levels(counts: Counter[str]) -> str:
    """The gravest first: 2 dangers and 1 notice."""
    found = [(level, counts[level]) for level in reversed(LEVELS) if counts[level]]
    return listed(f"{n} {lv}{'' if n == 1 or lv == LEVELS[0] else 's'}" for lv, n in found)


def what_would_decide(undecided: Sequence[NotJudged]) -> str:
    """What could not be judged, kind by kind, and what would decide it."""
    said = []
    for kind in dict.fromkeys(item.kind for item in undecided):
        what, decides = DECIDED_BY[kind]
        places = dict.fromkeys(p for item in undecided if item.kind is kind for p in item.at)
        where = f" ({', '.join(places)})" if places else ""
        said.append(f"{what}{where}: {decides}")
    return "; ".join(said)


def _count_not_judged(document: Document) -> str:
    count = len(document.not_judged)
    if not count:
        return "no remark on what was not judged"
    return f"{counted(count, 'remark')} on what was not judged"


def summary(rulings: Sequence[Ruling]) -> str:
    """One line over several drawings: how many there are of each verdict."""
    verdicts = [r.verdict for r in rulings if r.document.drawn]
    besides = [r.verdict for r in rulings if not r.document.drawn and r.stops]
    order = (Verdict.HELD, Verdict.UNDECIDED, Verdict.UNREADABLE, Verdict.LET_THROUGH)
    parts = [f"{verdicts.count(v)} {v}" for v in order if v in verdicts]
    known = what_stands(rulings)
    stands = f"; {known}" if known else ""
    parts += ["held for what the change loosens"] if besides else []
    said = f": {', '.join(parts)}" if parts else ""
    return f"{counted(len(verdicts), 'drawing')}{said}{stands}"
