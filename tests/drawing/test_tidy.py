"""Tidying moves blanks and nothing else."""

from __future__ import annotations

import re
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.drawing.lines import without_comment
from coldcheck.drawing.model import Drawing, Span
from coldcheck.drawing.tidy import tidied

if TYPE_CHECKING:
    import random

SAMPLES = Path(__file__).parents[2] / "samples"
TEXTS = {
    str(p.relative_to(SAMPLES)): p.read_text(encoding="utf-8")
    for p in sorted(SAMPLES.rglob("*.tube"))
    if p.parent == SAMPLES or p.name == "right.tube"
}
READABLE = {name: text for name, text in TEXTS.items() if not parse_drawing(text).problems}


def bare(thing: object) -> object:
    """A statement without its places."""
    if isinstance(thing, Span):
        return None
    if is_dataclass(thing):
        return (type(thing).__name__, *(bare(getattr(thing, f.name)) for f in fields(thing)))
    if isinstance(thing, tuple):
        return tuple(map(bare, thing))
    to_tuple = getattr(thing, "to_tuple", None)  # a quantity: its text is slow to make
    return to_tuple() if to_tuple else str(thing)


def read(text: str) -> Drawing:
    drawing = parse_drawing(text)
    assert drawing.problems == ()
    return drawing


def remarks(text: str) -> list[str]:
    """The comments, without the blanks in them."""
    found = (line[len(without_comment(line)) :] for line in text.splitlines())
    return ["".join(r.split()) for r in found if r.strip()]


@pytest.mark.parametrize("name", READABLE)
def test_statements_and_remarks_are_the_same_and_tidying_again_changes_nothing(name: str) -> None:
    text = READABLE[name]
    tidy = tidied(text)
    assert bare(read(tidy).statements) == bare(read(text).statements)
    assert remarks(tidy) == remarks(text)
    assert tidied(tidy) == tidy


def graph(text: str) -> nx.MultiGraph[str]:
    return build_circuit(read(text)).graph


def same_part(a: dict[str, dict[str, object]], b: dict[str, dict[str, object]]) -> bool:
    def named(edges: dict[str, dict[str, object]]) -> list[tuple[str, ...]]:
        branches = [e["branch"] for e in edges.values()]
        return sorted((x.name, x.kind.value, str(x.value)) for x in branches)  # type: ignore[attr-defined]

    return named(a) == named(b)


@pytest.mark.parametrize("name", [n for n in READABLE if "/" not in n])
def test_the_circuit_is_the_same_graph(name: str) -> None:
    text = READABLE[name]
    assert nx.is_isomorphic(graph(text), graph(tidied(text)), edge_match=same_part)


def spaced(line: str, chance: random.Random) -> str:
    """Other blanks between the words, outside quotes and remarks."""
    if '"' in line or "#" in line:
        return line
    return re.sub(r"(?<=\S) +(?=\S)", lambda m: " " * chance.randint(1, 4), line)


@settings(max_examples=12)
@given(st.sampled_from([n for n in READABLE if "/" not in n]), st.randoms(use_true_random=False))
def test_any_blanks_an_author_may_write_come_out_the_same(name: str, chance: random.Random) -> None:
    text = READABLE[name]
    ends = [spaced(line, chance) + " " * chance.randint(0, 3) for line in text.splitlines()]
    loose = "\n".join(ends) + "\n" * chance.randint(1, 4)
    assert bare(read(tidied(loose)).statements) == bare(read(text).statements)
    assert tidied(tidied(loose)) == tidied(loose)


@pytest.mark.parametrize(
    ("untidy", "tidy"),
    [
        ("A--[R1   1k]--B\n", "A --[R1 1k]-- B\n"),
        ("A  --+[ C1 1u ]--  gnd   #why\n", "A --+[C1 1u]-- gnd  # why\n"),
        ("A --[R1 1k]-- --[R2 1k]-- B\n", "A --[R1 1k]-- --[R2 1k]-- B\n"),
        ("A--[D1 1N4007]->B<-[D2 1N4007]--C\n", "A --[D1 1N4007]-> B <-[D2 1N4007]-- C\n"),
        ("B+ --[R1 1k]-- B+2\n", "B+ --[R1 1k]-- B+2\n"),
        ("A --[R1 1k]-- --\n  B\n", None),
        ("A -- # here\nB -- C\n", "A --  # here\n    B -- C\n"),
        ("\n\n\nA -- B\n\n\n\nC -- D\n\n", "A -- B\n\nC -- D\n"),
        ("transformer T1\nprimary pri 120 V\n", "transformer T1\n    primary pri 120 V\n"),
        ('sheet  "a b.tube"   as L joining A,gnd ,  IN=X\n', None),
        (
            'sheet "a.tube"  as  L  joining  A, IN  =  X\n',
            'sheet "a.tube" as L joining A, IN = X\n',
        ),
        ("expect   A  -  B   below 3 V\n", "expect A - B below 3 V\n"),
        ("expect gain  IN  to OUT above  3\n", "expect gain IN to OUT above 3\n"),
        ('drawing   "two  blanks"\n', 'drawing "two  blanks"\n'),
        ("A -- B # one\nA.x -- LONGER # two\n", "A -- B         # one\nA.x -- LONGER  # two\n"),
    ],
)
def test_by_example(untidy: str, tidy: str | None) -> None:
    if tidy is not None:
        assert tidied(untidy) == tidy
        assert bare(read(tidy).statements) == bare(read(untidy).statements)
    assert tidied(tidied(untidy)) == tidied(untidy)


def test_tabs_and_windows_line_ends_go() -> None:
    assert tidied("\ufeffA\t--\tB\r\nC -- D\r\n") == "A -- B\nC -- D\n"
