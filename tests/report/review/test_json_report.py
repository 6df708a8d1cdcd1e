from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import jsonschema
import pytest
from tests.gates import at

from coldcheck.drawing import parse_drawing
from coldcheck.judge.figure import figure
from coldcheck.report.review import json_report
from coldcheck.solve.solution import Wave
from coldcheck.sources.register import Citation
from coldcheck.verdict.document.build import ruling_of
from coldcheck.verdict.engine import review_drawing, review_file

SAMPLES = Path(__file__).parents[3] / "samples" / "mistakes"


@pytest.fixture(scope="module")
def validator():
    schema = json.loads(json_report.schema_text())
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


def read(*reviews, gate="notice"):
    return json.loads(json_report.render([at(review, gate) for review in reviews]))


def test_the_report_follows_its_schema(validator, review, clean_review, unreadable):
    validator.validate(read(review, clean_review, unreadable))


@pytest.mark.parametrize(
    "spoil",
    [
        lambda d: d.update(schema="coldcheck.report/1"),
        lambda d: d.update(more=1),
        lambda d: d["drawings"][0].pop("verdict"),
        lambda d: d["drawings"][0]["findings"][0].update(level="grave"),
        lambda d: d["drawings"][0]["findings"][0].update(line="6"),
        lambda d: d["drawings"][0]["states"]["warm"]["points"]["B1"].pop("dc"),
        lambda d: d["drawings"][0]["states"]["high line"].update(residual_a=1e-9),
        lambda d: d["drawings"][0]["states"]["warm"]["tubes"]["V1"].update(volts=1),
        lambda d: d["drawings"][0]["findings"][0].update(limit=100.0),
    ],
)
def test_the_schema_refuses_what_is_not_the_report(validator, review, spoil):
    document = read(review)
    spoil(document)
    assert not validator.is_valid(document)


def test_fields_of_a_finding(review):
    finding = read(review)["drawings"][0]["findings"][1]
    assert finding == {
        "rule": "heater.cathode-stress",
        "level": "notice",
        "state": "warm",
        "also_in": ["cold", "high line"],
        "at": ["V1"],
        "line": 6,
        "column": 1,
        "message": review.findings[1].message,
        "remedy": review.findings[1].remedy,
        "evidence": {
            "cathode_dc": {"value": 152.3, "unit": "V"},
            "heater_dc": {"value": 0.0, "unit": "V"},
            "peak": {"value": 156.8, "unit": "V"},
        },
        "limit": {"value": 100.0, "unit": "V"},
        "path": ["V1.cathode", "--[R3 1.5 kohm]--", "gnd"],
        "certainty": "certain",
        "source": "6V6GT data sheet (found)",
        "cites": [],
        "fingerprint": "0123456789abcdef",
        "accepted": None,
        "standing": False,
    }


def test_each_source_is_named_once_with_how_it_was_seen(validator, review):
    sheet, touch = Citation("philips-sheets", "EL34"), Citation("iec-60335-1", "cl. 8.1.4")
    first, second, *rest = review.findings
    cited = (replace(first, cites=(sheet, touch)), replace(second, cites=(sheet,)), *rest)
    report = read(replace(review, findings=cited), replace(review, findings=cited[1:]))
    validator.validate(report)
    assert report["drawings"][0]["findings"][0]["cites"] == [
        {"source": "philips-sheets", "where": "EL34"},
        {"source": "iec-60335-1", "where": "cl. 8.1.4"},
    ]
    assert list(report["sources"]) == ["iec-60335-1", "philips-sheets"]
    assert report["sources"]["iec-60335-1"]["seen"] == "in a public compilation"
    assert report["sources"]["philips-sheets"] == {
        "author": "Philips",
        "title": "data sheets of receiving tubes",
        "year": "",
        "seen": "from memory",
    }


@pytest.mark.parametrize(
    "rule", ["heater.cathode-stress", "tube.plate-dissipation", "grid.no-stopper"]
)
def test_whatever_a_review_cites_is_among_the_sources(validator, rule):
    drawing = min((SAMPLES / rule).rglob("wrong.tube"))
    report = read(review_file(drawing))
    validator.validate(report)
    (told,) = report["drawings"]
    edges = [e for w in told["heater_windings"] for e in w["window"].values() if e]
    cited = {c["source"] for held in (*told["findings"], *edges) for c in held["cites"]}
    assert cited == set(report["sources"])
    (found, *_) = (f for f in told["findings"] if f["rule"] == rule)
    assert found["cites"]


