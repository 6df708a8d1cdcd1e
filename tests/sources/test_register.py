"""The register of sources: every entry in form, every citation in the program leads to one."""

from __future__ import annotations

import ast
import csv
import re
from pathlib import Path

import pytest

from coldcheck.circuit.tubes import known_types, tube_type
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import (
    PRACTICE,
    Citation,
    Cited,
    Seen,
    cited_by,
    of_tube_data,
    register,
)
from coldcheck.verdict.registry import RULES

TYPES = [tube_type(name) for name in known_types()]
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


def cited_by_tubes() -> set[str]:
    """Those that the sources of the tube data on file name."""
    return {
        c.source for kind in TYPES for sheet in kind.sources.values() for c in sheet.cited.cites
    }


def test_every_source_named_in_the_program_and_the_tables_is_an_entry() -> None:
    assert sorted((cited_in_code() | cited_in_tables()) - set(register())) == []


def test_every_entry_is_named_somewhere() -> None:
    assert sorted(set(register()) - cited_in_code() - cited_in_tables() - cited_by_tubes()) == []


def test_every_source_of_the_tube_data_leads_to_the_register() -> None:
    told = ((kind.name, s) for kind in TYPES for s in kind.sources.values())
    assert [(name, s.source) for name, s in told if not s.cited.cites] == []


def test_an_entry_was_seen_as_the_tube_data_say_the_figure_was() -> None:
    seen = {"memory": {Seen.MEMORY}, "found": {Seen.READ, Seen.COMPILATION}}
    sheets = {s for kind in TYPES for s in kind.sources.values()}
    for sheet in sheets:
        allowed = seen.get(sheet.confidence.partition(" ")[0], {Seen.DERIVED})
        assert {register()[c.source].seen for c in sheet.cited.cites} <= allowed, sheet


@pytest.mark.parametrize(
    ("text", "confidence", "entries"),
    [
        ("RCA 6SN7GT; RC-30 for the heater-cathode limit", "memory", ["rca-sheets", "rca-rc"]),
        ("RCA RC-19/RC-30", "memory (one recall)", ["rca-rc"]),
        ("Philips / Mullard EL34", "memory", ["philips-sheets", "maker-sheets"]),
        ("GEC/Osram valve manual", "memory", ["maker-sheets"]),
        ("https://en.m.wikipedia.org/wiki/6L6", "found", ["wikis"]),
        ("https://amperatubes.fr/tube/ECC40/", "found", ["web-pages"]),
        ("published for two tubes at zero signal, here for one", "derived", ["arithmetic"]),
        ("Philips EL34", "found", []),  # nobody saw those sheets
        ("my own bench", "memory", []),
        ("GErman", "memory", []),
    ],
)
def test_which_entries_a_source_of_tube_data_names(text, confidence, entries) -> None:
    cites = of_tube_data(text, confidence)
    assert [c.source for c in cites] == entries
    assert {c.where for c in cites} <= {text}


def test_words_of_any_origin_with_the_entries_they_name() -> None:
    two = (Citation("iec-60127", "2.1 times"), PRACTICE)
    assert cited_by("a text") == Cited("a text")
    assert cited_by(PRACTICE) == Cited("common practice", (PRACTICE,))
    assert cited_by(two) == Cited(f"{two[0].text}; common practice", two)
    assert cited_by(cited_by(two)) == cited_by(two)
    assert str(cited_by(two)) == cited_by(two).text


def test_our_own_rules_go_by_the_register() -> None:
    """Only packages of others write a source as text."""
    words = {entry.text for entry in register().values() if entry.text} | {"common practice"}
    assert [r.id for r in RULES if not any(w in r.source for w in words)] == []


def test_no_code_of_a_document_nobody_else_has() -> None:
    paths = (p for d in ("lint", "tests", "samples") for t in TEXTS for p in (ROOT / d).rglob(t))
    told = (p for p in paths if p != Path(__file__))
    assert [str(p) for p in told if CODE.search(p.read_text("utf-8", errors="replace"))] == []
