"""Sentences are for people: nothing outside the reports decides by what a sentence says."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import coldcheck

ROOT = Path(coldcheck.__file__).parent
SENTENCES = {"reason", "message", "remedy", "hint", "expected", "description", "why"}
WORDING = {"declare.py"}
"""Looks into a hint of its own making, so as to say no name twice."""

FITTING = {"fit.py"}
"""The command that fits the laws takes its starting values by a type's description; no review
does. It should have a field of the data for that."""

FILES = [
    p
    for p in sorted(ROOT.rglob("*.py"))
    if "report" not in p.relative_to(ROOT).parts and p.name not in WORDING | FITTING
]


def read(node: ast.expr) -> str:
    """The name of the sentence an expression reads, or an empty text."""
    while isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
        node = node.func.value  # .lower() and the like
    name = node.attr if isinstance(node, ast.Attribute) else getattr(node, "id", "")
    return name if name in SENTENCES else ""


def decisions(source: str) -> list[int]:
    """The lines that ask how a sentence begins or ends, or what is in it."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            asked = node.func.attr in ("startswith", "endswith", "find", "index")
            if asked and read(node.func.value):
                found.append(node.lineno)
        elif isinstance(node, ast.Compare) and isinstance(node.ops[0], (ast.In, ast.NotIn)):
            found += [node.lineno] if read(node.comparators[0]) else []
    return found


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_nothing_is_decided_by_a_sentence(path: Path) -> None:
    assert decisions(path.read_text("utf-8")) == []


@pytest.mark.parametrize(
    "line",
    [
        'if item.reason.startswith("the rule failed"): ...',
        'if "floating" in reason: ...',
        'if "gas" not in tube.type.description.lower(): ...',
        'if bad.expected.endswith("unit"): ...',
    ],
)
def test_such_a_line_would_be_seen(line: str) -> None:
    assert decisions(line) == [1]
