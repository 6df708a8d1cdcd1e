"""Places of a text and places of an editor: lines from 0, columns in UTF-16 units."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.drawing.model import Span
from coldcheck.serve.page import UTF8, UTF16, UTF32, Page

BELL = "\N{BELL}"  # U+1F514: two units of UTF-16, four bytes of UTF-8
LINE = st.text(st.sampled_from(f"ab µΩ{BELL}"), max_size=12)


@pytest.mark.parametrize(("encoding", "character"), [(UTF16, 5), (UTF8, 9), (UTF32, 4)])
def test_a_sign_beyond_the_basic_plane_is_counted_as_the_encoding_has_it(
    encoding: str, character: int
) -> None:
    page = Page.of(f"x\nΩ{BELL}µaB1", encoding)  # before B1: omega, bell, mu, a
    assert page.character(2, 5) == character
    assert page.column(1, character) == 5


def test_a_place_inside_a_sign_is_before_it_and_one_past_the_end_the_end() -> None:
    page = Page.of(f"a{BELL}b")
    assert page.column(0, 2) == 2
    assert page.column(0, 99) == 4
    assert page.column(7, 0) == 1


@given(st.lists(LINE, min_size=1, max_size=4), st.sampled_from((UTF8, UTF16, UTF32)), st.booleans())
def test_every_column_there_and_back_is_the_same(
    lines: list[str], encoding: str, marked: bool
) -> None:
    page = Page.of(("\ufeff" if marked else "") + "\n".join(lines), encoding)
    assert page.lines == tuple(lines)
    for number, line in enumerate(lines, 1):
        for column in range(1, len(line) + 2):
            assert page.column(number - 1, page.character(number, column)) == column


@given(LINE)
def test_the_utf16_count_is_what_the_codec_says(line: str) -> None:
    assert Page.of(line).end() == (0, len(line.encode("utf-16-le")) // 2)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_lines_end_as_the_editor_ends_them(end: str) -> None:
    page = Page.of(f"a\u2028b\x0bc{end}d{end}")  # neither separator nor tabulation ends a line
    assert page.lines == ("a\u2028b\x0bc", "d", "")
    assert page.newline == end


def test_a_byte_order_mark_is_counted_on_the_first_line_only() -> None:
    page = Page.of("\ufeffab\ncd")
    assert page.range(Span("f", 1, 2, 3)) == ((0, 2), (0, 3))
    assert page.range(Span("f", 2, 2, 3)) == ((1, 1), (1, 2))


def test_a_place_that_is_gone_is_cut_to_what_there_is() -> None:
    assert Page.of("ab").range(Span("f", 9, 1, 40)) == ((0, 0), (0, 2))
