"""The register of sources: every entry in form, every citation in the program leads to one."""

from __future__ import annotations

import ast
import csv
import re
from pathlib import Path

import pytest

from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation, Seen, register
from coldcheck.verdict.registry import RULES

CITED = sorted({t.source.source for rule in RULES for t in rule.thresholds})


@pytest.mark.parametrize("name", sorted(register()))
def test_an_entry_says_what_it_is(name: str) -> None:
    entry = register()[name]
    assert entry.title or entry.seen is Seen.PRACTICE
    assert entry.id == name


def test_every_citation_leads_to_an_entry() -> None:
    assert [name for name in CITED if name not in register()] == []


def test_words() -> None:
    touch = Citation("iec-60335-1", "cl. 8.1.4")
    assert touch.text.startswith("IEC 60335-1, ")
    assert touch.text.endswith("cl. 8.1.4 (in a public compilation)")
    assert PRACTICE.text == "common practice"
    assert Threshold("touch voltage", 60.0, "V", PRACTICE).text == (
        "touch voltage 60 V: common practice"
    )


def test_an_unknown_source_is_a_key_error() -> None:
    with pytest.raises(KeyError):
        _ = Citation("nobody").text


ROOT = Path(__file__).parents[2]
CODE = re.compile(r"\b(?:HTR|AMP|PS|MEAS|VAL|SAF|RAT)-\d+|catalogue no\.")
TEXTS = ("*.py", "*.csv", "*.tube", "*.toml", "*.md")


def cited_in_code() -> set[str]:
    """The entries that citations of the program name, read from its source."""
    trees = (ast.parse(p.read_text("utf-8")) for p in (ROOT / "lint").rglob("*.py"))
    calls = (n for tree in trees for n in ast.walk(tree) if isinstance(n, ast.Call))
    named = (c.args[0] for c in calls if isinstance(c.func, ast.Name) and c.func.id == "Citation")
    return {a.value for a in named if isinstance(a, ast.Constant) and isinstance(a.value, str)}


def cited_in_tables() -> set[str]:
    """Those that the published tables name: an entry, and after a colon where in it."""
    found = set()
    for path in (ROOT / "tests" / "published").glob("*.csv"):
        with path.open(encoding="utf-8", newline="") as lines:
            found |= {row["source"].partition(":")[0] for row in csv.DictReader(lines)}
    return found


def test_every_source_named_in_the_program_and_the_tables_is_an_entry() -> None:
    assert sorted((cited_in_code() | cited_in_tables()) - set(register())) == []


def test_every_entry_is_named_somewhere() -> None:
    assert sorted(set(register()) - cited_in_code() - cited_in_tables()) == []


def test_our_own_rules_go_by_the_register() -> None:
    """Only packages of others write a source as text."""
    words = {entry.text for entry in register().values() if entry.text} | {"common practice"}
    assert [r.id for r in RULES if not any(w in r.source for w in words)] == []


def test_no_code_of_a_document_nobody_else_has() -> None:
    paths = (p for d in ("lint", "tests", "samples") for t in TEXTS for p in (ROOT / d).rglob(t))
    told = (p for p in paths if p != Path(__file__))
    assert [str(p) for p in told if CODE.search(p.read_text("utf-8", errors="replace"))] == []
