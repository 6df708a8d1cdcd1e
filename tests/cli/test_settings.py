"""Settings from the outside: what they do to a review, and how they are explained and refused."""

from __future__ import annotations

import json
import re
from pathlib import Path

import jsonschema
import pytest

from coldcheck.circuit.tubes import DATA
from coldcheck.cli import FAILED, FORMATS, FOUND, OK, UNREADABLE
from coldcheck.report.review.json_report import schema_text

HOUSE = (DATA / "12AX7.toml").read_text("utf-8").replace('"12AX7"', '"HOUSE"')

# 100 V across a 1 k resistor made for half a watt: 10 W
HOT = 'drawing "Grate"\nB1 --+[E1 100 V]-- gnd\nB1 --[R1 1k 0.5 W]-- gnd\n'

STAGE = """\
drawing "Shed: a stage on a bench supply"
transformer T1
    primary pri  230 V  12 ohm
    winding warm 6.3 V ct  1 A
tube V1 {type}  heater T1.warm
B1 --+[E1 250 V]-- gnd
B1 --[R1 100k 0.5 W]-- V1A.plate
V1A.cathode --[R2 1k5]-- gnd
V1A.grid --[R3 1M]-- gnd
T1.warm.ct -- gnd
V1B.grid -- V1B.cathode -- gnd
"""


@pytest.fixture
def project(tmp_path, monkeypatch):
    """Write files into a repository that we stand in."""
    (tmp_path / ".git").mkdir()
    monkeypatch.chdir(tmp_path)

    def write(**files):
        for name, text in files.items():
            path = tmp_path / name.replace("__", "/").replace("_toml", ".toml")
            path = path if path.suffix else path.with_suffix(".tube")
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")

    return write


def rules(out):
    return {f["rule"]: f for d in json.loads(out)["drawings"] for f in d["findings"]}


def test_the_gate_of_the_settings_and_that_of_the_command_line(run, project):
    project(a=HOT, coldcheck_toml='gate = "danger"\n')
    status, out, _ = run("review", "a.tube")
    assert status == OK
    assert "nothing found at danger" in out
    status, out, _ = run("review", "a.tube", "--gate", "notice")
    assert status == FOUND
    assert "at notice or above" in out


def test_each_drawing_has_the_gate_of_its_folder(run, project):
    project(a=HOT, old__a=HOT, coldcheck_toml='[folders.old]\ngate = "danger"\n')
    status, out, _ = run("review", ".", "--report", "json")
    assert status == FOUND
    assert [d["verdict"] for d in json.loads(out)["drawings"]] == ["held", "let through"]
    assert "2 drawings: 1 held, 1 let through" in run("review", ".")[1]
    assert run("review", "old")[0] == OK
    junit = run("review", "old", "--report", "junit")[1]
    assert 'failures="0"' in junit.splitlines()[1]
    assert run("review", ".", "--report", "annotations")[1].count("::error") == 1


def test_a_ledger_keeps_what_counts_at_the_gate_of_the_settings(run, project, tmp_path):
    project(a=HOT, old__a=HOT, coldcheck_toml='[folders.old]\ngate = "danger"\n')
    run("review", ".", "--ledger", "known.txt", "--update-ledger")
    lines = (tmp_path / "known.txt").read_text("utf-8").splitlines()[1:]
    assert [line.split("\t")[1] for line in lines] == ["a.tube"]


@pytest.mark.parametrize("entry", ["resistor.over-power", "resistor"])
def test_what_is_off_does_not_run_and_is_told_with_reason_and_place(run, project, entry):
    project(a=HOT, coldcheck_toml=f'[off]\n"{entry}" = "it is a heater"\n')
    status, out, _ = run("review", "a.tube", "--report", "json")
    drawing = json.loads(out)["drawings"][0]
    assert status == OK
    assert "resistor.over-power" not in rules(out)
    (told,) = [n for n in drawing["not_judged"] if n["rule"] == entry]
    assert "off: it is a heater (coldcheck.toml, off." in told["reason"].replace("are off", "off")
    jsonschema.validate(json.loads(out), json.loads(schema_text()))
    text = " ".join(run("review", "a.tube")[1].split())
    assert "off: it is a heater (coldcheck.toml, off." in text
    assert entry in text


