"""The power-up plan in all its forms: what has to be there, and nothing let loose."""

from __future__ import annotations

import json
import re
from io import StringIO
from pathlib import Path

import pytest
from rich.console import Console
from tests.report.page_reader import Page

from coldcheck.bench.plan.plan import plan_of
from coldcheck.drawing import parse_drawing
from coldcheck.report.plan import html as plan_html
from coldcheck.report.plan import json as plan_json
from coldcheck.report.plan import markdown as plan_markdown
from coldcheck.report.plan import text as plan_text
from coldcheck.report.plan import words as plan_words
from coldcheck.verdict.engine import review_drawing, review_file

SAMPLES = Path(__file__).parents[3] / "samples"
NASTY = "=1+1 <script>alert(1)</script> | ![x](y) &amp; \x1b[31mred\x07 \u202egnp"
DRAWING = f"""\
drawing "{NASTY}"
B1 --+[E1 250 V]-- gnd
B1 --[R1 100k]-- V1A.plate
B1 --+[C1 10 uF 450 V]-- gnd
tube V1 12AX7
V1A.cathode --[R2 1k5]-- gnd
V1A.grid --[R3 1M]-- gnd
V1B.grid -- V1B.cathode -- gnd
"""
WITHOUT_EARTH = """\
drawing "Lamp"
mains 120 V 60 Hz
transformer T1
    primary pri 120 V 4 ohm
    winding ht 250 V 0.1 A 50 ohm
line --[F1 fuse 0.25 A slow]-- FUSED --[S1 switch]-- T1.pri.1
T1.pri.2 -- neutral
T1.ht.2 -- gnd
T1.ht.1 --[D1 1N4007]-> RES --[R1 47k 5 W]-- gnd
RES --+[C1 10 uF 450 V]-- gnd
"""


def made(text, file="=cmd<b>.tube"):
    return plan_of(review_drawing(parse_drawing(text, file)))


@pytest.fixture(scope="module")
def sample():
    return plan_of(review_file(SAMPLES / "harbour-light.tube"))


@pytest.fixture(scope="module")
def nasty():
    return made(DRAWING)


@pytest.fixture(scope="module")
def withheld():
    found = made(WITHOUT_EARTH)
    assert found.blocking
    return found


def text_of(plan, width=80):
    out = StringIO()
    plan_text.render(plan, Console(file=out, width=width, color_system=None, force_terminal=False))
    return out.getvalue()


# -- text ---------------------------------------------------------------------------------


def test_text_keeps_to_eighty_columns_and_has_every_step(sample):
    text = text_of(sample)
    assert max(map(len, text.splitlines())) <= 80
    assert not re.search(r" \n", text)
    for number, step in enumerate(sample.steps, 1):
        assert f"Step {number}. {step.title}" in text
    assert " ".join(text.split()).endswith(plan_words.CAUTION)


def test_signal_words_come_with_their_texts(sample):
    text = " ".join(text_of(sample).split())
    for caution in sample.cautions:
        assert f"{caution.level.upper()} {caution.text}" in text


def test_what_forbids_power_comes_first(withheld):
    text = text_of(withheld)
    assert text.index("Do not power up") < text.index("mains.no-earth") < text.index("Step 1")
    assert "Power on" not in text


def test_no_byte_of_a_drawing_moves_the_cursor(nasty):
    text = text_of(nasty)
    assert "\\x1b[31mred\\x07" in text
    assert all(ch.isprintable() or ch == "\n" for ch in text)


def test_an_empty_table_needs_no_reasons():
    text = text_of(made("B1 --[R1 10k]-- gnd\n"))
    assert "nothing in the drawing feeds it" in " ".join(text.split())


# -- words ---------------------------------------------------------------------------------


def test_a_limit_is_said_where_the_range_does_not_say_it(sample):
    checks = [c for s in sample.steps for c in s.checks]
    (cathode,) = (c for c in checks if c.point == "V2.cathode" and "plate" in c.note)
    assert plan_words.stop_text(cathode).startswith("stop above 16")
    rail = next(c for c in checks if c.point == "RES" and c.stop_below == c.low)
    assert "stop" not in plan_words.stop_text(rail)