def test_points_have_every_name_and_lead_that_has_a_voltage(review):
    warm = read(review)["drawings"][0]["states"]["warm"]
    b1 = dict(warm["points"]["B1"])
    assert b1.pop("plus_minus") is None  # a solution made by hand has no spread
    assert b1 == pytest.approx({"dc": 285.06, "ac_rms": 0.141421, "min": 284.86, "max": 285.26})
    assert warm["points"]["V1.screen"] == warm["points"]["B1"]
    assert "X.1" not in warm["points"]
    assert warm["undefined"] == {"X.1": "it floats: no DC path to gnd"}


def test_tubes_have_the_worst_instant_between_heater_and_cathode(review):
    tubes = read(review)["drawings"][0]["states"]["warm"]["tubes"]
    assert tubes["V1"]["heater_cathode_peak"] == 16.9
    assert tubes["V1"]["plate_ma"] == 44.81
    assert tubes["V2"]["heater_cathode_peak"] is None


def test_a_state_that_was_not_solved_has_no_numbers(review):
    state = read(review)["drawings"][0]["states"]["high line"]
    assert state == {
        "converged": False,
        "residual_a": None,
        "reason": "the equations did not settle after 80 steps",
        "points": {},
        "undefined": {},
        "tubes": {},
        "transistors": {},
    }


def test_numbers_that_are_not_finite_become_null(validator, review):
    warm = review.solutions["warm"]
    waves = {**warm.waves, "B1": Wave(warm.waves["B1"].samples * float("inf"))}
    odd = replace(
        review.findings[0],
        evidence={"peak": figure(float("nan"), "V")},
        limit=figure(float("-inf"), "V"),
    )
    spoilt = replace(review, findings=(odd,), solutions={"warm": replace(warm, waves=waves)})
    with pytest.warns(RuntimeWarning):  # numpy, on the deviation of infinities
        text = json_report.render([at(spoilt)])
    assert "NaN" not in text
    assert "Infinity" not in text
    document = json.loads(text)
    validator.validate(document)
    found = document["drawings"][0]["findings"][0]
    assert found["evidence"] == {"peak": {"value": None, "unit": "V"}}
    assert found["limit"] == {"value": None, "unit": "V"}


def test_verdicts_and_the_gate(review, clean_review, unreadable):
    assert [d["verdict"] for d in read(review, clean_review, unreadable)["drawings"]] == [
        "held",
        "let through",
        "unreadable",
    ]
    assert read(review, gate="danger")["drawings"][0]["verdict"] == "let through"


def test_accepted_findings_carry_the_reason(review):
    accepted = [f["accepted"] for f in read(review)["drawings"][0]["findings"]]
    assert accepted == [None, None, "runs hot by design, see log 14"]


def test_the_text_is_ascii_whatever_the_names_hold(validator, review):
    odd = replace(review, title="Ω \x1b[2J \u202e", file="caf\udce9.tube")
    text = json_report.render([at(odd)])
    assert text.isascii()
    assert "\x1b" not in text
    document = json.loads(text)
    validator.validate(document)
    assert document["drawings"][0]["title"] == "Ω \x1b[2J \u202e"
    assert document["drawings"][0]["file"] == "caf\\udce9.tube"


def test_a_solved_drawing_says_how_far_each_voltage_may_be_off():
    from coldcheck.verdict.engine import review_file

    sample = Path(__file__).resolve().parents[3] / "samples" / "harbour-light.tube"
    report = json.loads(json_report.render([ruling_of(review_file(sample))]))
    lift = report["drawings"][0]["states"]["warm"]["points"]["LIFT"]
    # 150k over 22k, 10 % each: 10 % x 0.87 each way is 12 % of the tap, the mains add their 10 %.
    assert 0.12 * lift["dc"] < lift["plus_minus"] < 0.25 * lift["dc"]


def test_transistors_are_in_each_state(validator):
    text = (
        "B --+[E1 300 V]-- gnd\ntransistor Q1 IRF840\nB -- Q1.drain\nQ1.source --[R3 22k]-- gnd\n"
        "B --[R1 1M]-- Q1.gate --[R2 1M]-- gnd\n"
    )
    data = read(review_drawing(parse_drawing(text)))
    validator.validate(data)
    told = data["drawings"][0]["states"]["warm"]["transistors"]["Q1"]
    assert told["type"] == "IRF840"
    assert told["watts"] == pytest.approx(1e-3 * told["ma"] * told["volts"], rel=1e-3)
