from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from coldcheck.report.shared.plain import clean, counted, excerpt, listed, unheard


@given(st.text())
def test_nothing_unprintable_is_left(text):
    assert clean(text).isprintable()


@given(st.text(alphabet=st.characters(categories=["L", "N", "P", "S"])))
def test_printable_text_is_untouched(text):
    assert clean(text) == text


def test_controls_and_direction_marks_are_spelt_out():
    assert clean("B1\x1b[2J") == "B1\\x1b[2J"
    assert clean("a\u202eb") == "a\\u202eb"
    assert clean("a\tb\u00a0c") == "a b c"
    assert clean("a\udc80") == "a\\udc80"


def test_words():
    assert listed([]) == ""
    assert listed(["a"]) == "a"
    assert listed(["a", "b", "c"]) == "a, b and c"
    assert [counted(n, "finding") for n in (0, 1, 2)] == ["no findings", "1 finding", "2 findings"]


def test_marks_stand_under_the_columns():
    line, marks = excerpt("B1 --[R1 10q 2 W]-- B2", 10, 13, 60)
    assert line[marks.index("^") : len(marks)] == "10q"


def test_marks_after_a_tab_and_wide_letters():
    line, marks = excerpt("\tＲ1 = x", 5, 6, 60)
    assert line == "    Ｒ1 = x"
    assert marks == " " * 8 + "^"  # four for the tab, two for the wide letter, "1", the blank


def test_the_place_after_the_last_character_has_its_mark():
    assert excerpt("B1 --", 6, 7, 60) == ("B1 --", "     ^")
    assert excerpt("", 1, 2, 60) == ("", "^")


@given(
    st.text(alphabet=st.characters(codec="utf-8"), max_size=300),
    st.integers(1, 320),
    st.integers(0, 40),
    st.integers(20, 100),
)
def test_an_excerpt_fits_and_marks_something(line, column, length, width):
    shown, marks = excerpt(line, column, column + length, width)
    assert cell_len(shown) <= width
    assert cell_len(marks) <= width
    assert marks.strip("^ ") == ""
    assert "^" in marks


@given(st.integers(1, 200))
def test_a_long_line_keeps_the_marked_character_in_sight(column):
    text = "".join(chr(0x100 + n) for n in range(200))
    shown, marks = excerpt(text, column, column + 1, 40)
    assert shown[marks.index("^")] == text[column - 1]


@pytest.mark.parametrize("text", ["::stop-commands::x", "a ##[stop-commands]x", ":::", "##[##["])
def test_no_command_of_hosted_ci_is_left_in_a_line(text: str) -> None:
    """A line may be broken anywhere, and blanks before ``::`` are passed over."""
    assert "::" not in clean(text)
    assert "##[" not in clean(text)
    assert clean(clean(text)) == clean(text)


def test_json_without_such_a_command_means_the_same() -> None:
    text = json.dumps({"##[x]": ["##[y]", 1]})
    assert "##[" not in unheard(text)
    assert json.loads(unheard(text)) == json.loads(text)
