"""The grammar itself, its reference page, and the example files."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from lark import Lark

from coldcheck.drawing import parse_drawing, read_drawing
from coldcheck.drawing.lines import KEYWORDS
from coldcheck.drawing.syntax import _WORDS, parser

GRAMMAR = Path(__file__).parents[2] / "grammar"
FENCE = re.compile(r"^```(tube|tube-refused)\n(.*?)^```$", re.M | re.S)
BLOCKS = [
    pytest.param(kind, text, id=f"{kind}-{number}")
    for number, (kind, text) in enumerate(FENCE.findall((GRAMMAR / "README.md").read_text("utf-8")))
]


def words(problem):
    text = f"column {problem.span.column}: {problem.rule}: "
    text += f"found {problem.found}; expected {problem.expected}"
    return text + (f"; hint: {problem.hint}" if problem.hint else "")


def test_no_two_terminals_collide():
    # strict=True (with interegular) refuses both token collisions and grammar conflicts.
    text = (GRAMMAR / "netlist.lark").read_text("utf-8")
    built = Lark(text, start="statement", parser="lalr", lexer="contextual", strict=True)
    assert built.parse("A --[R1 10k]-- B").data == "statement"


def test_every_terminal_has_plain_words():
    shown = set(_WORDS) | {word.upper() for word in KEYWORDS}
    spelled = {t.name for t in parser().terminals if t.pattern.type == "str" and
               t.pattern.value.isalpha()}  # fmt: skip
    rest = {t.name for t in parser().terminals} - shown - spelled
    assert {name for name in rest if not name.startswith("__IGNORE")} == set()


def test_keywords_are_the_grammar_s():
    text = (GRAMMAR / "netlist.lark").read_text("utf-8")
    rules = re.findall(r'^(\w+): "(\w+)"', text, re.M)
    first = {word for rule, word in rules if rule == word}
    inner = {"tolerance", "heater", "within", "until"}  # these rules begin inside a statement
    assert first - inner == KEYWORDS


@pytest.mark.parametrize(("kind", "text"), BLOCKS)
def test_reference_examples(kind, text):
    drawing = parse_drawing(text)
    if kind == "tube":
        assert [words(p) for p in drawing.problems] == []
        assert drawing.statements
    else:
        assert drawing.problems


def test_every_line_of_a_refused_block_is_refused_or_says_why_not():
    # Lines that only set the scene for a later one, all others must be refused themselves.
    scene = {"transformer T1", "tube V1 12AX7"}
    for kind, text in FENCE.findall((GRAMMAR / "README.md").read_text("utf-8")):
        if kind == "tube-refused":
            bad = {p.span.line for p in parse_drawing(text).problems}
            lines = text.splitlines()
            assert [x for i, x in enumerate(lines, 1) if i not in bad and x not in scene] == []


def test_reference_names_every_statement_and_rule():
    page = (GRAMMAR / "README.md").read_text("utf-8")
    for word in KEYWORDS:
        assert re.search(rf"\b{word}\b", page), word
    source = "".join(p.read_text("utf-8") for p in Path(parse_drawing.__code__.co_filename)
                     .parent.glob("*.py"))  # fmt: skip
    for rule in set(re.findall(r'"(drawing\.[a-z-]+)"', source)):
        assert f"`{rule}`" in page


@pytest.mark.parametrize(
    "path", sorted((GRAMMAR / "examples" / "accepted").glob("*.tube")), ids=lambda p: p.stem
)
def test_accepted_examples(path):
    drawing = read_drawing(path)
    assert [words(p) for p in drawing.problems] == []
    assert drawing.statements


@pytest.mark.parametrize(
    "path", sorted((GRAMMAR / "examples" / "refused").glob("*.tube")), ids=lambda p: p.stem
)
def test_refused_examples_say_exactly_this(path):
    said: dict[int, list[str]] = {}
    line = 0
    for number, text in enumerate(path.read_text("utf-8").split("\n"), 1):
        if text.startswith("#! "):
            said.setdefault(line, []).append(text[3:])
        else:
            line = number
    found: dict[int, list[str]] = {}
    for problem in read_drawing(path).problems:
        found.setdefault(problem.span.line, []).append(words(problem))
    assert found == said
