"""A point under another name everywhere in its file, and every reason why not."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.serve.texts import STAGE, read_of, word_in

from coldcheck.drawing.reader import parse_drawing
from coldcheck.serve.edits import edited
from coldcheck.serve.reading import Read, Text, read_text
from coldcheck.serve.rename import Refused, renamable, rename
from coldcheck.serve.words import POINT, words_of

if TYPE_CHECKING:
    from pathlib import Path

TEXT = (
    STAGE
    + """\
signal IN 0.1 V
IN --[C9 10n]-- V1A.grid   # B1 in a comment stays
expect B1 - OUT below 300 V
expect gain IN to OUT above 10
accept tube.unused-section at B1 because "B1 is as it should be"
"""
)


def renamed(text: str, old: str, new: str) -> str:
    read = read_of(text)
    return "\n".join(edited(read.page.lines, rename(read, word_in(text, old), new, {})))


def test_every_mention_changes_and_no_comment_or_reason() -> None:
    after = renamed(TEXT, "B1", "HT").splitlines()
    assert after[1] == "HT --+[E1 250 V]-- gnd"
    assert after[-4] == "IN --[C9 10n]-- V1A.grid   # B1 in a comment stays"
    assert after[-3] == "expect HT - OUT below 300 V"
    assert after[-1] == 'accept tube.unused-section at HT because "B1 is as it should be"'
    signal = renamed(TEXT, "IN", "JACK_IN").splitlines()
    assert signal[-5] == "signal JACK_IN 0.1 V"
    assert signal[-2] == "expect gain JACK_IN to OUT above 10"


def test_a_name_with_a_sign_is_set_off() -> None:
    assert renamed("B1--[R1 1k]--gnd", "B1", "B+") == "B+ --[R1 1k]--gnd"
    assert renamed("B+ -- OUT --[R1 1k]-- gnd", "B+", "B2") == "B2 -- OUT --[R1 1k]-- gnd"


def test_a_joint_with_one_name_keeps_the_sheets() -> None:
    line = 'sheet "c.tube" as L joining B1, IN = OUT'
    assert renamed(STAGE + line, "B1", "HT").splitlines()[-1] == (
        'sheet "c.tube" as L joining B1 = HT, IN = OUT'
    )
    assert renamed(STAGE + line, "OUT", "X").splitlines()[-1] == (
        'sheet "c.tube" as L joining B1, IN = X'
    )


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ("B1", "OUT", "there is a OUT in this drawing already"),
        ("B1", "R1", "there is a R1 in this drawing already"),
        ("B1", "V1A", "there is a V1A in this drawing already"),
        ("B1", "B 1", "is no name for a point"),
        ("B1", "", "is no name for a point"),
        ("B1", "Ω", "is no name for a point"),
        ("B1", "B1", "is called B1 already"),
        ("B1", "output", "is a word of the language"),
        ("B1", "gain", "is a word of the language"),
        ("B1", "gnd", "would be taken for gnd"),
        ("B1", "Chassis", "would be taken for chassis"),
        ("gnd", "X", "gnd is the same in every drawing"),
        ("V1A.plate", "X", "is a lead or pin"),
        ("R1", "X", "R1 is a part, not a point"),
        ("V1", "X", "V1 is a part, not a point"),
        ("12AX7", "X", "there is no point here"),
        ("tube", "X", "there is no point here"),
    ],
)
def test_what_cannot_be_done_is_refused_with_the_reason(old: str, new: str, why: str) -> None:
    with pytest.raises(Refused) as told:
        renamed(TEXT, old, new)
    assert why in str(told.value)


def test_nothing_is_renamed_in_a_text_that_cannot_be_read() -> None:
    with pytest.raises(Refused, match="not all of the drawing can be read"):
        renamed(STAGE + "B1 --[[", "B1", "HT")


def test_what_is_in_a_sheet_is_renamed_there() -> None:
    text = STAGE + 'sheet "c.tube" as L joining IN = OUT\nexpect L/X = 3 V'
    for name in ("IN", "L/X"):
        with pytest.raises(Refused, match="in the sheet's own file"):
            renamable(read_of(text), word_in(text, name))


@pytest.fixture
def channel(tmp_path: Path) -> Path:
    (tmp_path / "coldcheck.toml").write_text("")
    (tmp_path / "sub").mkdir()
    (tmp_path / "sub" / "channel.tube").write_text("IN --[R1 1k]-- MID --[R2 1k]-- gnd\n")
    main = 'B1 --+[E1 9 V]-- gnd\nB1 --[R1 1k]-- A\nsheet "sub/channel.tube" as L joining IN = A\n'
    (tmp_path / "main.tube").write_text(main)
    return tmp_path / "sub" / "channel.tube"


def of_file(path: Path) -> Read:
    text = path.read_text()
    return read_text(Text(path.as_uri(), str(path), True, text, 1, 1), lambda _: None)


def test_a_point_that_another_drawing_joins_keeps_its_name(channel: Path) -> None:
    read = of_file(channel)
    joined, own = (word_in(read.text.text, name) for name in ("IN", "MID"))
    with pytest.raises(Refused, match=r"main\.tube has this drawing as a sheet and joins IN"):
        rename(read, joined, "X", {})
    assert len(rename(read, own, "X", {})) == 1
    main = channel.parents[1] / "main.tube"
    open_text = Text(main.as_uri(), str(main), True, "A --[R1 1k]-- gnd", 1, 1)
    assert len(rename(read, joined, "X", {main: open_text})) == 1, "in the editor it joins no more"


NAMES = st.from_regex(r"[A-Z][A-Z0-9_]{0,4}[+-]?", fullmatch=True)


@settings(max_examples=15)
@given(st.sampled_from(("B1", "OUT", "IN")), NAMES)
def test_there_and_back_is_the_same_text_and_nothing_else_changes(old: str, new: str) -> None:
    try:
        there = renamed(TEXT, old, new)
    except Refused:
        return
    assert not parse_drawing(there).problems
    before, after = words_of(TEXT.splitlines()), words_of(there.splitlines())
    changed = [(a.text, b.text) for a, b in zip(before, after, strict=True) if a.text != b.text]
    assert set(changed) == {(old, new)}
    assert len(changed) == sum(w.text == old and w.role == POINT for w in before)
    back = renamed(there, new, old)
    assert "".join(back.split()) == "".join(TEXT.split())
