"""Waves drawn for a terminal and as SVG."""

from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldcheck.report.chart.waveform import limits, needs_enlarging, svg, terminal

TURN = 2 * np.pi * np.arange(128) / 128
SINE = np.sin(TURN)
SVG = "{http://www.w3.org/2000/svg}"


def test_the_picture_of_a_sine_in_ascii():
    """Up in the first half, down in the second, through gnd in the middle; 6 % of room."""
    assert terminal(10 * SINE, 24, 5, plain=True) == [
        " 11.2 |  ********",
        "      |**        **",
        "    0 |------------*----------*",
        "      |             **      **",
        "-11.2 |               ******",
    ]


@pytest.mark.parametrize("plain", [True, False])
def test_only_the_characters_asked_for(plain):
    text = "".join(terminal(300 + 10 * SINE, plain=plain))
    assert text.isascii() is plain
    if not plain:
        assert any("\u2800" <= ch <= "\u28ff" for ch in text)


def test_labels_say_the_ends_and_gnd():
    lines = terminal(300 + 10 * SINE, 40, 9)
    assert lines[0].split()[0] == "328.6"  # 310 V and 6 % of room
    assert lines[-1].split()[0] == "0"
    assert len({line.index("│") for line in lines}) == 1


samples = st.lists(st.floats(-1e4, 1e4), min_size=1, max_size=64).map(np.array)


@settings(max_examples=60)
@given(samples, st.booleans(), st.booleans())
def test_every_wave_fills_every_column_and_stays_inside(values, ground, plain):
    lines = terminal(values, 30, 7, ground=ground, plain=plain)
    assert len(lines) == 7
    start = lines[0].index("|" if plain else "│") + 1
    assert all(len(line) <= start + 30 for line in lines)
    drawn = [line[start:].ljust(30) for line in lines]
    for column in range(30):
        assert any(line[column] not in " -─" for line in drawn)
    low, high = limits(values, ground=ground)
    assert low < values.min()
    assert high > values.max()


def test_small_ripple_is_enlarged_and_no_ripple_is_not():
    assert needs_enlarging(300 + 10 * SINE)
    assert not needs_enlarging(10 * SINE)
    assert not needs_enlarging(np.full(8, 300.0))


def test_svg_has_a_panel_more_for_small_ripple():
    for values, panels in ((300 + 10 * SINE, 2), (10 * SINE, 1), (np.full(1, 250.0), 1)):
        root = ElementTree.fromstring(svg(values, "B1", 60.0))
        assert len(root.findall(f"{SVG}polyline")) == panels


def test_svg_escapes_its_title():
    text = svg(SINE, "<script>&\x1b\"'", 60.0, "<b>")
    root = ElementTree.fromstring(text)
    assert root.find(f"{SVG}title").text.startswith("<script>&\\x1b")
    assert not [e for e in root.iter() if e.tag.endswith(("script", "}b"))]


def test_svg_is_drawn_to_scale():
    """The highest point of the line is the highest sample: above the DC line and the zero line."""
    root = ElementTree.fromstring(svg(300 + 10 * SINE, "B1", 60.0))
    line = root.find(f"{SVG}polyline").get("points").split()
    heights = [float(p.split(",")[1]) for p in line]
    zero, mean = sorted((float(e.get("y1")) for e in root.findall(f"{SVG}line")[:2]), reverse=True)
    assert zero - min(heights) == pytest.approx((zero - mean) * 310 / 300, abs=0.2)