@pytest.mark.parametrize("form", FORMATS)
def test_every_form_of_report_takes_rules_that_are_off(run, project, form):
    project(a=HOT, coldcheck_toml='[off]\nresistor = "r"\n"heater.no-reference" = "h"\n')
    status, _, err = run("review", "a.tube", "--report", form)
    assert (status, err) == (OK, "")


def test_the_waiver_of_a_rule_that_is_off_is_no_finding(run, project):
    waived = HOT + 'accept resistor.over-power at R1 because "a fan"\n'
    project(a=waived, coldcheck_toml='[off]\nresistor = "heaters all"\n')
    assert rules(run("review", "a.tube", "--report", "json")[1]) == {}


def test_what_cannot_be_read_stays_unreadable_with_its_rules_off(run, project):
    project(a=HOT + "B1 == gnd\n", coldcheck_toml='[off]\ndrawing = "sketches"\n')
    assert run("review", "a.tube")[0] == UNREADABLE


MAINS = '[mains]\nvoltage = "207 V"\nfrequency = "50 Hz"\ntolerance = "5 %"\n'


def states(run):
    return json.loads(run("review", "a.tube", "--report", "json")[1])["drawings"][0]["states"]


def test_a_drawing_without_a_mains_line_is_on_the_mains_of_the_settings(run, project):
    drawn = STAGE.format(type="12AX7")
    project(a=drawn, coldcheck_toml=MAINS)
    assumed = states(run)
    text = " ".join(run("review", "a.tube")[1].split())
    assert "no mains line: 207 V 50 Hz are taken from the settings (coldcheck.toml, " in text
    project(a=drawn.replace("transformer", "mains 207 V 50 Hz tolerance 5 %\ntransformer"))
    assert "taken from the settings" not in run("review", "a.tube")[1]
    written = states(run)
    for state in ("warm", "high line", "low line"):
        heater = assumed[state]["points"]["T1.warm.1"]
        # half of 6.3 V, at 9/10 of the rated mains
        assert heater == pytest.approx(written[state]["points"]["T1.warm.1"])
    warm = assumed["warm"]["points"]["T1.warm.1"]["ac_rms"]
    assert warm == pytest.approx(3.15 * 0.9, rel=0.06)
    high = assumed["high line"]["points"]["T1.warm.1"]["ac_rms"]
    assert high / warm == pytest.approx(1.05, rel=1e-3)


def test_the_tolerance_of_the_settings_gives_way_to_that_of_the_drawing(run, project):
    drawn = STAGE.format(type="12AX7").replace("transformer", "mains 230 V 50 Hz{}\ntransformer")
    ratios = []
    for said in ("", " tolerance 8 %"):
        project(a=drawn.format(said), coldcheck_toml='[mains]\ntolerance = "5 %"\n')
        volts = [
            s["points"]["T1.warm.1"]["ac_rms"] for s in map(states(run).get, ("high line", "warm"))
        ]
        ratios.append(volts[0] / volts[1])
    assert ratios == pytest.approx([1.05, 1.08], rel=1e-3)


def test_tolerances_go_into_the_range_of_every_figure(run, project):
    divider = "B1 --+[E1 100 V]-- gnd\nB1 --[R1 10k]-- M --[R2 10k]-- gnd\n"
    exact, off = 'source = "0.001 %"\n', []
    for percent in (2, 4):
        project(a=divider, coldcheck_toml=f'[tolerance]\nresistor = "{percent} %"\n{exact}')
        off.append(states(run)["warm"]["points"]["M"]["plus_minus"])
    # 50 V x 1/2 x 2 %, twice, at right angles
    assert off == pytest.approx([0.5 * 2**0.5, 1.0 * 2**0.5], rel=1e-3)


