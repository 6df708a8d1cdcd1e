"""What a drawing says stays text in every report: no escape, markup, HTML, command or Markdown."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import date
from functools import cache
from io import StringIO
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from markdown_it import MarkdownIt
from rich.console import Console
from tests.report.page_reader import Page

from coldcheck.api import Review as Shown
from coldcheck.bench.chart.chart import Bench
from coldcheck.compare.changes import PartChange, compare
from coldcheck.drawing import parse_drawing
from coldcheck.drawing.model import Span
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Finding, NotJudged
from coldcheck.report.chart import csv as chart_csv
from coldcheck.report.chart import html as chart_html
from coldcheck.report.chart import json as chart_json
from coldcheck.report.chart import markdown as chart_markdown
from coldcheck.report.pages import comparison, trace_text
from coldcheck.report.review import annotations, json_report, junit, page, sarif, terse, text
from coldcheck.report.shared.places import Root
from coldcheck.report.shared.plain import clean as cleaned
from coldcheck.verdict.document.build import document_of, ruling_of
from coldcheck.verdict.document.kept import from_json, to_json
from coldcheck.verdict.engine import review_drawing
from coldcheck.verdict.ruling import USUAL, ruled

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.picture.board import Item
    from coldcheck.verdict.review import Review
    from coldcheck.verdict.ruling import Ruling

ROOT = Root(Path("/hostile"), Path("/hostile"))
NASTY = (
    "\x1b[31mred\x1b[0m", "\x1b]0;title\x07", "\x9b2J", "\r", "\n", "\t", "\x00", "\x7f", "\x85",
    "\u2028", "\u202eevil", "\u2066", "\u200f", "[bold red]x[/]", "[/]", "[link=http://x]y[/link]",
    ":smile:", "<script>alert(1)</script>", "</td></table>", "&amp;", "\"'", "--><!--", "]]>",
    "::error::x", "\n::set-output name=a::b", "%0A::warning::x", "::stop-commands::", "##[error]x",
    "| a | b |", "`code`", "**bold**", "![i](http://x/y.png)", "[a](javascript:x)", "@everyone",
    "http://evil.example", "www.evil.example", "$x^2$", "# h", "- [ ] x", "<!--", "~~s~~", "\\",
    "=cmd()", "\ud800",
)  # fmt: skip
TEXTS = st.one_of(
    st.text(max_size=30),
    st.lists(st.one_of(st.sampled_from(NASTY), st.text(max_size=5)), max_size=5).map("".join),
)
MANY = settings(max_examples=60)
CONTROLS = re.compile(
    "[\x00-\x09\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]"
)

DRAWING = "B1 --+[E1 100 V]-- gnd\nB1 --[R1 10k 5 W]-- OUT --[R2 10k 5 W]-- gnd\n"


@cache
def plain() -> Review:
    return review_drawing(parse_drawing(DRAWING, "a.tube"), date(2026, 1, 1))


def soiled(words: str) -> Review:
    """A review with the words wherever words of a drawing, a file or a package can come to."""
    span = Span(words, 1, 1, 3)
    finding = Finding(
        "drawing.syntax", "notice", words, (words, "R1"), span, words, words,
        {"found": words, words: figure(1.0, "V")}, figure(2.0, "V"), "likely", words,
        path=(words,), also_in=(words,),
        fingerprint="0" * 16,
    )  # fmt: skip
    findings = (finding, replace(finding, accepted=words), replace(finding, standing=True))
    remarks = (NotJudged("review", (words,), words), NotJudged("packages", (), words))
    return replace(
        plain(), file=words, title=words, findings=findings, not_judged=remarks,
        lines=(words, words), sheets={words: (words,)},
    )  # fmt: skip


def printed(review: Review, *, terminal: bool) -> str:
    console = Console(
        file=StringIO(), width=90, force_terminal=terminal, legacy_windows=False,
        color_system="truecolor" if terminal else None,
    )  # fmt: skip
    with console.capture() as captured:
        text.render(ruling_of(review), console)
    return captured.get()


@MANY
@given(TEXTS)
@example("".join(NASTY))
def test_text_holds_no_control_and_no_markup(words: str) -> None:
    said = printed(soiled(words), terminal=False)
    assert not CONTROLS.search(said)
    if words.isprintable() and " " not in words and 0 < len(words) < 12:
        assert said.count(words) >= 4  # brackets and colons are shown and not obeyed


@MANY
@given(TEXTS)
@example("".join(NASTY))
def test_a_terminal_gets_only_the_colours_of_the_report(words: str) -> None:
    said = printed(soiled(words), terminal=True)
    bare = re.sub("\x1b\\[[0-9;]*m", "", said)
    assert not CONTROLS.search(bare)
    colours = set(re.findall("\x1b\\[[0-9;]*m", said))
    assert colours <= set(re.findall("\x1b\\[[0-9;]*m", printed(soiled("plain"), terminal=True)))


@MANY
@given(TEXTS)
@example("".join(NASTY))
def test_json_says_the_words_back(words: str) -> None:
    said = json_report.render([ruling_of(soiled(words))])
    assert said.isascii()
    assert not CONTROLS.search(said)
    (drawing,) = json.loads(said)["drawings"]
    expected = words.encode("utf-8", "backslashreplace").decode()
    assert drawing["title"] == drawing["findings"][0]["message"] == expected
    if words.isprintable():
        kept = ruling_of(soiled(words)).document
        again = from_json(json.loads(json.dumps(to_json(kept))))
        assert again.findings[0].message == words


@MANY
@given(TEXTS)
@example("".join(NASTY))
def test_the_terse_form_has_a_line_for_each_thing(words: str) -> None:
    said = terse.render([ruling_of(soiled(words))])
    assert not CONTROLS.search(said)
    assert said.count("\n") == 4  # the drawing, its open finding, the summary, the caution


@MANY
@given(TEXTS)
@example("".join(NASTY))
def test_sarif_and_junit_stay_whole(words: str) -> None:
    (run,) = json.loads(sarif.render([ruling_of(soiled(words))], ROOT))["runs"]
    assert len(run["results"]) == 3
    assert all(not CONTROLS.search(r["message"]["text"]) for r in run["results"])
    said = junit.render([ruling_of(soiled(words))], ROOT)
    assert not CONTROLS.search(said)
    top = ET.fromstring(said)
    assert [e.tag for e in top] == ["testsuite"]
    failing = [case.get("name") for case in top[0] if case.find("failure") is not None]
    assert failing == ["drawing"]
    assert {e.tag for e in top.iter()} <= {
        "testsuites", "testsuite", "testcase", "failure", "system-out",
        "properties", "property"}  # fmt: skip


@MANY
@given(TEXTS)
@example("".join(NASTY))
def test_annotations_are_one_command_a_finding(words: str) -> None:
    said = annotations.render([ruling_of(soiled(words))], ROOT)
    lines = said.split("\n")
    assert lines.pop() == ""
    assert len(lines) == 2  # what counts, and the verdict on what was let through besides
    line, verdict = lines
    assert verdict.startswith("::notice file=")
    assert not CONTROLS.search(verdict)
    head, _, message = line.removeprefix("::error ").partition("::")
    assert line.startswith("::error ")
    assert not CONTROLS.search(line)
    names = [part.partition("=")[0] for part in head.split(",")]
    assert names == ["file", "line", "col", "endColumn", "title"]
    assert not re.search("%(?!25|0A|0D|3A|2C)", line)
    assert "\n" not in message


def _tokens(source: str) -> Iterator[str]:
    parser = MarkdownIt("commonmark", {"html": True}).enable(["table", "strikethrough"])
    for token in parser.parse(source):
        yield token.type
        yield from (child.type for child in token.children or ())


@MANY
@given(TEXTS)
@example("".join(NASTY))
def test_markdown_of_a_comparison_has_the_form_it_always_has(words: str) -> None:
    found = compare(plain(), plain())
    changes = (PartChange("added", words, "", words), PartChange("changed", words, words, words))
    review = soiled(words)
    soil = replace(found, new=review, old=review, parts=changes)
    clean = replace(found, new=soiled("a"), old=soiled("a"), parts=(
        PartChange("added", "a", "", "a"), PartChange("changed", "a", "a", "a")))  # fmt: skip
    said = comparison.markdown(soil.at(USUAL))
    assert not CONTROLS.search(said)
    assert not re.search(r"www\.|https?:|(?<!\\)[@$]", said)
    assert set(_tokens(said)) <= set(_tokens(comparison.markdown(clean.at(USUAL))))
    assert json.loads(comparison.as_json(soil.at(USUAL)))["parts"][0]["how"] == "added"


@MANY
@given(TEXTS)
@example("".join(NASTY))
def test_html_of_a_notebook_has_only_our_own_tags(words: str) -> None:
    said = Shown(soiled(words))._repr_html_()
    tags = {"h4", "p", "b", "table", "tr", "td", "br", "i", "code", "ul", "li", "small"}
    assert set(re.findall(r"</?([a-z0-9]+)[^>]*>", said)) <= tags
    assert not re.search(r"<(?!/?(?:h4|p|b|table|tr|td|br|i|code|ul|li|small)>)", said)


@MANY
@given(TEXTS)
@example("".join(NASTY))
def test_the_page_of_a_review_has_only_our_own_tags(words: str) -> None:
    said = page.render([ruling_of(soiled(words))])
    assert not CONTROLS.search(said)
    ours = set(re.findall(r"<[a-z!/][^>]*>", page.render([ruling_of(soiled("a"))])))
    assert set(re.findall(r"<[^>]*>?", said)) <= ours


@settings(max_examples=25)
@given(TEXTS)
@example("".join(NASTY))
@example("".join(n for n in NASTY if n.isprintable()))
def test_a_page_with_a_picture_has_only_our_own_tags_and_scripts(words: str) -> None:
    """As if every name, value and place in the picture were a stranger's words."""
    said, clean_page = (page.render([_named(w)]) for w in (words, "a"))
    assert not CONTROLS.search(said)
    reader = Page(said)
    assert set(reader.tags) <= set(Page(clean_page).tags)
    assert reader.tags.count("script") == 2
    policy = r'content="(default-src[^"]*)"'
    assert re.findall(policy, said) == re.findall(policy, clean_page)
    held = re.findall(r'<script type="application/json">(.*?)</script>', said, re.DOTALL)
    assert len(held) == 1
    assert not set("<>&'") & set(held[0])
    data = json.loads(held[0])
    assert all(cleaned(words) in part["head"] for part in data["parts"].values())


