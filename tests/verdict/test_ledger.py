"""The ledger: what stands, what is new, what is gone, and files that merge."""

from __future__ import annotations

import operator
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.drawing import parse_drawing
from coldcheck.judge.finding import LEVELS
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
    return ledger.current([ruled(d, USUAL) for d in documents], same, {}, "2026-06-01")


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
MARKS = st.text("0123456789abcdef", min_size=16, max_size=16)
ENTRIES = st.lists(
    st.builds(
        Entry, WORDS, WORDS, WORDS, MARKS, st.sampled_from(LEVELS),
        st.integers(1, 999).map(lambda n: n / 100), st.just("2026-06-01"), WORDS, MARKS,
    ),
    unique_by=lambda e: (e.file, e.fingerprint),
)  # fmt: skip


@given(ENTRIES)
def test_what_is_written_is_read_again_sorted_and_once(entries: list[Entry]) -> None:
    text = ledger.written(entries)
    assert ledger.parse(text) == tuple(sorted(set(entries)))
    assert ledger.written(ledger.parse(text)) == text


@given(ENTRIES, ENTRIES)
def test_two_ledgers_merge_line_by_line(ours: list[Entry], theirs: list[Entry]) -> None:
    lines = set(ledger.written(ours).splitlines()) | set(ledger.written(theirs).splitlines())
    merged = ledger.parse("\n".join(lines))
    key = operator.attrgetter("file", "fingerprint")
    assert set(map(key, merged)) == set(map(key, (*ours, *theirs)))
    assert set(merged) <= set(ours) | set(theirs)


# -- how grave ----------------------------------------------------------------------------


def test_an_entry_says_how_grave_when_and_where_it_came_in(one: Document) -> None:
    (found,) = ledger.current([ruled(one, USUAL)], same, {}, "2026-06-01", "abc123")
    assert (found.level, found.excess, found.day, found.revision) == (
        "notice", 6.35, "2026-06-01", "abc123")  # fmt: skip
    assert ledger.parse(ledger.written([found])) == (found,)


def test_what_grew_worse_counts_again_and_says_so(one: Document) -> None:
    entries = current([review(C1.replace("63 V", "390 V"))])
    settled = weighed([one], entries)
    (found,) = counting(settled.documents[0], "notice")
    assert "worse than the ledger has it (notice, 1.03 times the limit)" in found.message
    assert settled.gone == entries


def test_what_is_a_little_worse_still_stands(one: Document) -> None:
    entries = current([review(C1.replace("63 V", "66 V"))])
    assert not counting(weighed([one], entries).documents[0], "notice")


def test_a_graver_level_counts_again_and_a_milder_one_stands(one: Document) -> None:
    (entry,) = current([one])
    graver = replace(one, findings=tuple(replace(f, level="danger") for f in one.findings))
    assert counting(weighed([graver], (entry,)).documents[0], "notice")
    grave = replace(entry, level="danger", excess=1e6)
    assert not counting(weighed([one], (grave,)).documents[0], "notice")


def test_an_update_keeps_the_day_and_does_not_creep(one: Document) -> None:
    (entry,) = current([one])
    old = replace(entry, day="2025-01-01", revision="abc", excess=6.0)
    settled = weighed([one], (old,))
    (kept,) = ledger.current([ruled(d, USUAL) for d in settled.documents], same, settled.met,
                             "2026-06-01", "def")  # fmt: skip
    assert kept == old  # not 6.35, or the next step would be measured from there
    milder = replace(old, excess=60.0)
    settled = weighed([one], (milder,))
    (kept,) = ledger.current([ruled(d, USUAL) for d in settled.documents], same, settled.met)
    assert (kept.excess, kept.day) == (6.35, "2025-01-01")


@pytest.mark.parametrize(
    "renamed",
    [
        C1.replace("C1", "C99"),
        (SUPPLY + C1).replace("B1", "HT"),
        (SUPPLY + C1).replace("B1", "HT").replace("C1", "C5").replace("E1", "E7"),
    ],
)
def test_a_renamed_part_or_point_keeps_its_entry(one: Document, renamed: str) -> None:
    text = renamed if renamed.startswith("HT") else SUPPLY + renamed
    now = document_of(review_drawing(parse_drawing(text, "a.tube"), DAY))
    settled = weighed([now], current([one]))
    assert not counting(settled.documents[0], "notice")
    assert settled.gone == ()


