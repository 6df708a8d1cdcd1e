"""What went wrong inside on the way from a drawing's text to every report of it.

An internal error is an exception that gets out of a reading, a review or a report, and a rule or a
solver that broke down within a review, which says so in place of a verdict. Warnings of numpy are
errors here as in the suite: a number that overflowed is no number.
"""

from __future__ import annotations

import traceback
import warnings
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import date
from functools import partial
from json import dumps, loads
from pathlib import Path
from unittest.mock import patch

from rich.console import Console

from coldcheck.anatomy import worked
from coldcheck.anatomy.case import Case
from coldcheck.bench.chart.chart import Bench
from coldcheck.cli.reports import rendered
from coldcheck.drawing.reader import parse_drawing
from coldcheck.drawing.tidy import tidied
from coldcheck.report.chart import csv as chart_csv
from coldcheck.report.chart import html as chart_html
from coldcheck.report.chart import json as chart_json
from coldcheck.report.chart import markdown as chart_markdown
from coldcheck.report.chart import text as chart_text
from coldcheck.solve import solve_states
from coldcheck.verdict import engine
from coldcheck.verdict.added import NOTHING
from coldcheck.verdict.document.build import ruling_of
from coldcheck.verdict.document.kept import from_json, to_json
from coldcheck.verdict.engine import review_drawing
from coldcheck.verdict.registry import RULES

FORMS = ("text", "terse", "json", "sarif", "junit", "annotations", "html")
INSTANTS = 32
"""Of a mains cycle: a quarter of what a review solves by itself, for a third of the time."""

TODAY = date(2026, 1, 1)
_BY_ID = {rule.id: rule for rule in RULES}


@dataclass(frozen=True)
class Error:
    """One internal error: what was being done, the exception's type, and where it was raised."""

    doing: str
    type: str
    place: str


@dataclass(frozen=True)
class Outcome:
    """What became of a drawing."""

    readable: bool
    errors: tuple[Error, ...]


def outcome_of(text: str, *, chart: bool = True, instants: int = INSTANTS) -> Outcome:
    """Read, review and report a drawing; collect what went wrong."""
    errors: dict[Error, None] = {}
    solve = partial(solve_states, instants=instants)
    with ExitStack() as stack:
        stack.enter_context(warnings.catch_warnings())
        warnings.simplefilter("error")
        stack.enter_context(patch.object(engine, "solve_states", solve))
        for name in ("hum", "off_state"):  # of which a review only says that it has no answer
            seen = _watched(name, getattr(worked, name), errors)
            stack.enter_context(patch.object(worked, name, seen))
        review = _done("review", errors, lambda: _review(text))
        if review is None:
            return Outcome(False, tuple(errors))
        for item in review.not_judged:
            if item.kind.broken:
                errors[_broken(review, item)] = None
        _report(review, errors)
        _done("tidy", errors, lambda: _tidy(text))
        if chart and review.readable:
            _done("chart", errors, lambda: _chart(review.circuit))
    return Outcome(review.readable, tuple(errors))


def _review(text):
    return review_drawing(parse_drawing(text, "fuzz.tube"), TODAY, added=NOTHING)


def _report(review, errors):
    made = _done("document", errors, lambda: ruling_of(review))
    if made is None:
        return
    _done("cache", errors, lambda: from_json(loads(dumps(to_json(made.document)))))
    for form in FORMS:
        _done(form, errors, lambda form=form: rendered(form, [made], for_file=True))


def _tidy(text):
    """A tidied drawing says the same, as far as can be seen without working it out."""
    before, after = parse_drawing(text, "a"), parse_drawing(tidied(text), "a")
    assert len(before.problems) == len(after.problems)
    assert len(before.statements) == len(after.statements)


def _chart(circuit):
    chart = Bench(circuit).chart()
    for form in (chart_csv, chart_html, chart_json, chart_markdown):
        form.render(chart)
    with Path("/dev/null").open("w") as nowhere:
        chart_text.render(chart, Console(file=nowhere, width=80))


def _watched(name, function, errors):
    def watched(*given):
        try:
            return function(*given)
        except Exception as error:
            errors[_error(name, error)] = None
            raise

    return watched


def _done(doing, errors, do):
    """What it gives, or ``None`` where it raises; then the error is among the errors."""
    try:
        return do()
    except Exception as error:
        errors[_error(doing, error)] = None
        return None


def _broken(review, item):
    """What broke down in a review, found by doing it once more."""
    rule = _BY_ID.get(item.rule)
    try:
        if rule is None:
            engine.solve_states(review.circuit)
        else:
            list(rule.judge(Case(review.circuit, review.solutions)))
    except Exception as error:
        return _error(item.rule, error)
    return Error(item.rule, "not again", item.reason)


def _error(doing, error):
    frames = traceback.extract_tb(error.__traceback__)
    ours = [
        f for f in frames if "coldcheck" in f.filename and "tests" not in Path(f.filename).parts
    ]
    last = (ours or frames)[-1]
    return Error(doing, type(error).__name__, f"{Path(last.filename).name}:{last.name}")
