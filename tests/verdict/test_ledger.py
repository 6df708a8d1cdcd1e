"""The ledger: what stands, what is new, what is gone, and files that merge."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.drawing import parse_drawing
from coldcheck.verdict import ledger
from coldcheck.verdict.document.build import document_of
from coldcheck.verdict.engine import review_drawing
from coldcheck.verdict.ledger import Entry, LedgerError
from coldcheck.verdict.ruling import USUAL, counting, ruled, verdict_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from coldcheck.verdict.document.content import Document

SUPPLY = "B1 --+[E1 400 V]-- gnd\n"
C1 = "B1 --[C1 100 nF 63 V]-- gnd\n"
C2 = "B2 --+[E2 300 V]-- gnd\nB2 --[C2 47 nF 50 V]-- gnd\n"
DAY = date(2026, 6, 1)


def review(text: str, file: str = "a.tube") -> Document:
    return document_of(review_drawing(parse_drawing(SUPPLY + text, file), DAY))


def current(documents: Iterable[Document]) -> tuple[Entry, ...]:
    return ledger.current([ruled(d, USUAL) for d in documents], same)


def same(file: str) -> str:
    return file


def weighed(reviews: list[Document], entries: tuple[Entry, ...], there: str = "") -> ledger.Balance:
    return ledger.balance(reviews, entries, same, lambda f: f in there.split())


@pytest.fixture(scope="module")
def one() -> Document:
    return review(C1)


@pytest.fixture(scope="module")
def two() -> Document:
    return review(C1 + C2)


def test_what_is_in_the_ledger_does_not_count(one: Document) -> None:
    entries = current([one])
    assert [(e.file, e.rule, e.places) for e in entries] == [
        ("a.tube", "capacitor.over-voltage", "C1")
    ]
    settled = weighed([one], entries)
    assert verdict_of(settled.documents[0], "notice") == "let through"
    assert [f.standing for f in settled.documents[0].findings if f.level != "advice"] == [True]
    assert settled.gone == settled.kept == ()


def test_a_new_finding_beside_a_standing_one_counts(one: Document, two: Document) -> None:
    settled = weighed([two], current([one]))
    assert [f.at for f in counting(settled.documents[0], "notice")] == [("C2",)]


def test_an_entry_without_its_finding_is_gone(one: Document, two: Document) -> None:
    settled = weighed([one], current([two]))
    assert [e.places for e in settled.gone] == ["C2"]


def test_a_renamed_drawing_keeps_its_entries(one: Document) -> None:
    renamed = review(C1, "b.tube")
    settled = weighed([renamed], current([one]))
    assert verdict_of(settled.documents[0], "notice") == "let through"
    assert settled.gone == ()


def test_a_copy_does_not_hide_behind_the_original(one: Document) -> None:
    copy = review(C1, "b.tube")
    entries = current([one])
    settled = weighed([one, copy], entries, "a.tube b.tube")
    assert [verdict_of(d, "notice") for d in settled.documents] == ["let through", "held"]
    assert verdict_of(weighed([copy], entries, "a.tube b.tube").documents[0], "notice") == "held"


def test_drawings_not_reviewed_keep_their_entries(one: Document) -> None:
    entries = current([one])
    settled = weighed([review("", "b.tube")], entries, "a.tube b.tube")
    assert settled.gone == ()
    assert settled.kept == entries


def test_an_update_keeps_what_stands(one: Document, two: Document) -> None:
    settled = weighed([two], current([one]))
    assert {e.places for e in current(settled.documents)} == {"C1", "C2"}


def test_what_was_accepted_is_not_for_the_ledger(one: Document) -> None:
    waived = replace(one, findings=tuple(replace(f, accepted="because") for f in one.findings))
    assert current([waived]) == ()


def test_every_bad_line_is_named() -> None:
    text = f"{ledger.HEADING}\nnonsense\n0123456789abcdef\ta.tube\tr.x\tC1\nzzz\ta\tb\tc\n"
    with pytest.raises(LedgerError, match=r"line 2: expected .*; line 4: expected"):
        ledger.parse(text)


WORDS = st.text("abcdefgh.-/ 1", min_size=1, max_size=9).map(str.strip).filter(bool)
ENTRIES = st.lists(
    st.builds(Entry, WORDS, WORDS, WORDS, st.text("0123456789abcdef", min_size=16, max_size=16))
)


@given(ENTRIES)
def test_what_is_written_is_read_again_sorted_and_once(entries: list[Entry]) -> None:
    text = ledger.written(entries)
    assert ledger.parse(text) == tuple(sorted(set(entries)))
    assert ledger.written(ledger.parse(text)) == text


@given(ENTRIES, ENTRIES)
def test_two_ledgers_merge_line_by_line(ours: list[Entry], theirs: list[Entry]) -> None:
    lines = set(ledger.written(ours).splitlines()) | set(ledger.written(theirs).splitlines())
    merged = ledger.parse("\n".join(lines))
    assert set(merged) == set(ours) | set(theirs)
