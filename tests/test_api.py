"""The Python interface, as a notebook or another program uses it."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

import pytest

import coldcheck

if TYPE_CHECKING:
    from coldcheck.api import Review

SAMPLE = Path(__file__).parents[1] / "samples" / "harbour-light.tube"
DIVIDER = 'drawing "<b>x</b>"\nB1 --+[E1 24 V]-- gnd\nB1 --[R1 10k]-- MID --[R2 10k]-- gnd\n'


@pytest.fixture(scope="module")
def divider() -> Review:
    return coldcheck.review_text(DIVIDER)


def test_a_review_of_a_file() -> None:
    found = coldcheck.review(SAMPLE)
    assert found.verdict() == "let through"
    assert found.title.startswith("Harbour Light")
    assert found.warm["RES"].dc == pytest.approx(284, abs=5)
    assert "cold" in found.states


def test_a_review_of_a_file_goes_by_the_settings_of_its_project(tmp_path: Path) -> None:
    hot = 'drawing "x"\nB1 --+[E1 100 V]-- gnd\nB1 --[R1 1k 0.5 W]-- gnd\n'
    file = tmp_path / "a.tube"
    file.write_text(hot, encoding="utf-8")
    (tmp_path / "coldcheck.toml").write_text('gate = "danger"\n', encoding="utf-8")
    found = coldcheck.review(file)
    assert (found.verdict(), found.verdict("notice")) == ("let through", "held")
    assert coldcheck.review_text(hot).verdict() == "held"
    (tmp_path / "coldcheck.toml").write_text('gate = "bad"\n', encoding="utf-8")
    with pytest.raises(ValueError, match="expected one of advice"):
        coldcheck.review(file)


def test_voltages_of_a_divider(divider: Review) -> None:
    # 24 V over two equal resistors
    assert divider.warm["MID"].dc == pytest.approx(12.0, rel=1e-6)
    assert divider.warm.between("B1", "MID").dc == pytest.approx(12.0, rel=1e-6)
    assert set(divider.warm) >= {"B1", "MID", "gnd"}
    assert len(divider.warm) == len(list(divider.warm))
    with pytest.raises(KeyError):
        divider.warm["NOWHERE"]
    with pytest.raises(KeyError):
        divider.warm.between("B1", "NOWHERE")


def test_an_unreadable_drawing_is_a_review_too() -> None:
    found = coldcheck.review_text("B1 == gnd\n")
    assert found.verdict() == "unreadable"
    assert found.findings
    assert found.states == {}


def test_a_gate_that_is_no_level_is_refused(divider: Review) -> None:
    with pytest.raises(ValueError, match="the gate is one of advice"):
        divider.verdict("severe")


def test_text_and_json(divider: Review) -> None:
    assert "verdict: let through" in divider.text()
    assert "lethal" in divider.text()
    assert json.loads(divider.json())["schema"] == "coldcheck.report/2"


def test_html_is_well_formed_and_shows_text_as_text(divider: Review) -> None:
    for html in (divider._repr_html_(), divider.warm._repr_html_()):
        ET.fromstring(f"<div>{html.replace('<br>', '<br/>')}</div>")
    assert "&lt;b&gt;x&lt;/b&gt;" in divider._repr_html_()
    assert "lethal" in divider._repr_html_()
    assert "<td>12.00</td>" in divider.warm._repr_html_()


def test_what_was_not_solved_says_so_in_html() -> None:
    shorted = coldcheck.review_text("B1 --+[E1 24 V]-- gnd\nB1 -- gnd\n").warm
    assert not shorted.solved
    assert "not solved" in shorted._repr_html_()


def test_importing_the_package_imports_nothing_heavy() -> None:
    code = "import sys, coldcheck; sys.exit(any(m in sys.modules for m in ('numpy', 'lark')))"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_an_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no attribute 'reviews'"):
        coldcheck.reviews  # noqa: B018