class TestData:
    """Tube data of the project."""

    SETTINGS = 'data = ["tubes"]\n'

    def test_review_trace_and_tubes_know_the_projects_types(self, run, project):
        own = HOUSE.replace("value = 300", "value = 320")
        project(a=STAGE.format(type="house"), coldcheck_toml=self.SETTINGS, tubes__HOUSE_toml=own)
        assert run("review", "a.tube")[0] == OK
        assert run("trace", "a.tube", "V1A.plate")[0] == OK
        assert "320 V" in run("tubes", "house")[1]
        names = [line.split()[0] for line in run("tubes")[1].splitlines() if line.split()]
        assert {"HOUSE", "12AX7"} <= set(names)

    def test_without_the_settings_the_type_is_unknown(self, run, project):
        project(a=STAGE.format(type="HOUSE"))
        status, out, _ = run("review", "a.tube")
        assert status == FOUND
        assert "HOUSE is not on file" in out
        assert run("tubes", "HOUSE")[0] == FAILED

    def test_a_projects_type_goes_before_that_of_the_library(self, run, project):
        own = (DATA / "12AX7.toml").read_text("utf-8").replace("value = 300", "value = 320")
        project(coldcheck_toml=self.SETTINGS, tubes__12AX7_toml=own)
        assert "320 V" in run("tubes", "12AX7")[1]

    @pytest.mark.parametrize("command", ["review a.tube", "trace a.tube B1", "tubes"])
    def test_broken_data_is_an_error_with_file_and_key(self, run, project, command):
        bad = HOUSE.replace("value = 300", 'value = "300"').replace('unit = "ohm"', 'unit = "om"')
        project(a=HOT, coldcheck_toml=self.SETTINGS, tubes__HOUSE_toml=bad, tubes__B_toml="x")
        status, out, err = run(*command.split())
        assert (status, out) == (FAILED, "")
        first, second = err.splitlines()
        assert first.startswith("coldcheck: tubes/B.toml: (file): found ")
        assert second.startswith("coldcheck: tubes/HOUSE.toml: ratings.plate-voltage.value: found ")


def test_every_fault_of_the_settings_has_a_line(run, project):
    project(a=HOT, coldcheck_toml='gait = "notice"\n[off]\nheter = "x"\n[mains]\nvoltage = 230\n')
    status, out, err = run("review", "a.tube")
    assert (status, out) == (FAILED, "")
    assert [line.split(": found ")[0] for line in err.splitlines()] == [
        "coldcheck: coldcheck.toml: gait",
        "coldcheck: coldcheck.toml: off.heter",
        "coldcheck: coldcheck.toml: mains.voltage",
    ]
    assert err.splitlines()[0].endswith("; did you mean gate?")
    assert err.splitlines()[1].endswith("; did you mean heater?")


def test_the_settings_of_the_guide_are_ones(run, project, tmp_path):
    text = (Path(__file__).parents[2] / "samples/guide/repository.md").read_text("utf-8")
    (example,) = re.findall(r"```toml\n(.*?)```", text, re.DOTALL)
    (tmp_path / "old" / "radios").mkdir(parents=True)
    project(a=HOT, pyproject_toml=example, tubes__HOUSE_toml=HOUSE)
    status, out, err = run("settings", "a.tube")
    assert (status, err) == (OK, "")
    assert "default" not in next(x for x in out.splitlines() if x.startswith("  gate"))


def test_compare_goes_by_the_gate_of_the_new_drawing(run, project):
    cool = HOT.replace("1k 0.5 W", "1k 50 W")
    project(a=cool, new__a=HOT, coldcheck_toml='[folders.new]\ngate = "danger"\n')
    assert run("compare", "a.tube", "new/a.tube")[0] == OK
    assert run("compare", "a.tube", "new/a.tube", "--gate", "notice")[0] == FOUND


