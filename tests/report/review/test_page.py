"""The review as a page for a browser, a telephone, or paper."""

import re
from itertools import pairwise

import pytest
from tests.gates import at
from tests.report.page_reader import Page

from coldcheck.report.review import page
from coldcheck.report.review.text import CAUTION, verdict_line


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


@pytest.mark.parametrize("mark", ["http:", "https:", "src=", "<script", "url("])
def test_nothing_comes_from_outside(review, mark):
    assert mark not in page.render([at(review)])
