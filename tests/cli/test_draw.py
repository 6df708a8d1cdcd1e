"""``coldcheck draw``: what it writes, what it refuses, what it says of half a drawing."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest
from tests.picture.readback import recover

from coldcheck.cli import main

ROOT = Path(__file__).parents[2]
SAMPLE = ROOT / "samples" / "harbour-light.tube"
WRONG = ROOT / "samples" / "mistakes" / "heater.cathode-stress" / "wrong.tube"


def _texts(svg):
    return re.findall(r"<text[^>]*>([^<]*)</text>", svg)


def _drawn(capsys, *words):
    status = main(["draw", *map(str, words)])
    return status, capsys.readouterr()


def test_the_volts_of_the_state_stand_in_the_picture(capsys):
    status, told = _drawn(capsys, SAMPLE)
    assert status == 0
    assert "volts to gnd, warm" in _texts(told.out)
    assert any(re.fullmatch(r"1[23]\.\d V", text) for text in _texts(told.out))


def test_another_state_has_other_volts(capsys):
    warm = _drawn(capsys, SAMPLE)[1].out
    cold = _drawn(capsys, SAMPLE, "--state", "cold")[1].out
    assert "volts to gnd, cold" in _texts(cold)
    assert sorted(_texts(warm)) != sorted(_texts(cold))


def test_without_volts_there_are_none(capsys):
    texts = _texts(_drawn(capsys, SAMPLE, "--no-volts")[1].out)
    assert not any("to gnd" in text for text in texts)


def test_an_unknown_state_is_refused_with_those_there_are(capsys):
    status, told = _drawn(capsys, SAMPLE, "--state", "lukewarm")
    assert status == 3
    assert "warm" in told.err
    assert told.out == ""


def test_findings_are_marked_and_listed_by_their_words(capsys):
    texts = _texts(_drawn(capsys, WRONG, "--findings")[1].out)
    assert texts.count("1") >= 2
    assert any(text.startswith("NOTICE") and "V1A" in text for text in texts)


def test_one_panel_alone(capsys):
    parts, _, _ = recover(_drawn(capsys, SAMPLE, "--only", "supply")[1].out)
    names = {part.name for part in parts}
    assert {"T1", "L1"} <= names
    assert "V2" not in names


def test_the_panel_of_a_part(capsys):
    parts, _, _ = recover(_drawn(capsys, SAMPLE, "--only", "r7")[1].out)
    names = {part.name for part in parts}
    assert {"R7", "V2"} <= names
    assert "T1" not in names


def test_a_part_that_is_not_there(capsys):
    status, told = _drawn(capsys, SAMPLE, "--only", "R77")
    assert status == 3
    assert "R77" in told.err


def test_half_a_drawing_is_drawn_as_far_as_it_goes(tmp_path, capsys):
    half = tmp_path / "half.tube"
    half.write_text("tube V1 12AX7\nB1 --[R1 100k]-- V1A.plate\nV1A.cathode --[R2 1k5\n")
    status, told = _drawn(capsys, half)
    assert status == 2
    assert "half.tube" in told.err
    assert "not all of it could be read" in _texts(told.out)
    assert {"R1", "V1A"} <= {part.name for part in recover(told.out)[0]}


def test_nothing_at_all_is_a_sheet_without_parts(tmp_path, capsys):
    empty = tmp_path / "empty.tube"
    empty.write_text('drawing "Nothing yet"\n')
    status, told = _drawn(capsys, empty)
    assert status == 0
    assert recover(told.out)[0] == []


def test_the_drawing_is_never_overwritten(tmp_path, capsys):
    mine = tmp_path / "mine.tube"
    mine.write_text(SAMPLE.read_text())
    status, _ = _drawn(capsys, mine, "--output", mine)
    assert status == 3
    assert mine.read_text() == SAMPLE.read_text()


def test_the_page_holds_the_picture_and_nothing_from_elsewhere(capsys):
    page = _drawn(capsys, SAMPLE, "--report", "html")[1].out
    assert page.startswith("<!DOCTYPE html>")
    assert "<svg" in page
    assert "<script" not in page
    assert not re.search(r"""(src|href)=|url\(""", page)
    assert "default-src 'none'" in page


@pytest.mark.parametrize("name", ["harbour-light"])
def test_the_picture_of_the_guide_is_todays(name, capsys):
    kept = (ROOT / "samples" / "guide" / f"{name}.svg").read_text(encoding="utf-8")
    assert _drawn(capsys, ROOT / "samples" / f"{name}.tube")[1].out == kept


# -- PDF and PNG ------------------------------------------------------------------------


def _has_converter():
    try:
        import cairosvg  # noqa: F401
    except (ImportError, OSError):
        return False
    return True


needs_converter = pytest.mark.skipif(not _has_converter(), reason="the system has no cairo")


@needs_converter
def test_a_png_has_the_ink_where_the_svg_has_it(tmp_path, capsys):
    import cairocffi

    target = tmp_path / "drawn.png"
    assert _drawn(capsys, SAMPLE, "--report", "png", "--output", target)[0] == 0
    svg = _drawn(capsys, SAMPLE)[1].out
    image = cairocffi.ImageSurface.create_from_png(str(target))
    wide, high = image.get_width(), image.get_height()
    pixels, stride = bytes(image.get_data()), image.get_stride()
    box = re.search(r'viewBox="0 0 (\d+) (\d+)" width="([\d.]+)mm"', svg)
    assert wide == pytest.approx(float(box[3]) / 25.4 * 200, abs=2)  # 200 dots an inch
    assert wide / high == pytest.approx(int(box[1]) / int(box[2]), rel=0.01)

    def darkest(x, y):
        return min(
            pixels[(y + dy) * stride + 4 * (x + dx)] for dx in range(-2, 3) for dy in range(-2, 3)
        )

    wires = re.findall(r'<path data-net="[^"]*" d="M([\d.]+) ([\d.]+)L', svg)
    assert len(wires) > 20
    scale = wide / int(box[1])
    assert all(darkest(round(float(x) * scale), round(float(y) * scale)) < 90 for x, y in wires)
    assert darkest(wide - 5, 5) == 255  # the sheet is white


@needs_converter
def test_a_pdf_is_one_page_of_the_size_of_the_sheet(tmp_path, capsys):
    target = tmp_path / "drawn.pdf"
    assert _drawn(capsys, SAMPLE, "--report", "pdf", "--output", target)[0] == 0
    made = target.read_bytes()
    assert made.startswith(b"%PDF-")
    assert len(re.findall(rb"/Type /Page\b", made)) == 1
    wide, high = map(float, re.search(rb"/MediaBox \[ 0 0 ([\d.]+) ([\d.]+)", made).groups())
    assert wide <= 842  # A4 lying, ISO 216, in points
    assert high <= 595
    assert max(wide / 842, high / 595) > 0.85


@pytest.mark.parametrize("form", ["pdf", "png"])
def test_without_the_extra_it_is_said_what_to_install(form, tmp_path, capsys, monkeypatch):
    monkeypatch.setitem(sys.modules, "cairosvg", None)
    target = tmp_path / f"drawn.{form}"
    status, told = _drawn(capsys, SAMPLE, "--report", form, "--output", target)
    assert status == 3
    assert "pip install 'cairosvg>=2.7'" in told.err
    assert not target.exists()


def test_what_is_no_text_wants_a_file(capsys):
    status, told = _drawn(capsys, SAMPLE, "--report", "png")
    assert status == 3
    assert "--output" in told.err
    assert told.out == ""


def test_what_cannot_be_laid_out_is_refused_by_its_work(tmp_path, capsys):
    star = tmp_path / "star.tube"
    star.write_text("".join(f"HUB --[R{n} 1k]-- N{n}\n" for n in range(300)))
    status, told = _drawn(capsys, star, "--no-volts")
    assert status == 3
    assert "cannot be laid out: too much is joined to too much" in told.err
    assert told.out == ""
