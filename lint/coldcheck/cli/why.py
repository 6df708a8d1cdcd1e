"""``coldcheck why``: what a rule looks for and why."""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING

from coldcheck.cli import OK
from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.output import show, to_file, to_stdout
from coldcheck.judge.finding import ABOUT_THE_CHANGE

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Mapping

    from coldcheck.compare.pictured import Side
    from coldcheck.judge.rule import Rule
    from coldcheck.verdict.pairs import Pair
    from coldcheck.verdict.review import Review


def run(options: Namespace) -> int:
    """Print the list of rules, or the page of one; an unknown rule is asked wrongly."""
    from coldcheck.report.pages import rule_page
    from coldcheck.verdict.added import all_rules

    rules = all_rules()
    _refuse(options)
    if options.rule is None:
        show(lambda console: rule_page.render_list(rules, console))
        return OK
    if options.rule.startswith(ABOUT_THE_CHANGE):
        return _of_a_change(options.rule)
    identifier, _, case = options.rule.partition("/")
    _page(_find(identifier, rules), case, options)
    return OK


def _refuse(options: Namespace) -> None:
    """Raise AskedWrongly for a page of no rule of a drawing, and for text into a file."""
    if options.report == "html":
        if options.rule is None or options.rule.startswith(ABOUT_THE_CHANGE):
            raise AskedWrongly("a page is that of one rule of drawings: coldcheck why RULE")
    elif options.output is not None:
        raise AskedWrongly("--output goes with --report html")


def _of_a_change(name: str) -> int:
    """What a finding about a change means; it is no rule's."""
    from coldcheck.report.shared.lines import paragraph
    from coldcheck.verdict.change import EXPLAINED, Change

    found = next((kind for kind in Change if kind.rule == name), None)
    if found is None:
        raise AskedWrongly(f"there is no {name}; there are {', '.join(k.rule for k in Change)}")
    text = f"{found.rule}: {found.title}. {EXPLAINED}"
    show(lambda console: paragraph(console, text))
    return OK


def _page(rule: Rule, case: str, options: Namespace) -> None:
    from coldcheck.report.pages import lesson_page, rule_page
    from coldcheck.verdict.added import added
    from coldcheck.verdict.pairs import SIDES, pairs_of

    known = added()
    pairs = pairs_of(rule.id) or tuple(p for p in known.pairs if p.rule == rule.id)
    pair = _case(rule, case, pairs)
    reviews = {} if pair is None else {side: _review(pair, side) for side in SIDES}
    others = [p.name for p in pairs if p is not pair]
    package = known.packages.get(rule.id, "")
    if options.report == "html":
        text = lesson_page.render(rule, pair, reviews, _sides(reviews, rule.id), others, package)
        to_stdout(text) if options.output is None else to_file(text, options.output)
        return
    show(lambda console: rule_page.render(rule, console, pair, reviews, others, package))


def _sides(reviews: Mapping[str, Review], rule: str) -> tuple[Side, Side] | None:
    """Both drawn, with the rule's findings; ``None`` where one of them cannot be."""
    from coldcheck.compare.changes import compare
    from coldcheck.compare.pictured import pictured

    if not reviews or not all(r.readable and r.circuit is not None for r in reviews.values()):
        return None
    wrong, right = reviews.values()
    return pictured(compare(wrong, right), lambda finding: finding.rule == rule)


def _review(pair: Pair, side: str) -> Review:
    """The review of one side, without the comment it opens with."""
    from coldcheck.drawing import parse_drawing
    from coldcheck.drawing.reader import with_sheets
    from coldcheck.verdict.engine import review_drawing

    file = f"{side}.tube"
    drawing = parse_drawing(pair.wrong if side == "wrong" else pair.right, file)
    return review_drawing(with_sheets(drawing, pair.folder / file))


def _case(rule: Rule, case: str, pairs: tuple[Pair, ...]) -> Pair | None:
    """The pair of that name; raises AskedWrongly when there is none."""
    found = next((p for p in pairs if p.case == case), None)
    if case and found is None:
        known = ", ".join(p.case for p in pairs if p.case) or "none"
        raise AskedWrongly(f"{rule.id} has no case {case}; its cases: {known}")
    return found


def _find(wanted: str, rules: tuple[Rule, ...]) -> Rule:
    by_id = {rule.id: rule for rule in rules}
    if wanted in by_id:
        return by_id[wanted]
    near = get_close_matches(wanted, by_id, n=3, cutoff=0.5)
    inside = [i for i in by_id if wanted and wanted in i]
    hint = ", ".join(dict.fromkeys((*near, *inside[:3])))
    raise AskedWrongly(
        f"there is no rule {wanted}; " + (f"near it: {hint}" if hint else "see coldcheck why")
    )
