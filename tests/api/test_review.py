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

SAMPLE = Path(__file__).parents[2] / "samples" / "harbour-light.tube"
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
    assert set(divider.warm) == {"B1", "MID", "gnd"}
    assert len(divider.warm) == 3
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
    assert "<td>12</td>" in divider.warm._repr_html_()


def test_what_was_not_solved_says_so_in_html() -> None:
    shorted = coldcheck.review_text("B1 --+[E1 24 V]-- gnd\nB1 -- gnd\n").warm
    assert not shorted.solved
    assert "not solved" in shorted._repr_html_()


SHEET = "# half of a divider\nTOP --[R1 {ohms}]-- OUT\n"
WITH_SHEET = """
B1 --+[E1 24 V]-- gnd
sheet "half.tube" as H joining TOP = B1, OUT = MID
MID --[R2 10k]-- gnd
"""


def test_sheets_are_given_beside_the_text() -> None:
    found = coldcheck.review_text(WITH_SHEET, sheets={"half.tube": SHEET.format(ohms="30k")})
    assert found.verdict() == "let through"
    assert found.warm["MID"].dc == pytest.approx(24 * 10 / 40)  # Ohm's law


def test_a_sheet_that_is_not_given_is_not_looked_for(tmp_path, monkeypatch) -> None:
    (tmp_path / "half.tube").write_text(SHEET.format(ohms="30k"), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    found = coldcheck.review_text(WITH_SHEET, sheets={"other.tube": ""})
    assert found.verdict() == "unreadable"
    (said,) = (f.message for f in found.findings if "half.tube" in f.message)
    assert "no such sheet; expected one of the sheets given (other.tube)" in said


HOT = 'drawing "x"\nB1 --+[E1 100 V]-- gnd\nB1 --[R1 1k 0.5 W]-- gnd\n'


def test_settings_are_given_beside_the_text() -> None:
    assert coldcheck.review_text(HOT).verdict() == "held"
    assert coldcheck.review_text(HOT, settings={"gate": "danger"}).verdict() == "let through"
    off = {"off": {"resistor": "looked at by hand"}}
    assert not coldcheck.review_text(HOT, settings=off).findings


def test_settings_given_take_the_place_of_those_of_the_folder(tmp_path) -> None:
    file = tmp_path / "a.tube"
    file.write_text(HOT, encoding="utf-8")
    (tmp_path / "coldcheck.toml").write_text('gate = "danger"\n', encoding="utf-8")
    assert coldcheck.review(file).verdict() == "let through"
    assert coldcheck.review(file, settings={}).verdict() == "held"


def test_settings_that_cannot_be_used_are_told_with_their_key() -> None:
    said = "^settings: gaet: found an unknown key; .*; did you mean gate"
    with pytest.raises(ValueError, match=said):
        coldcheck.review_text(HOT, settings={"gaet": "danger"})


def test_findings_as_a_data_frame() -> None:
    pytest.importorskip("pandas")
    frame = coldcheck.review_text(HOT).to_frame()
    assert list(frame["at"]) == ["R1"]
    assert frame.loc[0, "rule"] == "resistor.over-power"
    assert coldcheck.review_text(HOT.replace("1k 0.5 W", "1M 1 W")).to_frame().empty


def test_importing_the_package_imports_nothing_heavy() -> None:
    heavy = "('numpy', 'lark', 'pandas')"
    code = f"import sys, coldcheck; sys.exit(any(m in sys.modules for m in {heavy}))"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_an_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no attribute 'reviews'"):
        coldcheck.reviews  # noqa: B018
