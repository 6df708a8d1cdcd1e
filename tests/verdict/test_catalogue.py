"""The catalogue of common mistakes: each row has its rule and pair, or says why none can be.

The rows are those of a list of 114 mistakes collected from builders' guides, data sheets and
handbooks (sources beside the rules; many from memory). Rows no drawing can show are listed in
DEVELOPERS.md with the reason.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from coldcheck.verdict.pairs import folder, pairs
from coldcheck.verdict.registry import RULES

ROOT = Path(__file__).parents[2]
COUNT = 114
BLOCKS = ((1, 25), (30, 65), (70, 88), (90, 104), (110, 128))
"""First and last number of each block; the numbering has gaps between them on purpose."""


def rows() -> list[dict[str, str]]:
    with (folder() / "catalogue.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_every_row_is_there_once() -> None:
    expected = [n for first, last in BLOCKS for n in range(first, last + 1)]
    assert [int(r["row"]) for r in rows()] == expected
    assert len(rows()) == COUNT


@pytest.mark.parametrize("row", rows(), ids=lambda r: r["row"])
def test_a_row_has_a_rule_and_its_pair_or_a_reason(row: dict[str, str]) -> None:
    assert row["mistake"], "a short phrase in our own words"
    if not row["rule"]:
        assert not row["pair"]
        assert len(row["note"].split()) >= 5, "why a drawing cannot show it"
        return
    assert row["rule"] in {r.id for r in RULES}
    assert row["pair"] in {p.name for p in pairs()}
    assert row["pair"].partition("/")[0] == row["rule"]


def test_rows_that_no_drawing_shows_are_explained_to_developers() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    without = [r for r in rows() if not r["rule"]]
    assert len(without) <= COUNT // 20
    for row in without:
        assert f"| {row['row']} |" in text, row["mistake"]


def test_the_table_is_plain_csv_that_others_can_read() -> None:
    for row in rows():
        assert set(row) == {"row", "mistake", "rule", "pair", "note"}
        assert all(value is not None and value == value.strip() for value in row.values())
