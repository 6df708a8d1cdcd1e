"""The picture of the ladder, read back from its shapes alone."""

from __future__ import annotations

import re
from functools import cache
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.anatomy.case import Case
from coldcheck.bench.ladder.ladder import Column, Ladder, Link, Rung, ladder
from coldcheck.drawing import read_drawing
from coldcheck.report.ladder import svg
from coldcheck.settings.apply import circuit_of
from coldcheck.solve import solve_states

SAMPLES = Path(__file__).parents[3] / "samples"
S = "{http://www.w3.org/2000/svg}"


@cache
def found(name):
    circuit = circuit_of(read_drawing(SAMPLES / f"{name}.tube"))
    return ladder(Case(circuit, solve_states(circuit)))


def axis(root):
    """Volts of a height, from two figures of the scale."""
    ticks = [
        (float(t.text.removesuffix(" V")), float(t.get("y")) - 4)
        for t in root.iter(f"{S}text")
        if t.get("text-anchor") == "end" and t.get("x") == "44.0"
    ]
    (v1, y1), (v2, y2) = ticks[0], ticks[-1]
    assert len(ticks) > 4
    return lambda y: v1 + (y - y1) * (v2 - v1) / (y2 - y1)


@pytest.mark.parametrize("name", ["harbour-light", "twin-quay"])
def test_height_is_volts(name) -> None:
    root = ET.fromstring(svg.render(found(name)))
    volts = axis(root)
    rungs = [r for c in found(name).columns for r in c.rungs]
    drawn = [g for g in root.iter(f"{S}g") if g.find(f"{S}title") is not None]
    read = {}
    for group in drawn:
        thick = [x for x in group.iter(f"{S}line") if x.get("stroke-width") == "1.8"]
        if thick:
            bar = group.find(f"{S}rect")
            read[group.find(f"{S}title").text] = (
                volts(float(thick[0].get("y1"))),
                None if bar is None else volts(float(bar.get("y")) + float(bar.get("height"))),
                None if bar is None else volts(float(bar.get("y"))),
            )
    assert len(read) >= len({svg._told(r) for r in rungs})
    for rung in rungs:
        dc, low, high = read[svg._told(rung)]
        assert dc == pytest.approx(rung.dc, abs=0.2)
        if low is not None:
            assert (low, high) == pytest.approx((rung.low, rung.high), abs=0.4)


def test_every_tube_and_every_rung_has_its_name() -> None:
    root = ET.fromstring(svg.render(found("harbour-light")))
    texts = [t.text for t in root.iter(f"{S}text")]
    for column in found("harbour-light").columns:
        assert column.state in texts
        assert all(link.section in texts for link in column.links)
    assert sum(t == "LIFT" for t in texts) == 4


def test_no_two_names_on_one_another() -> None:
    for name in ("harbour-light", "twin-quay", "breakwater"):
        root = ET.fromstring(svg.render(found(name)))
        places = {}
        for group in root.iter(f"{S}g"):
            if group.get("transform"):
                row = group.get("transform")
                for t in group.findall(f"{S}text"):
                    places.setdefault((row, t.get("x")), []).append(float(t.get("y")))
        for ys in places.values():
            assert all(b - a > 11 for a, b in pairwise(sorted(ys)))


def test_the_same_drawing_gives_the_same_bytes_and_nothing_from_outside() -> None:
    text = svg.render(found("twin-quay"))
    assert text == svg.render(found("twin-quay"))
    assert re.findall(r"https?:[^\"]*", text) == ["http://www.w3.org/2000/svg"]
    assert "<script" not in text
    assert "nan" not in text


@given(st.lists(st.floats(svg.TOP, svg.TOP + svg.HIGH), max_size=svg.MOST))
def test_labels_keep_their_order_and_their_distance(wanted) -> None:
    wanted.sort()
    placed = svg.spread(wanted)
    assert len(placed) == len(wanted)
    assert all(b - a >= svg.LINE - 1e-6 for a, b in pairwise(placed))
    assert all(svg.TOP <= p <= svg.TOP + svg.HIGH + 2 * svg.LINE for p in placed)
    if len(wanted) == 1:
        assert placed[0] == pytest.approx(
            min(max(wanted[0], svg.TOP + 8), svg.TOP + svg.HIGH) + 3.5
        )


def test_more_rungs_than_the_height_has_room_for_share_their_names() -> None:
    rungs = tuple(Rung((f"N{n}",), 300.0 - n, 300.0 - n, 300.0 - n) for n in range(200))
    whole = Ladder("t.tube", "", (Column("warm", "", rungs),), (), ())
    root = ET.fromstring(svg.render(whole))
    titles = [g.find(f"{S}title") for g in root.iter(f"{S}g")]
    assert sum(t is not None for t in titles) == 200
    names = [t for t in root.iter(f"{S}text") if (t.text or "").startswith("N")]
    assert 30 < len(names) <= svg.MOST + 1


def test_what_comes_from_the_drawing_is_escaped_and_a_state_may_be_unsolved() -> None:
    link = Link("V<1", "X&Y", 0.0, 100.0, None, None, None)
    columns = (
        Column("warm", "", (Rung(("A<B",), 1.0, 0.0, 2.0),), (link,)),
        Column("cold", "no <law>"),
    )
    text = svg.render(Ladder("a&b.tube", "<b>", columns, (), ("Q<",)))
    root = ET.fromstring(text)
    texts = [t.text for t in root.iter(f"{S}text")]
    assert "A<B" in texts
    assert "V<1" in texts
    assert "not solved: no <law>" in texts
    assert "<b>" in texts


def test_many_states_go_on_in_a_row_below() -> None:
    many = found("harbour-light")
    twice = Ladder(many.file, many.title, many.columns * 2, many.windows, many.left_out)
    once, below = (ET.fromstring(svg.render(x)) for x in (many, twice))
    assert float(below.get("width")) == float(once.get("width"))
    assert float(below.get("height")) == pytest.approx(float(once.get("height")) + svg.ROW, abs=1)
    rows = [len(row) for row in svg._in_rows(found("twin-quay").columns)]
    assert rows == [2, 2]