def test_a_name_that_moves_to_another_place_takes_nothing_with_it(one: Document) -> None:
    elsewhere = review("B1 --[R1 10k 2 W]-- X --[R2 10k 2 W]-- gnd\nX --[C9 100 nF 63 V]-- gnd\n")
    assert counting(weighed([elsewhere], current([one])).documents[0], "notice")


def test_one_entry_covers_one_of_two_alike(one: Document) -> None:
    two = review(C1.replace("C1", "C5") + C1.replace("C1", "C6"))
    assert len(counting(weighed([two], current([one])).documents[0], "notice")) == 1


def test_duplicates_and_two_sides_of_a_merge_give_the_mildest(one: Document) -> None:
    (entry,) = current([one])
    grave = replace(entry, excess=50.0)
    for lines in ([grave.line, entry.line, entry.line], [entry.line, grave.line]):
        assert ledger.parse("\n".join(lines)) == (entry,)


def test_the_marks_of_a_merge_are_named() -> None:
    with pytest.raises(LedgerError, match="line 1: the mark of a merge; keep the lines of both"):
        ledger.parse("<<<<<<< HEAD\n")


@pytest.mark.parametrize("wrong", ["nan", "inf", "-1", "x"])
def test_a_figure_that_covers_anything_is_refused(one: Document, wrong: str) -> None:
    line = current([one])[0].line.replace("\t6.35\t", f"\t{wrong}\t")
    with pytest.raises(LedgerError):
        ledger.parse(line)


def test_a_line_of_the_former_form_covers_nothing(one: Document) -> None:
    former = "\t".join(current([one])[0].line.split("\t")[:4])
    (entry,) = ledger.parse(former)
    assert counting(weighed([one], (entry,)).documents[0], "notice")
    assert ledger.written([entry]) == ledger.HEADING + "\n"


def test_what_a_ledger_takes_in_is_every_line_that_covers_more(one: Document) -> None:
    (entry,) = current([one])
    assert ledger.added((entry,), (entry,)) == ()
    for other in (
        replace(entry, level="danger"), replace(entry, excess=9.0), replace(entry, file="b.tube"),
        replace(entry, shape="0" * 16), replace(entry, fingerprint="0" * 16),
    ):  # fmt: skip
        assert ledger.added((entry,), (other,)) == (other,)
    assert ledger.added((entry,), (replace(entry, excess=2.0, day="2020-01-01"),)) == ()


def test_a_line_of_a_drawing_that_is_gone_covers_the_same_circuit_only(one: Document) -> None:
    """The same part on points of the same names is not the same place."""
    moved = review(C1, "b.tube")
    other = review(C1 + "B1 --[R1 100k 5 W]-- M --[R2 100k 5 W]-- gnd\n", "b.tube")
    entries = current([one])
    assert entries[0].fingerprint == other.findings[0].fingerprint
    assert weighed([moved], entries).documents[0].findings[0].standing
    assert not weighed([other], entries).documents[0].findings[0].standing


def test_a_line_that_grows_by_anything_is_taken_in(one: Document) -> None:
    (entry,) = current([one])
    for factor, new in ((1.0, ()), (0.9, ()), (1.01, (entry,)), (1.09, (entry,))):
        grown = replace(entry, excess=entry.excess * factor)
        assert [e.places for e in ledger.added([entry], [grown])] == [e.places for e in new]


@pytest.mark.parametrize("name", ["a\tb.tube", "a\nb.tube", "a\rb.tube", "a\udcffb.tube"])
def test_a_name_that_no_line_can_hold_is_refused(name: str) -> None:
    assert ledger.refused_name(["a.tube", name]) == name
    assert ledger.refused_name(["a.tube", "\u00e9 b.tube"]) == ""