def _named(words: str) -> Ruling:
    """A review and its picture with every name made of the words."""
    document = document_of(soiled(words), pictured=True)
    assert document.shown is not None
    shown = document.shown

    def named(item: Item) -> Item:
        device = item.device
        leads = tuple(replace(lead, label=words) for lead in device.leads)
        name = f"{words}{device.name}"
        own = replace(device, name=name, leads=leads, lines=(name, *device.lines[1:], words))
        return replace(item, device=own)

    panels = tuple(
        replace(p, title=words, items=tuple(map(named, p.items))) for p in shown.picture.panels
    )
    picture = replace(shown.picture, title=words, panels=panels)
    lines = {f"{words}{name}": span for name, span in shown.lines.items()}
    return ruled(replace(document, shown=replace(shown, picture=picture, lines=lines)), USUAL)


@settings(max_examples=25)
@given(TEXTS)
@example("".join(NASTY))
def test_charts_keep_the_title_a_text(words: str) -> None:
    chart = replace(_chart(), title=words, file=words)
    mark = chart_markdown.render(chart)
    assert not CONTROLS.search(mark)
    assert set(_tokens(mark)) <= set(_tokens(chart_markdown.render(_chart())))
    assert json.loads(chart_json.render(chart))
    page = chart_html.render(chart)
    ours = set(re.findall(r"<[a-z!/][^>]*>", chart_html.render(_chart())))
    assert set(re.findall(r"<[a-z!/][^>]*>", page)) <= ours
    rows = chart_csv.render(chart).splitlines()
    assert not any(row.startswith(("=", "+", "@")) for row in rows)


