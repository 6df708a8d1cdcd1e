"""Records: a review as plain data, there and back, and nothing but data."""

from __future__ import annotations

import copy
import json
from datetime import date
from io import StringIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from rich.console import Console

from coldcheck.drawing import parse_drawing
from coldcheck.report.review import text
from coldcheck.report.review.record import JSON, TEXT, Look, Record, from_json, record_of, to_json
from coldcheck.verdict.engine import review_drawing

if TYPE_CHECKING:
    from coldcheck.verdict.review import Review

SAMPLE = Path(__file__).parents[3] / "samples" / "harbour-light.tube"
WRONG = 'drawing "x"\nB1 --[C1 100 nF 63 V]-- X --[R1 10k]-- gnd\nB1 --+[E1 400 V]-- gnd\n'
ALL = frozenset((TEXT, JSON))


def reviewed(drawing: str, name: str = "a.tube") -> Review:
    return review_drawing(parse_drawing(drawing, name), date(2026, 6, 1))


@pytest.fixture(scope="module")
def sample() -> Review:
    return reviewed(SAMPLE.read_text(encoding="utf-8"))


@pytest.fixture(scope="module", params=["sample", "wrong", "unreadable"])
def record(request: pytest.FixtureRequest, sample: Review) -> Record:
    reviews = {"sample": sample, "wrong": reviewed(WRONG), "unreadable": reviewed("B1 [R1\n")}
    return record_of(reviews[request.param], ALL, Look())


def test_there_and_back_as_json_text(record: Record) -> None:
    assert from_json(json.loads(json.dumps(to_json(record)))) == record


def test_what_was_not_wanted_is_not_made(sample: Review) -> None:
    light = record_of(sample, frozenset(), Look())
    assert (light.tables, light.document) == ("", None)
    assert light.review.circuit is None
    assert light.review.findings == sample.findings


@pytest.mark.parametrize("look", [Look(), Look(100, "truecolor", terminal=True)])
def test_text_from_a_record_is_the_text_of_the_review(sample: Review, look: Look) -> None:
    record = record_of(sample, ALL, look)

    def printed(review: Review, made: str | None) -> str:
        console = Console(
            file=StringIO(), width=look.width, color_system=look.colours,  # type: ignore[arg-type]
            force_terminal=look.terminal,
        )  # fmt: skip
        with console.capture() as captured:
            text.render(review, console, made=made)
        return captured.get()

    assert printed(record.review, record.tables) == printed(sample, None)


POISON: list[tuple[str, Any]] = [
    ("form", "coldcheck.record/0"),
    ("file", 7),
    ("lines", [1, 2]),
    ("findings", [{"rule": "x"}]),
    ("gate", "none"),
    ("tables", None),
    ("document", "x"),
    ("kinds", [["a"]]),
    ("files", {"a": 1}),
]


@pytest.mark.parametrize(("field", "value"), POISON, ids=lambda p: str(p)[:20])
def test_anything_else_is_refused(field: str, value: object) -> None:
    data = to_json(record_of(reviewed(WRONG), ALL, Look()))
    data[field] = value
    if field == "files":
        assert from_json(data).files == ("a",)
        return
    with pytest.raises((KeyError, TypeError, ValueError)):
        from_json(data)


@pytest.mark.parametrize("field", ["message", "level", "at", "span", "evidence", "accepted"])
def test_a_finding_takes_text_and_numbers_only(field: str) -> None:
    data = copy.deepcopy(to_json(record_of(reviewed(WRONG), ALL, Look())))
    data["findings"][0][field] = [{"x": object}]
    with pytest.raises((KeyError, TypeError, ValueError)):
        from_json(data)
