"""The command chart."""

from __future__ import annotations

import csv
import json
import re
from io import StringIO
from pathlib import Path

import pytest

from coldcheck.cli import FAILED, OK, UNREADABLE

SAMPLE = Path(__file__).parents[2] / "samples" / "harbour-light.tube"


def test_the_chart_is_printed(run, good):
    status, out, err = run("chart", good)
    assert (status, err) == (OK, "")
    assert "Voltage and resistance chart" in out
    assert "12.0" in out
    assert "lethal" in out


@pytest.mark.parametrize("form", ["text", "markdown", "csv", "json", "html"])
def test_every_form_goes_to_a_file(run, good, tmp_path, form):
    target = tmp_path / "chart"
    assert run("chart", good, "--report", form, "--output", target) == (OK, "", "")
    printed = run("chart", good, "--report", form)[1]
    assert target.read_bytes().decode("utf-8") == printed
    assert "MID" in printed


def test_csv_can_be_read_back(run, good):
    rows = list(csv.DictReader(StringIO(run("chart", good, "--report", "csv")[1], newline="")))
    (mid,) = (r for r in rows if r["point"] == "MID")
    assert float(mid["ohms"]) == 10e3  # the supply is unplugged, so only R2
    assert float(mid["dc_v"]) == pytest.approx(12, rel=1e-3)


def test_one_point_is_explained(run, good):
    status, out, _ = run("chart", good, "--at", "mid")
    assert status == OK
    assert "MID is at 12.0 V DC from gnd" in out
    assert "5 kohm" in out  # both resistors in parallel
    assert "lethal" in out


def test_between_two_points(run, good):
    status, out, _ = run("chart", good, "--between", "B1", "MID", "--report", "json")
    found = json.loads(out)
    assert status == OK
    assert found["measured_from"] == "MID"
    assert found["volts"]["dc"]["value"] == pytest.approx(12, rel=1e-3)
    assert found["clip_allowed"] is False


def test_the_wave_as_a_picture(run, good, tmp_path):
    target = tmp_path / "wave.svg"
    assert run("chart", good, "--at", "MID", "--report", "svg", "--output", target)[0] == OK
    assert target.read_text().startswith("<svg")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--at", "MIDD"), "there is no point MIDD"),
        (("--state", "tepid"), "there is no state tepid"),
        (("--at", "MID", "--between", "B1", "MID"), "exclude each other"),
        (("--report", "svg"), "name a point with --at"),
        (("--at", "MID", "--report", "html"), "there is no html of one point"),
    ],
)
def test_asked_wrongly(run, good, arguments, said):
    status, out, err = run("chart", good, *arguments)
    assert (status, out) == (FAILED, "")
    assert said in err
    assert err.count("\n") == 1


def test_instruments_of_the_settings(run, good, tmp_path):
    table = '[[instruments]]\nname = "the grey one"\nresponse = "mean"\nmax-volts = "600 V"\n'
    settings = tmp_path / "coldcheck.toml"
    settings.write_text(table + 'input-resistance = "100 kohm"\n')
    found = json.loads(run("chart", good, "--at", "MID", "--report", "json")[1])
    (own,) = (m for m in found["meters"] if m["response"] == "mean")
    assert own["instrument"] == "the grey one"
    assert own["cites"] == [{"source": "settings", "where": ""}]
    assert own["shown"] == pytest.approx(12 * 100 / 105, rel=1e-3)  # behind 5 kohm
    settings.write_text(table)
    status, _, err = run("chart", good, "--at", "MID")
    assert status == FAILED
    assert "coldcheck.toml, instruments: the grey one: input-resistance" in err


def test_a_pin_with_nothing_on_it(run, tmp_path):
    file = tmp_path / "stage.tube"
    file.write_text("tube V2 6V6GT\nB1 --+[E1 9 V]-- gnd\nB1 --[R1 1k]-- V2.plate\n")
    for pin in ("v2:1", "V2:11"):
        status, _, err = run("chart", file, "--at", pin)
        assert status == FAILED
        assert f"nothing is on pin {pin[3:]} of V2" in err


def test_a_near_name_is_offered(run, good):
    assert "near it: MID" in run("chart", good, "--at", "MIDD")[2]