@cache
def _chart():  # type: ignore[no-untyped-def]
    circuit = plain().circuit
    assert circuit is not None
    return Bench(circuit, "warm").chart()


@pytest.mark.parametrize("words", NASTY)
def test_a_whole_drawing_with_it_in_every_place_for_words(words: str) -> None:
    line = words.replace("\n", " ").replace("\r", " ").replace('"', "'")
    drawing = (
        f'drawing "{line}"\n{DRAWING}B1 --[C1 10 uF 20 V]-- gnd # {line}\n'
        f'accept capacitor.over-voltage at C1 because "{line}"\n'
    )
    for content in (drawing, f"{drawing}{line} --[R9 {line}]-- {line}\n"):
        looked = review_drawing(parse_drawing(content, "a.tube"), date(2026, 1, 1))
        assert not [n for n in looked.not_judged if n.kind.broken]
        assert not CONTROLS.search(printed(looked, terminal=False))
        for said in annotations.render([ruling_of(looked)], ROOT).splitlines():
            assert said.startswith(("::error ", "::warning ", "::notice "))
        if looked.readable:
            assert looked.circuit is not None
            console = Console(file=StringIO(), width=90)
            with console.capture() as captured:
                trace_text.render(looked.circuit, "B1", looked.solutions["warm"], console)
            assert not CONTROLS.search(captured.get())
