"""The table of heater windings and its JSON, on drawings that are really worked out."""

from __future__ import annotations

import json
from datetime import date
from io import StringIO
from pathlib import Path

import jsonschema
import pytest
from rich.console import Console

from coldcheck.report.review import json_report
from coldcheck.report.review.heater_section import heater_section
from coldcheck.report.shared.lines import print_section
from coldcheck.verdict.document.build import document_of, ruling_of
from coldcheck.verdict.engine import review_file

PAIRS = Path(__file__).parents[3] / "samples" / "mistakes"


@pytest.fixture(scope="module")
def looked():
    return review_file(PAIRS / "heater.no-common-lift" / "wrong.tube", date(2026, 6, 1))


def printed(review) -> list[str]:
    paper = StringIO()
    for section in heater_section(document_of(review).heater_windings):
        print_section(Console(file=paper, width=100), section)
    return paper.getvalue().splitlines()


def test_table_of_a_winding_without_a_common_lift(looked) -> None:
    lines = printed(looked)
    assert lines[1] == "Heater windings, DC volts to gnd"
    assert lines[2].split() == ["winding", "stands", "at", "window", "set", "by"]
    # 420 V * 110 / 440 = 105 V; the windows are worked by hand in tests/rules.
    assert lines[3].split() == ["T1.warm", "105.0", "none", "V1A", "warm,", "V2", "cold"]
    assert lines[4].split()[:3] == ["V2", "alone", "-93.5"]
    assert lines[5].split()[:3] == ["V1", "alone", "75.8"]


def test_nothing_is_printed_without_a_heater_winding() -> None:
    assert printed(review_file(PAIRS / "heater.string-order" / "right.tube")) == []


def test_divider_is_told_where_the_winding_stands_outside() -> None:
    lines = printed(review_file(PAIRS / "heater.cathode-stress" / "wrong.tube"))
    assert any("T1.warm, to the middle: 270 kohm 1 W over 91 kohm 250 mW" in x for x in lines)


def test_json_of_the_windings(looked) -> None:
    document = json.loads(json_report.render([ruling_of(looked)]))
    jsonschema.Draft202012Validator(json.loads(json_report.schema_text())).validate(document)
    (warm,) = document["drawings"][0]["heater_windings"]
    assert (warm["winding"], warm["empty"], warm["conflicts"]) == ("T1.warm", True, ["V1", "V2"])
    assert warm["stands_at"] == pytest.approx(105, rel=1e-4)
    assert warm["window"]["low"]["section"] == "V1A"
    assert warm["window"]["high"]["limit"] == 50
    assert [g["tubes"] for g in warm["split"]] == [["V2"], ["V1"]]
    divider = warm["split"][1]["divider"]
    # 420 V over 390 k and 160 k.
    assert divider["gives_v"] == pytest.approx(420 * 160 / 550, rel=1e-4)
    assert divider["upper_w"] == pytest.approx((420 * 390 / 550) ** 2 / 390e3, rel=1e-3)
    assert divider["bypass_rating_v"] == 450
