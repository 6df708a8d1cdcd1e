"""Nothing is lost at any width: every number of a document stands whole in its text."""

from __future__ import annotations

import re
from collections import Counter
from datetime import date
from io import StringIO
from pathlib import Path

import pytest
from rich.console import Console
from tests.gates import at

from coldcheck.drawing import parse_drawing
from coldcheck.report.review import text
from coldcheck.report.review.findings import details
from coldcheck.report.review.sections import sections
from coldcheck.report.shared.blocks import Entries, Note, Table
from coldcheck.verdict.engine import review_drawing

SAMPLES = Path(__file__).parents[3] / "samples"
NUMBER = re.compile(r"(?<![\w.])[-+]?\d+(?:\.\d+)?(?![\w.]*\d)")

# Long names, a switch that keeps a charge, an unsolved value, findings with figures.
CROWDED = (
    'drawing "x"\nREGULATED_SUPPLY_OF_THE_FIRST_STAGE --+[E1 250 V]-- gnd\n'
    "REGULATED_SUPPLY_OF_THE_FIRST_STAGE --[R1 1k 0.25 W]-- "
    "SCREEN_SUPPLY_OF_THE_OUTPUT_STAGE --[R2 2.2k 0.25 W]-- gnd\n"
    "SCREEN_SUPPLY_OF_THE_OUTPUT_STAGE --[S1 switch]-- B3 --+[C1 47 uF 63 V]-- gnd\n"
)


def ruling_of(name: str):
    drawing = CROWDED if name == "crowded" else (SAMPLES / f"{name}.tube").read_text("utf-8")
    return at(review_drawing(parse_drawing(drawing, f"{name}.tube"), date(2026, 6, 1)))


def said(document) -> list[str]:
    """Every text the report has to print, as it is before anything is laid out."""
    found = [f.message for f in document.findings]
    found += [what for f in document.findings for _, what in details(f) if f.accepted is None]
    for section in sections(document):
        for block in section.blocks:
            match block:
                case Table():
                    found += [cell for row in block.rows for cell in row]
                case Note():
                    found.append(block.text)
                case Entries():
                    found += [part for pair in block.items for part in pair]
    return found


@pytest.fixture(scope="module", params=["breakwater", "galley", "crowded"])
def ruling(request):
    return ruling_of(request.param)


@pytest.mark.parametrize("width", [40, 60, 80, 100, 200])
@pytest.mark.parametrize("terminal", [False, True])
def test_every_number_is_whole(ruling, width: int, terminal: bool) -> None:
    paper = StringIO()
    console = Console(
        file=paper, width=width, force_terminal=terminal, color_system=None, _environ={}
    )
    text.render(ruling, console)
    there = Counter(NUMBER.findall(paper.getvalue()))
    wanted = Counter(n for words in said(ruling.document) for n in NUMBER.findall(words))
    assert wanted
    assert {n: count for n, count in wanted.items() if there[n] < count} == {}
    assert "…" not in paper.getvalue()
