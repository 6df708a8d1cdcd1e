"""The review as a page for a browser, a telephone, or paper."""

import json
import re
from datetime import date
from itertools import pairwise
from pathlib import Path

import pytest
from tests.gates import at
from tests.report.page_reader import Page

from coldcheck.drawing import parse_drawing
from coldcheck.report.review import page
from coldcheck.report.review.text import CAUTION, verdict_line
from coldcheck.verdict.document.build import document_of
from coldcheck.verdict.engine import review_drawing
from coldcheck.verdict.ruling import USUAL, ruled

ROOT = Path(__file__).parents[3]


def test_each_finding_has_its_word_its_sentence_and_its_evidence(review):
    ruling = at(review)
    seen = Page(page.render([ruling]))
    said = " ".join(" ".join(seen.texts).split())
    told = [f for f in review.findings if f.accepted is None]
    for finding in told:
        assert finding.message in said
        assert finding.rule in said
        assert finding.remedy in said
        assert ("span", f"word {finding.level}") in seen.classes
    assert seen.tags.count("article") == len(told) > 1
    (waived,) = [f for f in review.findings if f.accepted is not None]
    assert waived.message in said
    assert f"because {waived.accepted}" in said
    assert verdict_line(ruling) in said
    assert CAUTION in said
    assert [n.reason for n in review.not_judged if n.reason not in said] == []


def test_what_was_worked_out_stands_in_tables_with_headings_and_captions(review):
    made = page.render([at(review)])
    seen = Page(made)
    assert seen.tags.count("table") == seen.tags.count("caption") == seen.tags.count("thead") >= 3
    assert "pre" not in seen.tags
    cells = re.findall(r"<t([hd])( [^>]*)?>", made)
    assert all('scope="' in given for kind, given in cells if kind == "h")
    assert all('data-of="' in given for kind, given in cells if kind == "d")
    (rails,) = re.findall(r"<table><caption><h2>Supply rails.*?</table>", made, re.DOTALL)
    assert '<th scope="row">B1</th><td class="figure" data-of="DC">285.1</td>' in rails
    assert '<th scope="col" class="figure">AC rms</th>' in rails


def test_headings_go_down_one_by_one(review, unreadable):
    for some in ([review], [review, unreadable]):
        seen = Page(page.render(list(map(at, some))))
        levels = [int(t[1]) for t in seen.tags if re.fullmatch("h[1-6]", t)]
        assert levels.count(1) == 1
        assert levels[0] == 1
        assert all(b <= a + 1 for a, b in pairwise(levels))


def test_a_telephone_and_a_printer_without_colour_are_thought_of(review):
    made = page.render([at(review)])
    assert '<meta name="viewport" content="width=device-width, initial-scale=1">' in made
    assert "@media (max-width: 40rem)" in made
    assert "@media print" in made
    # The signal word is a word in a frame whatever becomes of its colour.
    assert re.search(r"\.word \{[^}]*border:", made)
    assert "(monochrome)" in made


def test_an_unreadable_drawing_says_what_is_to_be_mended(unreadable):
    seen = Page(page.render([at(unreadable)]))
    said = " ".join(seen.texts)
    assert "verdict: unreadable" in said
    assert all(f.message in said and f.remedy in said for f in unreadable.findings)
    assert "table" not in seen.tags


def test_several_drawings_are_sections_and_end_in_one_caution(review, unreadable):
    seen = Page(page.render([at(review), at(unreadable)]))
    assert seen.tags.count("section") == 2
    assert " ".join(seen.texts).count(CAUTION) == 1
    assert "2 drawings: 1 held, 1 unreadable" in " ".join(seen.texts)


@pytest.mark.parametrize("mark", ["http:", "https:", "src=", "href=", "url(", "@import"])
def test_nothing_comes_from_outside(review, mark):
    assert mark not in page.render([at(review)])
    assert mark not in page.render([WRONG])


# -- the picture in it -----------------------------------------------------------------


