"""Every text gives tables or is refused in words."""

from __future__ import annotations

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.files.tables import NotToml, tables


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("x = " + "[" * 20_000 + "]" * 20_000, "nested too deep"),
        ("x" + ".x" * 20_000 + " = 1\ny = " + "{a=" * 20_000, "nested too deep"),
        ("x = " + "1" * 20_000, "too many digits"),
        ("x =", "at end of document"),
    ],
    ids=["arrays", "tables", "digits", "syntax"],
)
def test_what_is_no_toml_is_refused_in_words(text: str, said: str) -> None:
    with pytest.raises(NotToml, match=said):
        tables(text)


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused(text: str) -> None:
    with suppress(NotToml):
        assert isinstance(tables(text), dict)
