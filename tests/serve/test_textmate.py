"""The grammar for highlighting: made of the language's tables, it colours what the reader reads.

The tokens are those of an independent tokenizer of TextMate grammars on the Oniguruma engine, so
the expressions are tried in the engine they are written for.
"""

from __future__ import annotations

import json
import re
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

import pytest
from tests.serve.texts import SAMPLES

from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import KIND_WORDS, SAFETY_CLASSES, WORDS
from coldcheck.drawing.lines import KEYWORDS
from coldcheck.drawing.values import UNITS
from coldcheck.serve import textmate, words
from coldcheck.serve.words import words_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

FOLDER = files("coldcheck.grammar")
WRITTEN = FOLDER.joinpath(textmate.NAME).read_text(encoding="utf-8")
GRAMMAR: dict[str, Any] = json.loads(WRITTEN)
TEXTS = sorted(SAMPLES.rglob("*.tube"))


def test_the_file_is_what_the_tables_give_today() -> None:
    assert textmate.text() == WRITTEN, "run python -m coldcheck.serve.textmate"


# -- its structure -----------------------------------------------------------------------------


def rules(rule: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """A rule and all rules inside it."""
    yield rule
    for inner in rule.get("patterns", ()):
        yield from rules(inner)
    for name in ("captures", "beginCaptures", "endCaptures", "repository"):
        for inner in rule.get(name, {}).values():
            yield from rules(inner)


def test_every_rule_has_one_of_the_forms_a_rule_may_have() -> None:
    assert GRAMMAR["scopeName"] == "source.coldcheck"
    assert GRAMMAR["fileTypes"] == ["tube"]
    known = {"name", "scopeName", "fileTypes", "patterns", "repository", "match", "captures",
             "begin", "end", "beginCaptures", "endCaptures", "include"}  # fmt: skip
    for rule in rules(GRAMMAR):
        assert set(rule) <= known
        assert ("begin" in rule) == ("end" in rule)
        assert not ("match" in rule and "begin" in rule)
        if "include" in rule:
            assert rule["include"].removeprefix("#") in GRAMMAR["repository"]
        if rule is not GRAMMAR and "name" in rule:
            assert rule["name"].endswith(".coldcheck")


def test_every_rule_of_the_repository_is_used() -> None:
    used = {r["include"] for r in rules(GRAMMAR) if "include" in r}
    assert used == {f"#{name}" for name in GRAMMAR["repository"]}


def test_every_expression_compiles_and_has_the_groups_that_are_named() -> None:
    import onigurumacffi

    count = 0
    for rule in rules(GRAMMAR):
        pairs = (("match", "captures"), ("begin", "beginCaptures"), ("end", "endCaptures"))
        for kind, captures in pairs:
            if kind in rule:
                onigurumacffi.compile(rule[kind])  # raises for what is no expression
                groups = re.compile(rule[kind]).groups
                assert {int(n) for n in rule.get(captures, {})} <= set(range(groups + 1))
                count += 1
    assert count > 20


# -- its words -----------------------------------------------------------------------------------


def alternatives(pattern: str, first: str) -> set[str]:
    """The words of the group of alternatives in an expression that ``first`` is one of."""
    for group in re.findall(r"\((?:\?:)?([^()?]+)\)", pattern):
        found = {word.replace("\\", "") for word in group.split("|")}
        if first in found:
            return found
    raise AssertionError(f"no group has {first}")


def of(name: str) -> str:
    return str(GRAMMAR["repository"][name]["match"])


def test_the_statements_are_the_languages() -> None:
    found: list[str] = []
    for rule in GRAMMAR["repository"]["statements"]["patterns"]:
        (group,) = re.findall(r"^\^\\s\*\(([a-z|]+)\)", rule["begin"])
        found += group.split("|")
    assert sorted(found) == sorted(KEYWORDS)


@pytest.mark.parametrize(
    ("rule", "first", "table"),
    [
        ("kind", "choke", set(KIND_WORDS)),
        ("word", "film", set(WORDS) - set(KIND_WORDS)),
        ("landmark", "gnd", set(LANDMARKS)),
        ("class", "Y2", set(SAFETY_CLASSES)),
    ],
)
def test_the_words_are_those_of_the_tables(rule: str, first: str, table: Iterable[str]) -> None:
    assert alternatives(of(rule), first) == set(table)


def test_the_words_inside_statements_are_the_grammars() -> None:
    text = FOLDER.joinpath("netlist.lark").read_text(encoding="utf-8")
    plain = "\n".join(line for line in text.splitlines() if not line.startswith("//"))
    literals = set(re.findall(r'"([a-z]+)"', plain)) - KEYWORDS - set(words.MEASURES)
    assert alternatives(of("clause"), "because") == literals | {"heater"}


def test_every_unit_is_known() -> None:
    pattern = of("value")
    for unit in UNITS:
        assert re.search(rf"(?<![A-Za-z]){re.escape(unit)}(?![A-Za-z])", pattern), unit


# -- what it colours ---------------------------------------------------------------------------


@cache
def tokenizer() -> Any:
    from textmate_grammar.parsers.base import LanguageParser

    return LanguageParser(GRAMMAR)


def scopes(text: str) -> dict[tuple[int, int], tuple[str, str]]:
    """(line, column), both from 1, of each token: what it is, and its innermost scope."""
    parsed = tokenizer().parse_string(text)
    return {
        (line + 1, column + 1): (token, names[-1].removesuffix(".coldcheck"))
        for (line, column), token, names in parsed.flatten()
    }


POINT, LANDMARK = "variable.other.point", "constant.language.landmark"
NUMBER, UNIT = "constant.numeric.value", "keyword.other.unit"
CLAUSE, LEAD, TYPE = "keyword.other.clause", "variable.other.member.lead", "support.type.tube"

WANTED = {
    words.KEYWORD: ("keyword.control.statement",),
    words.NAME: ("entity.name.part",),
    words.WINDING: ("entity.name.part",),
    words.PART: ("entity.name.part",),
    words.TYPE: ("support.type.tube",),
    words.RULE: ("entity.name.rule",),
    words.POINT: (POINT, LANDMARK, "entity.name.section.sheet"),
    words.INNER: (POINT, LANDMARK),
    words.SHEET: (POINT,),
}  # fmt: skip


@pytest.mark.parametrize("path", TEXTS[:: max(len(TEXTS) // 8, 1)], ids=lambda p: p.parent.name)
def test_names_are_coloured_as_what_they_are(path: Any) -> None:
    text = path.read_text(encoding="utf-8", errors="replace")
    check(text)


@pytest.mark.parametrize("path", sorted(SAMPLES.glob("*.tube")), ids=lambda p: p.stem)
def test_names_of_the_samples_are_coloured_as_what_they_are(path: Any) -> None:
    assert check(path.read_text(encoding="utf-8")) > 80


def check(text: str) -> int:
    """Hold the tokens of a text against its names, comments and quotes; how many there were."""
    from coldcheck.drawing.reader import parse_drawing

    drawing = parse_drawing(text)
    if drawing.problems:
        return 0
    found = scopes(text)
    checked = 0
    for word in words_of(drawing.lines):
        if word.role == words.PATH:
            continue
        token, scope = found[word.line, word.column]
        assert scope in WANTED[word.role], (word, token, scope)
        assert word.text.startswith(token)
        checked += 1
    for number, line in enumerate(drawing.lines, 1):
        code = words.code(line)
        if len(code) < len(line.rstrip()):
            start = line.index("#", len(code)) + 1
            assert found[number, start][1] == "comment.line.number-sign"
    return checked


@pytest.mark.parametrize(
    ("line", "wanted"),
    [
        ("A --[R1 4k7 2 W 5 %]-- B", {"4k7": NUMBER, "W": UNIT, "%": UNIT}),
        ("A --[R1 R47]-- B", {"R1": "entity.name.part", "R47": NUMBER}),
        ("A --[C1 0.1u 250 Vac Y2]-- B",
         {"0.1": NUMBER, "u": UNIT, "Vac": UNIT, "Y2": "storage.modifier.class"}),
        ("A --[C2 ? 450 V film]-- B",
         {"?": "constant.language.unknown", "film": "storage.modifier.word"}),
        ("A --[X1 choke 8 H]-- B", {"choke": "storage.type.kind", "H": UNIT}),
        ("A --[D1 1N4007]-> K", {"1N4007": "support.type.part", "->": "keyword.operator.wire"}),
        ("A --[R1 4.7 kΩ]-- B", {"4.7": NUMBER, "kΩ": UNIT}),
        ("V3:8 -- V1A.plate", {":8": "constant.numeric.pin", "V1A": POINT, ".plate": LEAD}),
        ("B+ -- V2.screen", {"B+": POINT, ".screen": LEAD}),
        ("RES --+[C1 20 uF]-- gnd", {"+": "keyword.operator.plus", "uF": UNIT, "gnd": LANDMARK}),
        ('accept a.b at R2 because "x # y" until 2027-06-30 # z',
         {"a.b": "entity.name.rule", "R2": POINT, "because": CLAUSE,
          '"x # y"': "string.quoted.double", "2027-06-30": "constant.numeric.date",
          "# z": "comment.line.number-sign"}),
        ("expect gain IN to OUT above 50",
         {"gain": "keyword.other.measure", "to": CLAUSE, "50": NUMBER}),
        ("expect L/V2.cathode = 12.5 V", {"L/": "entity.name.section.sheet", "12.5": NUMBER}),
        ("switch S1 spdt at 1", {"S1": "entity.name.part", "spdt": "storage.modifier.layout"}),
        ("type MY6V6 like 6V6GT", {"MY6V6": TYPE, "like": CLAUSE, "6V6GT": TYPE}),
        ("rating plate-voltage 400 V", {"plate-voltage": "support.constant.rating"}),
        ('drawing "a title', {'"a title': "string.quoted.double"}),
    ],
)  # fmt: skip
def test_tokens_have_their_scopes(line: str, wanted: dict[str, str]) -> None:
    found = dict(scopes(line).values())
    assert {token: found.get(token) for token in wanted} == wanted


def test_a_line_that_is_only_begun_does_not_run_into_the_next() -> None:
    found = scopes('B1 --[R1 10k\ntube V1 12AX7\naccept a.b at V2 because "x\nB1 -- gnd')
    assert found[2, 1][1] == "keyword.control.statement"
    assert found[4, 1][1] == "variable.other.point"
