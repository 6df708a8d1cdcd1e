"""Documents: a review as plain data, there and back, and nothing but data."""

from __future__ import annotations

import copy
import json
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from coldcheck.drawing import parse_drawing
from coldcheck.verdict.document.build import document_of
from coldcheck.verdict.document.kept import from_json, to_json
from coldcheck.verdict.engine import review_drawing

if TYPE_CHECKING:
    from coldcheck.verdict.document.content import Document

SAMPLE = Path(__file__).parents[3] / "samples" / "breakwater.tube"
WRONG = 'drawing "x"\nB1 --[C1 100 nF 63 V]-- X --[R1 10k]-- gnd\nB1 --+[E1 400 V]-- gnd\n'
TEXTS = {
    "sample": SAMPLE.read_text(encoding="utf-8"),
    "wrong": WRONG,
    "unreadable": "B1 [R1\n",
    "undrained": WRONG + "B1 --[S1 switch]-- B2 --+[C2 47 uF 450 V]-- gnd\n",
}


def made(drawing: str) -> Document:
    review = review_drawing(parse_drawing(drawing, "a.tube"), date(2026, 6, 1))
    return document_of(review, pictured=True)


@pytest.fixture(scope="module")
def wrong() -> Document:
    return made(WRONG)


@pytest.mark.parametrize("name", TEXTS)
def test_there_and_back_as_json_text(name: str) -> None:
    document = made(TEXTS[name])
    assert document.shown is not None
    assert from_json(json.loads(json.dumps(to_json(document)))) == document


def test_what_never_ends_is_kept_as_such() -> None:
    document = made(TEXTS["undrained"])
    assert document.off is not None
    assert "Infinity" in json.dumps(to_json(document))
    assert any(s.capacitor.guard_seconds == float("inf") for s in document.off.slow)


POISON: list[tuple[str, Any]] = [
    ("file", 7),
    ("readable", 1),
    ("lines", [1, 2]),
    ("lines", "ab"),
    ("findings", [{"rule": "x"}]),
    ("not_judged", [{"rule": "x", "at": [], "reason": "y", "kind": "of its own"}]),
    ("states", {"warm": {"solved": True}}),
    ("kinds", [["a"]]),
    ("files", {"a": 1}),
    ("signal", "x"),
    ("off", 1.0),
]


@pytest.mark.parametrize(("field", "value"), POISON, ids=lambda p: str(p)[:20])
def test_anything_else_is_refused(wrong: Document, field: str, value: object) -> None:
    data = json.loads(json.dumps(to_json(wrong)))
    data["document"][field] = value
    with pytest.raises((KeyError, TypeError, ValueError)):
        from_json(data)


@pytest.mark.parametrize(
    "row", [[], [1.0] * 4, [1.0] * 6, [1.0, "1", 1.0, 1.0, 1.0], [None] * 5, {"dc": 1.0}]
)
def test_volts_are_a_row_of_so_many_numbers(wrong: Document, row: object) -> None:
    data = json.loads(json.dumps(to_json(wrong)))
    points = data["document"]["states"]["warm"]["points"]
    whole = [1, None, 2.5, 0, 3]
    points["B1"] = whole
    level = from_json(data).states["warm"].points["B1"]
    assert [level.dc, level.plus_minus, level.ac_rms, level.low, level.high] == whole
    points["B1"] = row
    with pytest.raises((KeyError, TypeError, ValueError)):
        from_json(data)


def test_another_form_is_refused(wrong: Document) -> None:
    with pytest.raises(ValueError, match="form"):
        from_json({**to_json(wrong), "form": "coldcheck.record/3"})


@pytest.mark.parametrize(
    "field", ["message", "level", "at", "span", "evidence", "accepted", "certainty", "limit"]
)
def test_a_finding_takes_text_and_numbers_only(wrong: Document, field: str) -> None:
    data = copy.deepcopy(json.loads(json.dumps(to_json(wrong))))
    data["document"]["findings"][0][field] = [{"x": 1}]
    with pytest.raises((KeyError, TypeError, ValueError)):
        from_json(data)


def test_a_level_or_a_unit_of_its_own_is_refused(wrong: Document) -> None:
    for change in ({"level": "grave"}, {"limit": {"value": 1.0, "unit": "furlong"}}):
        data = json.loads(json.dumps(to_json(wrong)))
        data["document"]["findings"][0].update(change)
        with pytest.raises((TypeError, ValueError)):
            from_json(data)