def test_settings_of_the_mains_are_columns(sample):
    (step,) = (s for s in sample.steps if s.key == "rectifier-in")
    (table,) = plan_words.tables(step)
    assert table.settings == (pytest.approx(36), pytest.approx(72), pytest.approx(120))
    assert table.heads == ("at 36 V", "at 72 V", "at 120 V")
    line = next(x for x in table.lines if x.point == "RES")
    assert len(line.checks) == 3
    assert plan_words.range_text(line.checks[2]) == "351..386"


# -- Markdown ------------------------------------------------------------------------------


def test_markdown_lets_nothing_through(nasty):
    text = plan_markdown.render(nasty)
    assert not re.search(r"(?<!\\)[<>]", text)
    assert "\x1b" not in text
    assert "\\<script\\>" in text
    assert "\\!\\[x\\]" in text


def test_markdown_tables_are_even(sample, nasty):
    for plan in (sample, nasty):
        blocks = re.findall(r"(?:^\|.*\n)+", plan_markdown.render(plan), re.MULTILINE)
        assert blocks
        for block in blocks:
            widths = {len(re.findall(r"(?<!\\)\|", line)) for line in block.splitlines()}
            assert len(widths) == 1


def test_markdown_has_the_cautions_and_the_steps(sample):
    text = plan_markdown.render(sample)
    every = [*sample.cautions, *(c for step in sample.steps for c in step.cautions)]
    assert text.count("- **DANGER**") == sum(c.level == "danger" for c in every)
    assert text.count("## Step") == len(sample.steps)


# -- JSON ----------------------------------------------------------------------------------


def test_json_shape(sample):
    found = json.loads(plan_json.render(sample))
    assert found["schema"] == "coldcheck.plan/1"
    assert found["withheld"] is None
    assert found["lamp"]["watts"] == 60
    assert [s["number"] for s in found["steps"]] == list(range(1, len(sample.steps) + 1))
    checks = [c for s in found["steps"] for c in s["checks"]]
    assert {c["unit"] for c in checks} == {"ohm", "V DC", "V AC"}
    assert {c["instrument"] for c in checks} == {"ohmmeter", "voltmeter, DC", "voltmeter, AC"}
    plug = next(c for c in checks if (c["point"], c["other"]) == ("line", "chassis"))
    assert plug["expected"] == "infinite"
    assert plug["low"] == 1e6
    assert plug["shows"][0]["fault"] == "T1.pri.1 joined to chassis"
    assert found["charged_after_switch_off"][0]["seconds_to_60_v"] == pytest.approx(27, abs=1)
    assert {c["word"] for c in found["cautions"]} == {"danger", "warning", "caution", "notice"}


def test_json_says_what_forbids_power(withheld):
    found = json.loads(plan_json.render(withheld))
    assert found["withheld"]
    assert found["blocking"][0]["rule"] == "mains.no-earth"
    assert not any(s["power"] for s in found["steps"])


# -- HTML ----------------------------------------------------------------------------------


def test_html_escapes_everything(nasty):
    page = Page(plan_html.render(nasty))
    assert "script" not in page.tags
    assert any("<script>alert(1)</script>" in t for t in page.texts)


def test_html_asks_for_nothing_from_outside(sample):
    text = plan_html.render(sample)
    page = Page(text)
    assert not {"script", "link", "img", "iframe", "object"} & set(page.tags)
    assert {name for name, _ in page.attributes} <= {
        "lang", "charset", "class", "name", "content", "http-equiv",
        "tabindex", "role", "aria-label"}  # fmt: skip
    assert not any(word in text for word in ("url(", "@import", "http:", "https:"))


def test_html_has_a_box_for_every_order_and_a_column_for_every_reading(sample):
    text = plan_html.render(sample)
    assert text.count('<div class="do">') == sum(len(s.do) for s in sample.steps)
    readings = sum(len(s.checks) for s in sample.steps) + len(sample.charges)
    assert text.count('<td class="write"></td>') == readings


def test_html_rows_are_as_wide_as_their_headings(sample):
    for table in re.findall(r"<table>.*?</table>", plan_html.render(sample), re.DOTALL):
        heads = table.count("<th>")
        for row in re.findall(r"<tr>(?:(?!</tr>).)*</tr>", table, re.DOTALL):
            assert "<th>" in row or row.count("<td") == heads
