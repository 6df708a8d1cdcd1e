"""Text that looks otherwise than it is read is refused, in remarks and quotes too.

The signs are those of the Unicode Bidirectional Algorithm, UAX #9, table of explicit formatting
characters; that they are to be refused or shown in source text is the advice of Unicode Technical
Standard #55 (both from memory).
"""

from __future__ import annotations

import pytest

from coldcheck.drawing import parse_drawing

EXPLICIT = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
IMPLICIT = "\u200e\u200f\u061c\u05d0\u0627"
WIRE = "B1 --[R1 10k 0.5 W]-- gnd\n"


@pytest.mark.parametrize("sign", EXPLICIT, ids=lambda s: f"{ord(s):04X}")
@pytest.mark.parametrize(
    "line", ["# a {} remark", 'drawing "a {} title"', "B1 --[R2 10k 0.5 W]-- gnd  # {}"]
)
def test_a_sign_that_turns_what_follows_is_refused(sign: str, line: str) -> None:
    text = WIRE + line.format(sign) + "\n"
    (problem,) = parse_drawing(text, "x.tube").problems
    assert problem.rule == "drawing.syntax"
    assert problem.found.startswith(f"U+{ord(sign):04X} ")
    assert text.split("\n")[problem.span.line - 1][problem.span.column - 1] == sign
    assert "shown in another order" in problem.hint


@pytest.mark.parametrize("sign", IMPLICIT, ids=lambda s: f"{ord(s):04X}")
def test_letters_that_run_from_right_to_left_are_text(sign: str) -> None:
    assert not parse_drawing(f"{WIRE}# a {sign} remark\n").problems


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_a_carriage_return_alone_is_refused_among_other_line_ends(end: str) -> None:
    text = f"{WIRE.strip()}{end}# a remark\rB1 --[R2 10k 0.5 W]-- gnd{end}"
    (problem,) = parse_drawing(text, "x.tube").problems
    assert (problem.span.line, problem.span.column) == (2, 11)
    assert problem.found == "a carriage return alone, among other line ends"
    assert problem.source_line == "# a remark"


def test_lines_that_all_end_in_a_carriage_return_are_lines() -> None:
    drawing = parse_drawing("B1 --[R1 10k]-- gnd\r# a remark\rB1 --[R2 10k]-- gnd\r")
    assert not drawing.problems
    assert len(drawing.statements) == 2
