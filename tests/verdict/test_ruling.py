"""Verdicts: what is held, let through, left undecided; the gate applied once."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from tests.gates import at

from coldcheck.drawing.model import Span
from coldcheck.judge.finding import Finding, NotJudged, Unjudged
from coldcheck.report.review.json_report import schema_text
from coldcheck.report.review.text import verdict_line
from coldcheck.settings.model import DEFAULTS
from coldcheck.verdict.review import Review
from coldcheck.verdict.ruling import DECIDED_BY, Gate, Verdict

EMPTY = Review("a.tube", "", None, (), (), {}, (), readable=True)
NOTICE = Finding("supply.no-bleeder", "notice", "warm", ("C1",), Span("a.tube", 1, 1, 2), "x", "Y")


def left(kind: Unjudged, *places: str) -> Review:
    return replace(EMPTY, not_judged=(NotJudged("review", places, "because", kind),))


@pytest.mark.parametrize("kind", Unjudged)
def test_only_kinds_in_the_table_leave_a_review_undecided(kind: Unjudged) -> None:
    ruling = at(left(kind))
    expected = Verdict.UNDECIDED if kind in DECIDED_BY else Verdict.LET_THROUGH
    assert ruling.verdict is expected
    assert ruling.stops is (kind in DECIDED_BY)


def test_a_missing_limit_or_a_rule_that_is_off_decides_nothing() -> None:
    harmless = {Unjudged.MISSING_DATA, Unjudged.NO_VOLTAGE, Unjudged.ASSUMED, Unjudged.RULE_OFF}
    assert not harmless & set(DECIDED_BY)
    assert {kind for kind in Unjudged if kind.broken} <= set(DECIDED_BY)


def test_held_goes_before_undecided() -> None:
    both = replace(left(Unjudged.NOT_FED, "V1"), findings=(NOTICE,))
    assert at(both).verdict is Verdict.HELD
    assert at(both, "danger").verdict is Verdict.UNDECIDED


def test_unreadable_goes_before_all() -> None:
    unread = replace(EMPTY, readable=False, findings=(NOTICE,))
    assert at(unread, "danger").verdict is Verdict.UNREADABLE
    assert at(unread, holds_undecided=False).stops


def test_the_settings_may_let_the_undecided_through_but_the_word_stays() -> None:
    ruling = at(left(Unjudged.STATE_NOT_SOLVED), holds_undecided=False)
    assert (ruling.verdict, ruling.stops) == (Verdict.UNDECIDED, False)
    assert Gate.of(replace(DEFAULTS, undecided="let through")) == Gate("notice", False)
    assert Gate.of(DEFAULTS, "danger") == Gate("danger", True)


def test_the_line_says_what_would_decide_it() -> None:
    assert verdict_line(at(left(Unjudged.NOT_FED, "V1", "V2"))) == (
        "verdict: undecided — a tube is fed by nothing (V1, V2): draw what feeds it"
    )


def test_the_line_of_what_is_let_through_counts_what_was_not_judged() -> None:
    assert verdict_line(at(left(Unjudged.MISSING_DATA, "V1"))) == (
        "verdict: let through — nothing found at notice or above in what was judged; "
        "1 remark on what was not judged"
    )


def test_a_verdict_is_its_word_and_refuses_the_former_ones() -> None:
    assert EMPTY.verdict() == "let through"
    assert EMPTY.verdict() != "held"
    assert {Verdict.HELD: 1}[Verdict("held")] == 1
    with pytest.raises(ValueError, match="'pass' any more: it is 'let through'"):
        assert EMPTY.verdict() != "pass"
    with pytest.raises(ValueError, match="'fail' any more: it is 'held'"):
        assert EMPTY.verdict() != "fail"


def test_the_schema_has_the_words_of_the_enumerations() -> None:
    definitions = json.loads(schema_text())["$defs"]
    verdicts = definitions["drawing"]["properties"]["verdict"]["enum"]
    kinds = definitions["not_judged"]["properties"]["kind"]["enum"]
    assert verdicts == [v.value for v in Verdict]
    assert sorted(kinds) == sorted(k.value for k in Unjudged)
