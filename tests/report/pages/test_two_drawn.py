"""Pages that draw two drawings: a lesson, a comparison; marks stand where they must."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from tests.report.page_reader import Page

from coldcheck.compare.changes import compare
from coldcheck.compare.pictured import pictured
from coldcheck.drawing import parse_drawing
from coldcheck.picture.changed import items_of
from coldcheck.report.pages import comparison_page, lesson_page
from coldcheck.report.picture import pair as pictures
from coldcheck.report.picture import svg
from coldcheck.report.picture.pen import CELL
from coldcheck.verdict.engine import review_drawing
from coldcheck.verdict.pairs import pairs_of
from coldcheck.verdict.registry import rule_by_id
from coldcheck.verdict.ruling import USUAL

if TYPE_CHECKING:
    from coldcheck.compare.pictured import Side
    from coldcheck.verdict.review import Review

STAGE = """\
drawing "NAME"
tube V1 12AX7
B1 --+[E1 250 V]-- gnd
B1 --[R1 100k]-- V1A.plate
V1A.cathode --[R2 1k5]-- gnd
V1A.grid --[R3 1M]-- gnd
"""


def _reviews(name: str = "a stage") -> list[Review]:
    old = STAGE.replace("NAME", name)
    new = old.replace("V1A.grid --[R3 1M]-- gnd", "V1A.grid --[R4 1M]-- B1").replace("100k", "91k")
    return [review_drawing(parse_drawing(text, f"{name}.tube")) for text in (old, new)]


def _compared(name: str = "a stage") -> str:
    found = compare(*_reviews(name))
    return comparison_page.render(found.at(USUAL), pictured(found, lambda _: True))


@pytest.fixture(scope="module")
def side() -> Side:
    found = pictured(compare(*_reviews()), lambda _: False)
    assert found is not None
    return found[1]


def _boxes(drawn: str, kind: str) -> list[tuple[float, ...]]:
    found = re.findall(
        rf'<rect class="{kind}" x="([\d.]+)" y="([\d.]+)" width="([\d.]+)" height="([\d.]+)"', drawn
    )
    return [tuple(map(float, box)) for box in found]


def test_frames_go_around_symbol_and_words_of_the_changed_parts_alone(side: Side) -> None:
    drawn = svg.inline(side.picture, changed=side.changed)
    framed = _boxes(drawn, "changed")
    assert len(framed) == len(side.changed.parts) == 2
    for item in items_of(side.picture):
        spots = [(x * CELL, y * CELL) for x, y in item.cells]
        spots += [
            (w.x * CELL, w.y * CELL) for w in (t.moved(item.x, item.y) for t in item.form.words)
        ]
        inside = [
            all(x < px < x + w and y < py < y + h for px, py in spots) for x, y, w, h in framed
        ]
        assert any(inside) == (item.device.name in side.changed.parts)


def test_a_ring_has_its_lead_in_the_middle() -> None:
    (pair, *_) = pairs_of("supply.no-bleeder")
    reviews = [review_drawing(parse_drawing(t, "a.tube")) for t in (pair.wrong, pair.right)]
    found = pictured(compare(*reviews), lambda _: False)
    assert found is not None
    for side in found:
        ((x, y, width, height),) = _boxes(
            svg.inline(side.picture, changed=side.changed), "elsewhere"
        )
        port = next(i for i in items_of(side.picture) if i.device.name == "R2").port("a")
        assert (x + width / 2, y + height / 2) == (port.x * CELL, port.y * CELL)


def test_without_a_change_a_picture_is_what_it_was(side: Side) -> None:
    drawn = svg.inline(side.picture)
    assert "elsewhere" not in drawn
    assert "lacking" not in drawn
    marked = svg.inline(side.picture, changed=side.changed)
    bare = re.sub(r'\n<(rect class="(changed|elsewhere)"|path class="lacking")[^>]*/>', "", marked)
    assert bare == drawn


def test_a_comparison_draws_both_and_says_what_the_marks_mean() -> None:
    read = Page(_compared())
    assert read.tags.count("svg") == read.tags.count("figure") == 2
    assert "script" not in read.tags
    said = " ".join(read.texts)
    assert pictures.MARKS in said
    assert "added R4" in said


@pytest.mark.parametrize("name", ["</main><script>x</script>", "<b>&amp;"])
def test_no_name_brings_in_tags(name: str) -> None:
    ours = set(Page(_compared()).tags)
    assert set(Page(_compared(name.replace("/", "÷"))).tags) == ours


def test_without_a_layout_the_words_stand_alone() -> None:
    found = compare(*_reviews())
    read = Page(comparison_page.render(found.at(USUAL), None))
    assert "svg" not in read.tags
    assert comparison_page.NO_PICTURE in read.texts


def test_a_lesson_has_all_that_the_page_for_a_terminal_has() -> None:
    rule, (pair, *_) = rule_by_id("grid.no-return"), pairs_of("grid.no-return")
    texts = {"wrong": pair.wrong, "right": pair.right}
    reviews = {side: review_drawing(parse_drawing(t, "a.tube")) for side, t in texts.items()}
    sides = pictured(compare(*reviews.values()), lambda f: f.rule == rule.id)
    read = Page(lesson_page.render(rule, pair, reviews, sides, ["grid.no-return/other"]))
    said = " ".join(read.texts)
    for words in (rule.criterion, rule.why, rule.source, pair.lesson):
        assert words in said
    assert read.tags.count("svg") == 2
    assert ("td", "differs") in read.classes
    assert "V1A.grid --[R3 1M]-- gnd" in read.texts
    assert "coldcheck why grid.no-return/other" in said


def test_a_pair_that_cannot_be_read_is_told_in_words() -> None:
    rule, (pair, *_) = rule_by_id("drawing.syntax"), pairs_of("drawing.syntax")
    texts = {"wrong": pair.wrong, "right": pair.right}
    reviews = {side: review_drawing(parse_drawing(t, "a.tube")) for side, t in texts.items()}
    read = Page(lesson_page.render(rule, pair, reviews, None))
    assert "svg" not in read.tags
    assert pair.lesson in read.texts
