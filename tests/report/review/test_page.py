"""The review as a page for a browser."""

import pytest
from tests.report.page_reader import Page

from coldcheck.report.review import page
from coldcheck.report.review.text import CAUTION, verdict_line


def test_each_finding_has_its_word_its_sentence_and_its_evidence(review):
    seen = Page(page.render([review], ["Supply rails\n  B1  250.0\n"]))
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
    assert verdict_line(review) in said
    assert CAUTION in said
    assert "B1 250.0" in said
    assert [n.reason for n in review.not_judged if n.reason not in said] == []


def test_an_unreadable_drawing_says_what_is_to_be_mended(unreadable):
    said = " ".join(Page(page.render([unreadable], [""])).texts)
    assert "verdict: unreadable" in said
    assert all(f.message in said and f.remedy in said for f in unreadable.findings)
    assert "Worked out" not in said


def test_several_drawings_are_sections_and_end_in_one_caution(review, unreadable):
    seen = Page(page.render([review, unreadable], ["", ""]))
    assert seen.tags.count("section") == 2
    assert " ".join(seen.texts).count(CAUTION) == 1
    assert "2 drawings: 1 fail, 1 unreadable" in " ".join(seen.texts)


def test_colours_of_a_terminal_are_left_out(review):
    made = page.render([review], ["\x1b[1mSupply\x1b[0m rails <b>\n"])
    assert "Supply rails &lt;b&gt;" in made
    assert "\x1b" not in made


@pytest.mark.parametrize("mark", ["http:", "https:", "src=", "<script", "url("])
def test_nothing_comes_from_outside(review, mark):
    assert mark not in page.render([review], [""])