def _pictured(text, name="a.tube"):
    review = review_drawing(parse_drawing(text, name), date(2026, 6, 1))
    return ruled(document_of(review, pictured=True), USUAL)


def _data(made):
    (held,) = re.findall(r'<script type="application/json">(.*?)</script>', made, re.DOTALL)
    return json.loads(held)


PAIR = ROOT / "samples" / "mistakes" / "heater.cathode-stress" / "wrong.tube"
WRONG = _pictured(PAIR.read_text("utf-8"))


def test_what_is_drawn_is_what_can_be_asked_for():
    made = page.render([WRONG])
    data = _data(made)
    drawn = set(re.findall(r'data-part="([^"]*)"', made))
    assert {name.removeprefix("p ") for name in data["parts"]} == drawn >= {"R1", "V1A", "T1"}
    nets = set(re.findall(r'data-net="([^"]*)"', made))
    assert nets <= {name.removeprefix("n ") for name in data["nets"]}
    chosen = set(re.findall(r'<option value="n ([^"]*)"', made))
    assert chosen <= nets


def test_a_finding_has_its_number_in_list_and_picture_and_its_places():
    made = page.render([WRONG])
    finding = WRONG.document.findings[0]
    assert finding.at == ("V1A",)
    assert _data(made)["findings"]["1"] == ["p V1A"]
    assert '<rect class="badge notice" data-finding="1"' in made
    assert '<details data-finding="1"><summary>' in made
    assert f'<span class="what">{finding.message}</span></summary>' in made


def test_every_solved_state_has_the_volts_of_every_net():
    data = _data(page.render([WRONG]))
    document = WRONG.document
    assert data["states"] == [n for n, s in document.states.items() if s.solved]
    for n, state in enumerate(data["states"]):
        rail = data["words"][data["nets"]["n B1"]["short"][n]]
        assert rail == f"{document.states[state].points['B1'].dc:.1f} V"
    warm = data["words"][data["parts"]["p R3"]["long"][0]]
    cathode = document.states["warm"].points["V1A.cathode"].dc
    assert f"{cathode:.1f} V across" in warm
    assert f"{cathode / 150e3 * 1e3:.2f} mA" in warm  # Ohm's law, 150 kohm


def test_without_its_script_the_page_has_the_first_state_and_no_dead_controls():
    made = page.render([WRONG])
    shown = re.findall(r'<text class="volts" data-net="B1"[^>]*>([^<]*)</text>', made)
    assert shown
    assert set(shown) == {f"{WRONG.document.states['warm'].points['B1'].dc:.1f} V"}
    assert '<div class="ask" hidden>' in made
    assert all("hidden" in tag for tag in re.findall(r"<button[^>]*>", made))


def test_the_only_scripts_are_ours_and_data():
    kinds = re.findall(r"<script([^>]*)>", page.render([WRONG, WRONG]))
    assert kinds == [' type="application/json"', ' type="application/json"', ""]


def test_what_breaks_down_in_the_layout_costs_the_picture_alone(monkeypatch):
    def broken(*_given, **_asked):
        raise RuntimeError("no way through")

    monkeypatch.setattr("coldcheck.verdict.document.shown.picture_of", broken)
    found = _pictured(PAIR.read_text("utf-8"))
    made = page.render([found])
    assert "No picture: the layout broke down: RuntimeError: no way through" in made
    assert "<svg" not in made
    assert found.verdict == WRONG.verdict
    assert found.document.findings == WRONG.document.findings
    assert "Supply rails" in made


def test_a_drawing_that_is_half_read_is_drawn_as_far_as_it_goes():
    made = page.render([_pictured("B1 --[R1 10k]-- X --[R2 10k]-- gnd\nB1 [R3\n")])
    assert 'data-part="R1"' in made
    assert "not all of it could be read" in made
    assert '<select class="state">' not in made


def test_nobody_asked_for_a_picture_there_is_none_and_nothing_is_said_of_it(review):
    made = page.render([at(review)])
    assert "<svg" not in made
    assert "No picture" not in made
