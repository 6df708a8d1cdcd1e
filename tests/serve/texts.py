"""What the tests of the editor service share: texts read and reviewed without a server."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from coldcheck.serve.reading import Known, Read, Text, read_text, reviewed
from coldcheck.serve.words import Word, words_of

SAMPLES = Path(__file__).parents[2] / "samples"

STAGE = """\
drawing "one stage"
B1 --+[E1 250 V]-- gnd
B1 --[R1 100k 0.5 W]-- V1A.plate --[C1 22n 400 V]-- OUT --[R4 1M]-- gnd
tube V1 12AX7
V1A.cathode --[R2 1k5 0.5 W]-- gnd
V1A.cathode --+[C2 25 uF 1 V]-- gnd
V1A.grid --[R3 1M]-- gnd
V1B.grid -- V1B.cathode -- gnd
"""
"""A drawing that is solved in no time; C2 stands less than the bias."""


def read_of(text: str, file: str = "stage.tube") -> Read:
    """A text without a file, read."""
    return read_text(Text(f"untitled:{file}", file, False, text, 1, 1), lambda path: None)


@cache
def known_of(text: str) -> Known:
    """A text without a file, reviewed; each text once a process."""
    read = read_of(text)
    return Known(read, reviewed(read))


def word_in(text: str, wanted: str, nth: int = 0) -> Word:
    """The nth name of that spelling in a text."""
    return [w for w in words_of(text.splitlines()) if w.text == wanted][nth]