class TestShowing:
    """``coldcheck settings``."""

    def rows(self, out):
        lines = [line for line in out.splitlines() if line.startswith("  ")]
        return {line.split()[0]: " ".join(line.split()[1:]) for line in lines}

    def test_every_value_says_where_it_came_from(self, run, project):
        project(
            a=HOT, coldcheck_toml=MAINS + '[off]\n"heater.no-reference" = "bench"\n'
            '[tolerance]\nresistor = "5 %"\n[[instruments]]\nname = "VOM"\n',
        )  # fmt: skip
        status, out, err = run("settings", "a.tube")
        assert (status, err) == (OK, "")
        assert out.splitlines()[0] == "a.tube"
        shown = self.rows(out)
        assert shown["gate"] == "notice default"
        assert shown["off.heater.no-reference"] == (
            'bench coldcheck.toml: off."heater.no-reference"'
        )
        assert shown["mains.voltage"] == "207 V coldcheck.toml: mains.voltage"
        assert shown["mains.frequency"] == "50 Hz coldcheck.toml: mains.frequency"
        assert shown["mains.tolerance"] == "5 % coldcheck.toml: mains.tolerance"
        assert shown["tolerance.resistor"] == "5 % coldcheck.toml: tolerance.resistor"
        assert shown["tolerance.tube"] == "20 % default"
        assert shown["data"] == "none default"
        assert shown["instruments"] == "1 coldcheck.toml: instruments"

    def test_there_is_no_review(self, run, project):
        project(a="B1 == gnd\n")
        status, out, _ = run("settings", "a.tube", "none.tube")
        assert status == OK
        assert "verdict" not in out
        assert out.splitlines()[0] == "a.tube, none.tube"
        assert self.rows(out)["mains.voltage"] == "as each primary is rated default"

    def test_the_old_option_is_refused_with_the_new_command(self, run, project):
        project(a=HOT)
        status, out, err = run("review", "a.tube", "--show-settings")
        assert (status, out) == (FAILED, "")
        assert "--show-settings is now called coldcheck settings FILE" in err

    def test_drawings_with_the_same_settings_share_a_table(self, run, project):
        project(a=HOT, b=HOT, old__c=HOT, coldcheck_toml='[folders.old]\ngate = "danger"\n')
        out = run("settings", ".")[1]
        assert [line for line in out.splitlines() if line[:1].strip()] == [
            "a.tube, b.tube", "old/c.tube"]  # fmt: skip
        assert "danger  " in out
        assert 'coldcheck.toml: folders."old".gate' in out

    def test_faults_are_told_here_too(self, run, project):
        project(a=HOT, coldcheck_toml='gate = "bad"\n')
        assert run("settings", "a.tube")[0] == FAILED


class TestWaivers:
    """What is wrong with an ``accept`` line is itself a finding."""

    @pytest.mark.parametrize(
        ("line", "expected"),
        [
            ("accept resistor.over-power at R1", '"because"'),
            ('accept resistor.over-power at R1 because ""', "the reason"),
            ('accept resistor.over-power at R1 because " "', "the reason"),
            ('accept resistor.over-power at R1 because "x" until 2026-02-30', "a date that exists"),
            ('accept resistor.over-power at R1 because "x" until soon', "a date that exists"),
            ('accept resistor at R1 because "x"', "the name of a rule"),
            ('accept resistor.over-power because "x"', '"at"'),
        ],
    )
    def test_a_malformed_one(self, run, project, line, expected):
        project(a=HOT + line + "\n")
        status, out, _ = run("review", "a.tube", "--report", "json")
        assert status == UNREADABLE
        (found,) = json.loads(out)["drawings"][0]["findings"]
        assert (found["rule"], found["line"]) == ("drawing.syntax", 4)
        assert expected in found["evidence"]["expected"]

    @pytest.mark.parametrize(
        ("line", "message", "remedy"),
        [
            ("resistor.over-powr at R1", "there is no rule of that name", "resistor.over-power"),
            ("resistor.over-power at R11", "nothing on the drawing is called R11", "R1"),
            ("heater.no-reference at R1", "nothing there breaks that rule", "Take the line out"),
            ("zzzz.qqqq at R1", "there is no rule of that name", "coldcheck why"),
            ("resistor.over-power at B1", "nothing there breaks that rule", "broken at R1"),
        ],
    )
    def test_one_that_waives_nothing(self, run, project, line, message, remedy):
        project(a=HOT + f'accept {line} because "x"\n')
        status, out, _ = run("review", "a.tube", "--report", "json")
        assert status == FOUND
        found = rules(out)
        assert found["resistor.over-power"]["accepted"] is None
        unmatched = found["intent.accept-unmatched"]
        assert message in unmatched["message"]
        assert remedy in unmatched["remedy"]
        assert unmatched["line"] == 4

    def test_one_that_has_run_out(self, run, project):
        project(a=HOT + 'accept resistor.over-power at R1 because "x" until 2020-01-31\n')
        status, out, _ = run("review", "a.tube", "--report", "json")
        assert status == FOUND
        assert rules(out)["resistor.over-power"]["accepted"] is None
        assert "ran out on 2020-01-31" in rules(out)["intent.accept-expired"]["message"]
