"""The stored parser tables: current, used, and the same parser as the grammar's."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path

import pytest

from coldcheck.drawing import tables

SAMPLES = sorted(Path(__file__).resolve().parents[2].glob("samples/*.tube"))


def stored() -> dict[str, object]:
    return json.loads(files("coldcheck.grammar").joinpath("netlist.tables.json").read_bytes())


def test_the_stored_tables_belong_to_the_shipped_grammar() -> None:
    # The lark version may differ from the one they were made with; the grammar may not.
    grammar = tables.made_for(tables.grammar_text()).partition(", ")[2]
    assert str(stored()["made-for"]).partition(", ")[2] == grammar


@pytest.mark.parametrize("path", SAMPLES, ids=lambda p: p.stem)
def test_both_parsers_read_the_same(path: Path) -> None:
    quick, built = tables.load(), tables.build(tables.grammar_text())
    for line in path.read_text(encoding="utf-8").splitlines():
        text = line.partition("#")[0].strip()
        if text:
            assert quick.parse(text) == built.parse(text)


def test_tables_made_for_another_grammar_are_not_used(monkeypatch: pytest.MonkeyPatch) -> None:
    built: list[str] = []
    original = tables.build
    monkeypatch.setattr(tables, "made_for", lambda text: "something else")
    monkeypatch.setattr(tables, "build", lambda text: built.append(text) or original(text))
    tables.load()
    assert built == [tables.grammar_text()]


def test_fitting_tables_are_used(monkeypatch: pytest.MonkeyPatch) -> None:
    if stored()["made-for"] != tables.made_for(tables.grammar_text()):
        pytest.skip("made with another version of lark: the parser is built from the grammar")
    monkeypatch.setattr(tables, "build", lambda text: pytest.fail("built from the grammar"))
    assert tables.load().parse("B1 -- gnd")
