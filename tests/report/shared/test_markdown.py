"""Text from a drawing inside Markdown: a renderer that follows CommonMark shows it as it is."""

from __future__ import annotations

import re

from hypothesis import given
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from coldcheck.report.shared.markdown import escaped, own_words
from coldcheck.report.shared.plain import clean

RENDERER = MarkdownIt("commonmark").enable(["table", "strikethrough"])
SIGNS = "\\`*_{}[]()<>#+-!|~@&:$\"'.=/ ab1\n\t\x1b\u202e"


def shown(markdown: str) -> str:
    """What a reader sees of one paragraph; anything but text in it fails."""
    tokens = RENDERER.parse(f"x{markdown}x")
    assert [t.type for t in tokens] == ["paragraph_open", "inline", "paragraph_close"]
    assert {t.type for t in tokens[1].children or ()} <= {"text", "text_special", "softbreak"}
    return "".join(t.content for t in tokens[1].children or ())[1:-1]


@given(st.text(alphabet=SIGNS, max_size=40))
def test_a_drawings_text_shows_as_it_is(text: str) -> None:
    assert shown(escaped(text)) == clean(text)


@given(st.text(alphabet=SIGNS, max_size=40))
def test_no_cell_of_a_table_begins_inside_it(text: str) -> None:
    assert not re.search(r"(?<!\\)(\\\\)*\|", escaped(text))


def test_no_address_becomes_a_link_and_no_word_an_emblem() -> None:
    assert "www." not in escaped("www.example.org")
    assert "https:" not in escaped("https://example.org")
    assert escaped(":skull: V3:8") == r"\:skull: V3\:8"
    assert escaped("WARNING: gnd") == "WARNING: gnd"


def test_our_own_words_keep_their_code() -> None:
    assert own_words("a_b * <c> [d] `accept`") == r"a\_b \* \<c\> \[d\] `accept`"
