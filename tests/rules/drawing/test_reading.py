"""A point with a single connection; and the rules of reading only document what reading says."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from coldcheck.rules.drawing.reading import RULES

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

BENCH = "B1 --+[E1 250 V]-- gnd\nB1 --[R1 100k 1 W]-- gnd\n"
READING = "while reading"
LINT = Path(__file__).parents[3] / "lint" / "coldcheck"


@pytest.mark.parametrize(
    ("more", "loose"),
    [
        ("", set()),
        ("B1 --[R2 10k]-- X\n", {"X"}),
        ("B1 --[R2 10k]-- X\nX --[R3 10k]-- gnd\n", set()),
        ("B1 --[R2 10k]-- X\nx --[R3 10k]-- gnd\n", {"X", "x"}),
        ("B1 --[R2 10k]-- X\nX -- Y\n", {"X"}),
        ("B1 --[R2 10k]-- X\nexpect X = 250 V within 5 %\n", set()),
        ("B1 --[R2 10k]-- chassis\n", set()),
        ("jack J1\nB1 --[R2 10k]-- J1.tip\nJ1.sleeve -- gnd\n", set()),
        ("signal IN 0.1 V 1 kHz\nIN --[R2 1M]-- gnd\n", set()),
        ("pot P1 500k\nB1 --[R2 10k]-- P1.top\nP1.bottom -- gnd\n", set()),
        ("A -- B\n", {"A"}),
        ("tube V1 6C4\nB1 -- V1.plate\nV1.grid -- G\nV1.cathode --[R2 1k]-- gnd\n", {"V1.grid"}),
    ],
)
def test_points_that_lead_nowhere(
    more: str, loose: set[str], review: Callable[[str], Review]
) -> None:
    looked = review(BENCH + more)
    found = [f for f in looked.findings if f.rule == "drawing.single-connection"]
    assert {f.at[0] for f in found} == loose
    assert all(f.level == "notice" and f.evidence["connections"].value <= 1 for f in found)


def test_leads_the_drawing_never_mentions_are_left_alone(review: Callable[[str], Review]) -> None:
    looked = review(
        BENCH + "tube V1 12AX7\nB1 --[R2 100k]-- V1A.plate\nV1A.grid --[R3 1M]-- gnd\n"
        "V1A.cathode --[R4 1k5]-- gnd\n"
    )
    assert "drawing.single-connection" not in {f.rule for f in looked.findings}


def test_it_stands_at_the_line_of_the_point(sample: Callable[..., Review]) -> None:
    looked = sample("drawing.single-connection", "wrong")
    found = {f.at[0]: f for f in looked.findings}
    assert {n: f.span.line for n, f in found.items()} == {"B2": 5, "B02": 6}
    assert "R1" in found["B2"].message
    assert "R2" in found["B02"].message


def test_every_problem_the_reader_can_report_has_a_rule() -> None:
    written = set()
    for folder in ("drawing", "circuit"):
        for path in (LINT / folder).glob("*.py"):
            written |= set(re.findall(r'"(drawing\.[a-z-]+)"', path.read_text(encoding="utf-8")))
    reading = {r.id for r in RULES if r.states == READING}
    # of a tube, a rule says it; of what a type is like, the reader
    assert written == {*reading, "drawing.unknown-type"}
    assert "drawing.unknown-type" in {r.id for r in RULES}


@pytest.mark.parametrize("name", [r.id for r in RULES if r.states == READING])
def test_reading_pairs_say_what_was_found_and_expected(
    name: str, sample: Callable[..., Review]
) -> None:
    looked = sample(name, "wrong")
    (found,) = looked.findings
    assert (found.rule, found.level, looked.verdict()) == (name, "notice", "unreadable")
    assert found.evidence["found"] in found.message
    assert found.evidence["expected"] in found.message
    assert found.span.line >= 4
