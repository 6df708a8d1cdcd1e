"""Several reports at once, each whole or not at all."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from coldcheck.cli import FAILED, FOUND, OK


def test_several_reports_in_one_run(run, bad, tmp_path):
    files = {form: tmp_path / f"r.{form}" for form in ("sarif", "junit", "json", "annotations")}
    asked = [f"--report={form}={file}" for form, file in files.items()]
    status, out, err = run("review", bad, *asked, "--report", "text")
    assert (status, err) == (FOUND, "")
    assert "verdict: held" in out
    assert json.loads(files["sarif"].read_text())["version"] == "2.1.0"
    assert json.loads(files["json"].read_text())["schema"] == "coldcheck.report/2"
    assert files["junit"].read_text().startswith("<?xml")
    assert files["annotations"].read_text().startswith("::error ")


def test_output_is_the_file_of_the_report_that_names_none(run, good, tmp_path):
    status, out, _ = run("review", good, "--report", "sarif", "--output", tmp_path / "a.sarif")
    assert (status, out) == (OK, "")
    assert (tmp_path / "a.sarif").exists()


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--report=sarf",), "there is no report sarf; did you mean sarif"),
        (("--report=json", "--report=text"), "only one report can go to the output"),
        (("--report=json=",), "names no file"),
        (("--report=json=x", "--report=text=x"), "two reports would go to the same file"),
        (("--report=json=x", "--output=y"), "--output has no report to write"),
    ],
)
def test_what_cannot_be_done_is_said_before_anything_is_written(
    run, good, tmp_path, monkeypatch, options, said
):
    monkeypatch.chdir(tmp_path)
    before = sorted(tmp_path.iterdir())
    status, out, err = run("review", good, *options)
    assert (status, out) == (FAILED, "")
    assert said in err
    assert sorted(tmp_path.iterdir()) == before


def test_a_report_never_replaces_a_drawing(run, good):
    text = Path(good).read_text()
    status, _, err = run("review", good, f"--report=json={good}")
    assert status == FAILED
    assert "overwrite" in err
    assert Path(good).read_text() == text
