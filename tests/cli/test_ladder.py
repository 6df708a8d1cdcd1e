"""The command ladder."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import pytest

from coldcheck.cli import FAILED, OK, UNREADABLE


def test_a_picture_unless_asked_otherwise(run, good):
    status, out, err = run("ladder", good)
    assert (status, err) == (OK, "")
    assert ET.fromstring(out).tag.endswith("svg")
    assert "MID" in out


def test_as_text(run, good):
    status, out, err = run("ladder", good, "--report", "text", "--state", "warm")
    assert (status, err) == (OK, "")
    assert "  24.0    24.0     24.0  B1\n  12.0    12.0     12.0  MID\n" in out
    assert "cold" not in out
    assert "lethal" in out


@pytest.mark.parametrize("form", ["svg", "text"])
def test_every_form_goes_to_a_file(run, good, tmp_path, form):
    target = tmp_path / "ladder"
    assert run("ladder", good, "--report", form, "--output", target) == (OK, "", "")
    assert target.read_text("utf-8") == run("ladder", good, "--report", form)[1]


def test_asked_wrongly(run, good, unreadable):
    status, _, err = run("ladder", good, "--state", "tepid")
    assert status == FAILED
    assert "there is no state tepid; the drawing has warm" in err
    status, _, err = run("ladder", good, "--output", good)
    assert status == FAILED
    assert "overwrite" in err
    assert run("ladder", unreadable)[0] == UNREADABLE
