"""Changes to a text, and the same changes as the protocol has them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.serve.client import applied
from tests.serve.texts import SAMPLES, STAGE

from coldcheck.drawing.tidy import tidied
from coldcheck.serve.edits import MOST_LINES, Edit, LinesEdit, differing, edited, tidying
from coldcheck.serve.page import Page
from coldcheck.serve.wire import text_edit

UNTIDY = STAGE.replace("B1 --[R1", "B1--[ R1").replace("tube V1", "tube   V1")


def test_tidying_is_what_the_command_does() -> None:
    page = Page.of(UNTIDY)
    assert "\n".join(edited(page.lines, tidying(page))) == tidied(UNTIDY)
    assert tidying(Page.of(tidied(UNTIDY))) == []


def test_only_the_lines_that_are_not_tidy_are_written() -> None:
    assert sorted(e.line for e in tidying(Page.of(UNTIDY))) == [3]


def test_a_drawing_that_cannot_be_read_is_left_alone() -> None:
    assert tidying(Page.of(UNTIDY + "B1 --[[\n")) == []


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_the_editor_gets_the_same_text_with_its_own_line_ends(end: str, mark: str) -> None:
    text = mark + UNTIDY.replace("\n", end)
    page = Page.of(text)
    after = applied(text, [text_edit(edit, page) for edit in tidying(page)])
    assert after == mark + tidied(UNTIDY).replace("\n", end)


def test_a_sample_without_its_last_line_end_gets_one() -> None:
    text = (SAMPLES / "low-tide.tube").read_text(encoding="utf-8").rstrip("\n")
    page = Page.of(text)
    assert applied(text, [text_edit(e, page) for e in tidying(page)]) == tidied(text)


LINES = st.lists(st.text(st.sampled_from("ab Ω\N{BELL}"), max_size=4), min_size=1, max_size=5)


@given(LINES, st.integers(1, 6), st.integers(0, 5), st.lists(st.sampled_from("xy"), max_size=3))
def test_whole_lines_anywhere_also_the_last(
    lines: list[str], line: int, count: int, new: list[str]
) -> None:
    line = min(line, len(lines) + 1)
    count = min(count, len(lines) - line + 1)
    edit = LinesEdit(line, count, tuple(new))
    text = "\n".join(lines)
    after = applied(text, [text_edit(edit, Page.of(text))])
    assert after == "\n".join(edited(lines, [edit]))


@given(LINES, LINES)
def test_the_stretches_that_differ_are_all_that_differs(old: list[str], new: list[str]) -> None:
    stretches = list(differing(old, new))
    assert (
        edited(old, [LinesEdit(a + 1, b - a, tuple(new[c:d])) for a, b, c, d in stretches]) == new
    )
    assert (stretches == []) == (old == new)


def test_of_very_long_texts_the_differences_are_one_stretch() -> None:
    old = ["same", *(f"{n}" for n in range(MOST_LINES + 1)), "same"]
    new = ["same", *(f"{n} " for n in range(MOST_LINES + 1)), "same"]
    assert list(differing(old, new)) == [(1, MOST_LINES + 2, 1, MOST_LINES + 2)]


def test_an_edit_within_a_line_counts_as_the_editor_does() -> None:
    text = "x\n\N{BELL}Ω B1"
    page = Page.of(text)
    assert applied(text, [text_edit(Edit(2, 4, 6, "HT"), page)]) == "x\n\N{BELL}Ω HT"
