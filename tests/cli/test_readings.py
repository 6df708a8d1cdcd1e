"""``coldcheck readings`` as a builder calls it."""

from __future__ import annotations

import csv
import json
from io import StringIO

import pytest
from tests.bench.drawings import COUPLED

from coldcheck.bench.diagnosis.channels import Channel
from coldcheck.bench.diagnosis.known import Known
from coldcheck.bench.diagnosis.ranked import Next
from coldcheck.report.diagnosis.words import asked, switching


@pytest.fixture(autouse=True)
def worked_out_at_once(monkeypatch):
    """What is worked out beside the readings is there before the first: no test is a race."""
    monkeypatch.setattr(Known, "begin", Known.library)


@pytest.fixture
def drawing(tmp_path):
    path = tmp_path / "buoy.tube"
    path.write_text(COUPLED, encoding="utf-8")
    return path


@pytest.fixture
def readings(tmp_path):
    def _readings(text):
        path = tmp_path / "readings.csv"
        path.write_text(text, encoding="utf-8")
        return path

    return _readings


def test_a_fault_is_found_and_told(run, drawing, readings):
    status, out, _ = run("readings", drawing, readings("DRV,dc,5.49\nB1,dc,250\nV1A.grid,dc,5.5\n"))
    assert status == 1
    assert "TOO HIGH" in out
    assert "C4 leaking, about" in out
    assert "that these readings cannot tell from it" in " ".join(out.split())
    assert "plug pulled and capacitors empty, change the tube of V1A" in " ".join(out.split())
    assert "lethal voltages" in out
    assert max(len(line) for line in out.splitlines()) <= 80


def test_what_nothing_explains_is_said_without_percentages(run, drawing, readings):
    status, out, _ = run("readings", drawing, readings("B1,dc,60\nV1A.plate,dc,400\nDRV,dc,90\n"))
    assert status == 1
    assert "Outside what is known here" in " ".join(out.split())
    told = out.partition("\nDiagnosis\n")[2].partition("Measure next")[0]
    assert "1. " in told
    assert "%" not in told


def test_within_the_range_is_status_0_and_no_reassurance(run, drawing, readings):
    status, out, _ = run("readings", drawing, readings("B1,dc,250\n"))
    assert status == 0
    assert "does not show that the circuit is sound" in " ".join(out.split())
    assert "cannot tell a sound circuit from" in " ".join(out.split())
    assert "nothing that these readings show: a sound circuit, or one of" in " ".join(out.split())
    assert "nothing wrong" not in out


def test_equal_lines_without_end_get_the_answer_of_one(run, drawing, readings):
    """3,000 of them were conditioned on one by one, and no answer came."""
    one = run("readings", drawing, readings("DRV,dc,5.49\n"))
    assert run("readings", drawing, readings("DRV,dc,5.49\n" * 3000)) == one


def test_unequal_readings_of_a_point_are_all_judged_and_count_once(run, drawing, readings):
    many = "".join(f"DRV,dc,{5 + k / 2000}\n" for k in range(2000))
    status, out, _ = run("readings", drawing, readings(many), "--report", "json")
    found = json.loads(out)
    assert status == 1
    assert len(found["readings"]) == 2000


def test_all_slips_with_their_places(run, drawing, readings):
    path = readings("point,kind,value\nDRV,dc,5q\nNIX,dc,4\n")
    status, out, err = run("readings", drawing, path)
    assert status == 2
    assert out == ""
    assert f"{path}:2.8: " in err
    assert f"{path}:3.1: the drawing has no point NIX" in err


def test_json(run, drawing, readings, tmp_path):
    target = tmp_path / "account.json"
    status, _, _ = run(
        *("readings", drawing, readings("DRV,dc,5.49\nDRV,ohm,OL\n")),
        *("--report", "json", "--output", target),
    )
    found = json.loads(target.read_text(encoding="utf-8"))
    assert status == 1
    assert found["schema"] == "coldcheck.readings/1"
    assert [r["verdict"] for r in found["readings"]] == ["high", "high"]
    assert found["readings"][1]["value"] == "infinite"
    assert found["groups"][0]["suspects"][0]["suspect"].startswith(("R6", "C4", "V1A"))
    # 5.49 V that nothing drains: no single fault of this drawing does that
    assert found["explained"] is False
    assert found["groups"][0]["share"] is None
    assert 0.5 < found["outside"] <= 1
    assert {(n["kind"], n["power"]) for n in found["next"]} <= {
        ("dc", "on"), ("ac", "on"), ("ohm", "off")
    }  # fmt: skip


def test_typed_in_one_by_one(run, drawing, monkeypatch):
    typed = "skip\nDRV dc 5.49\nNIX dc 3\nV1A.grid 5.5\ndone\n"
    monkeypatch.setattr("sys.stdin", StringIO(typed))
    status, out, _ = run("readings", drawing)
    assert status == 1
    points = [line.split(",")[0] for line in out.splitlines() if line.startswith("next best")]
    assert points[0] not in points[1:], "a skipped point is not asked for again"
    assert set(points[2:]) == {"next best: V1A.plate"}, "nor is anything else until it is read"
    assert "the drawing has no point NIX" in out
    assert "DRV dc 5.49 V: TOO HIGH" in out
    assert "\nDiagnosis\n" in out


def test_a_mistyped_value_is_said_to_be_one(run, drawing, monkeypatch):
    monkeypatch.setattr("sys.stdin", StringIO("2.4.9\n"))
    _, out, _ = run("readings", drawing)
    assert "volts DC are wanted" in out
    assert "has no point" not in out