def test_the_drawing_is_not_overwritten(run, good):
    status, _, err = run("chart", good, "--output", good)
    assert status == FAILED
    assert "overwrite" in err


def test_a_point_without_a_voltage_has_no_picture(run, make, tmp_path):
    file = tmp_path / "loose.tube"
    file.write_text("B1 --+[E1 9 V]-- gnd\nB1 --[R1 1k]-- gnd\nX1 --[R2 1k]-- X2\n")
    status, _, err = run("chart", file, "--at", "X1", "--report", "svg")
    assert status == FAILED
    assert "floating" in err


def test_an_unreadable_drawing(run, unreadable, tmp_path):
    status, out, _ = run("chart", unreadable, "--output", tmp_path / "none")
    assert status == UNREADABLE
    assert "unreadable" in out
    assert not (tmp_path / "none").exists()


def test_a_terminal_without_braille_gets_asterisks(process, tmp_path):
    file = tmp_path / "ac.tube"
    file.write_text(
        "mains 120 V 60 Hz\ntransformer T1\n    primary pri 120 V 5 ohm\n"
        "    winding w 12 V 1 ohm\nT1.w.1 --[R1 1k]-- gnd\nT1.w.2 -- gnd\n"
    )
    env = {"PYTHONIOENCODING": "ascii", "PATH": "/usr/bin:/bin"}
    done = process("chart", file, "--at", "T1.w.1", env=env)
    assert done.returncode == OK, done.stderr
    assert "***" in done.stdout
    assert done.stdout.isascii()
    assert "\\u" not in done.stdout


# -- the plan of a first power-up ------------------------------------------------------------


def test_the_plan_is_printed(run, good):
    status, out, err = run("chart", good, "--plan")
    assert (status, err) == (OK, "")
    assert "Plan of a first power-up" in out
    assert "Step 1. Unplugged" in out
    assert "lethal" in out


@pytest.mark.parametrize("form", ["text", "markdown", "json", "html"])
def test_every_form_of_the_plan_goes_to_a_file(run, good, tmp_path, form):
    target = tmp_path / "plan"
    assert run("chart", good, "--plan", "--report", form, "--output", target) == (OK, "", "")
    printed = run("chart", good, "--plan", "--report", form)[1]
    assert target.read_bytes().decode("utf-8") == printed
    assert "B1" in printed


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (("--at", "MID"), "--plan and --at exclude each other"),
        (("--between", "B1", "MID"), "--plan and --between exclude each other"),
        (("--state", "warm"), "--plan and --state exclude each other"),
        (("--report", "csv"), "there is no csv of the plan"),
        (("--report", "svg"), "there is no svg of the plan"),
    ],
)
def test_what_does_not_go_with_the_plan_is_refused(run, good, options, told):
    status, out, err = run("chart", good, "--plan", *options)
    assert (status, out) == (FAILED, "")
    assert told in err


def test_a_drawing_that_cannot_be_read_has_no_plan(run, unreadable):
    assert run("chart", unreadable, "--plan")[0] == UNREADABLE


def test_the_plan_does_not_overwrite_its_drawing(run, good):
    status, _, err = run("chart", good, "--plan", "--output", good)
    assert status == FAILED
    assert "overwrite" in err


@pytest.mark.parametrize("more", [(), ("--plan",)])
def test_the_page_numbers_its_points_in_the_circuit(run, more):
    page = run("chart", SAMPLE, *more, "--report", "html")[1]
    table, picture = page.split('<div class="points"')
    listed = set(re.findall(r'class="no">(\d+)<', table))
    shown = set(re.findall(r'<text class="badge"[^>]*>(\d+)<', picture))
    assert len(listed) > 10
    assert listed == shown


@pytest.mark.parametrize("plan", [(), ("--plan",)], ids=["chart", "plan"])
@pytest.mark.parametrize("form", ["text", "markdown", "html", "json"])
def test_every_form_says_what_its_figures_are_for(run, good, plan, form):
    status, out, _ = run("chart", good, *plan, "--report", form)
    assert status == 0
    if form == "json":
        assert json.loads(out)["conditions"]["mark"]
        return
    said = " ".join(out.replace("\\", "").split())
    assert "Mark of the drawing:" in said
    assert "Mains: none in the drawing" in said
    assert "Signal: none." in said