def test_a_bare_value_answers_the_point_asked_for(run, drawing, monkeypatch):
    monkeypatch.setattr("sys.stdin", StringIO("249\n"))
    _, out, _ = run("readings", drawing)
    line = next(line for line in out.splitlines() if line.startswith("next best"))
    point = line.removeprefix("next best: ").split(",")[0]
    assert f"{point} dc 249 V: " in out


def test_an_overload_is_read_and_what_nothing_explains_is_said_at_once(run, drawing, monkeypatch):
    monkeypatch.setattr("sys.stdin", StringIO("DRV ohm OL\nB1 dc 61\n"))
    _, out, _ = run("readings", drawing)
    first, _, rest = out.partition("B1 dc 61 V")
    assert "DRV ohm no path: TOO HIGH" in first
    assert "No single fault considered here explains" not in first
    assert "No single fault considered here explains" in rest.partition("any reading>")[0]


@pytest.mark.parametrize(
    ("kind", "last", "said"),
    [
        ("ohm", "dc", "POWER OFF"),
        ("ohm", None, "POWER OFF"),
        ("dc", "ohm", "POWER ON"),
        ("dc", None, "POWER ON"),
        ("ohm", "ohm", ""),
        ("ac", "dc", ""),
    ],
)
def test_the_power_is_switched_before_the_reading_that_needs_it(kind, last, said):
    wanted = Next(Channel(kind, "B1", "B1", 0.0 if kind == "ohm" else 400.0), 1.0, ())
    assert switching(wanted, last)[: len("POWER OFF")].strip() == said
    assert ("400 V are there on a sound circuit" in asked(wanted)) == (kind != "ohm")
    isolated = "isolating transformer" in switching(wanted, last, live=True)
    assert isolated == (said == "POWER ON")


def test_a_chart_of_another_text_of_the_drawing_is_named(run, drawing, tmp_path):
    _, out, _ = run("chart", drawing, "--report", "csv")
    rows = list(csv.DictReader(StringIO(out, newline="")))
    for row in rows:
        row["measured_dc_v"] = row["dc_v"]
    path = tmp_path / "filled.csv"
    with path.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, rows[0])
        writer.writeheader()
        writer.writerows(rows)
    _, _, err = run("readings", drawing, path)
    assert err == ""
    drawing.write_text(COUPLED + "# mended\n", encoding="utf-8")
    status, _, err = run("readings", drawing, path)
    assert status == 0
    assert f"this chart was made when the drawing had the mark {rows[0]['mark']}" in err


def test_a_needle_loads_by_its_range(run, tmp_path, readings):
    """Two of 100 kohm on 24 V: the needle's 20 kohm/V make 1 Mohm of its 50 V range, so 11.43 V."""
    path = tmp_path / "post.tube"
    text = "B1 --+[E1 24 V]-- gnd\nB1 --[R1 100k]-- MID --[R2 100k]-- gnd\n"
    path.write_text(text, encoding="utf-8")
    report = ("--report", "json")
    found = {}
    for words in ("analogue", "tube voltmeter", "digital"):
        _, out, _ = run("readings", path, readings("MID,dc,11.5\n"), "--meter", words, *report)
        found[words] = json.loads(out)
    expected = {words: f["readings"][0]["expected"] for words, f in found.items()}
    assert expected["analogue"] == pytest.approx(12 * 1e6 / 1.05e6, rel=1e-4)
    assert expected["tube voltmeter"] == pytest.approx(12 * 11e6 / 11.05e6, rel=1e-4)
    assert expected["digital"] == pytest.approx(12 * 10e6 / 10.05e6, rel=1e-4)
    assert found["analogue"]["conditions"]["meter"].startswith("analogue meter, 20 000 ohm/V")
    high = found["analogue"]["readings"][0]["high"] - expected["analogue"]
    assert high > 0.03 * 50


def test_a_meter_that_is_not_there(run, drawing, readings):
    status, _, err = run("readings", drawing, readings("B1,dc,250\n"), "--meter", "oscilloscope")
    assert status == 3
    assert "analogue meter" in err


def test_the_report_says_what_it_compares_with(run, drawing, readings):
    _, out, _ = run("readings", drawing, readings("B1,dc,250\n"))
    said = " ".join(out.split())
    assert "Mark of the drawing:" in said
    assert "Read with: digital meter, DC; digital meter, AC, true rms." in said


def test_nothing_typed_is_no_diagnosis(run, drawing, monkeypatch):
    monkeypatch.setattr("sys.stdin", StringIO(""))
    status, out, _ = run("readings", drawing)
    assert status == 0
    assert "no readings to go by yet" in out


def test_suggest_only_says_what_to_measure(run, drawing, readings):
    status, out, _ = run("readings", drawing, readings("DRV,dc,0\n"), "--suggest")
    assert status == 0
    assert "Measure next" in out
    assert "Diagnosis" not in out


def test_unreadable_drawing_and_missing_file(run, tmp_path, drawing):
    bad = tmp_path / "bad.tube"
    bad.write_text('drawing "x"\nA == B\n', encoding="utf-8")
    assert run("readings", bad, "nothing.csv")[0] == 2
    status, _, err = run("readings", drawing, tmp_path / "nothing.csv")
    assert status == 3
    assert "cannot read" in err


def test_a_file_without_readings_is_asked_wrongly(run, drawing, readings):
    status, _, err = run("readings", drawing, readings("point,kind,value\n# none\n"))
    assert status == 3
    assert "holds no readings" in err
