"""The chart in all its forms: figures where they belong, and nothing from a drawing let loose."""

from __future__ import annotations

import csv
import json
import re
from dataclasses import replace
from io import StringIO
from math import inf
from pathlib import Path

import pytest
from rich.console import Console
from tests.bench.drawings import BIAS, LIVE
from tests.report.page_reader import Page

from coldcheck.bench.chart.chart import Bench, chart_of
from coldcheck.bench.chart.explain import explain
from coldcheck.bench.chart.ohmmeter import Ohms
from coldcheck.bench.chart.rows import Note
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing, read_drawing
from coldcheck.report.chart import csv as chart_csv
from coldcheck.report.chart import explain_text
from coldcheck.report.chart import html as chart_html
from coldcheck.report.chart import json as chart_json
from coldcheck.report.chart import markdown as chart_markdown
from coldcheck.report.chart import text as chart_text
from coldcheck.report.chart import words as chart_words

SAMPLES = Path(__file__).parents[3] / "samples"

# A title made of everything that some reader of a report would take as its own.
NASTY = "=1+1 <script>alert(1)</script> | ![x](y) &amp; \x1b[31mred\x07 \u202egnp"
DRAWING = f"""\
drawing "{NASTY}"
B1 --+[E1 250 V]-- gnd
B1 --[R1 100k]-- V1A.plate
tube V1 12AX7
V1A.cathode --[R2 1k5]-- gnd
V1A.grid --[R3 1M]-- gnd
V1B.grid -- V1B.cathode -- gnd
"""


def circuit_of(text):
    return build_circuit(parse_drawing(text, "=cmd<b>.tube"))


@pytest.fixture(scope="module")
def sample():
    return chart_of(build_circuit(read_drawing(SAMPLES / "harbour-light.tube")))


@pytest.fixture(scope="module")
def nasty():
    return chart_of(circuit_of(DRAWING))


def text_of(draw, width=80):
    out = StringIO()
    draw(Console(file=out, width=width, color_system=None, force_terminal=False))
    return out.getvalue()


# -- text ---------------------------------------------------------------------------------


def test_eighty_columns(sample):
    text = text_of(lambda c: chart_text.render(sample, c))
    assert max(map(len, text.splitlines())) <= 80
    assert not any(line.endswith(" ") for line in text.splitlines())


@pytest.mark.parametrize(
    "name", ["breakwater", "galley", "old-pier", "low-tide", "night-watch", "ballast"]
)
def test_eighty_columns_on_other_samples(name):
    chart = chart_of(build_circuit(read_drawing(SAMPLES / f"{name}.tube")))
    lines = text_of(lambda c: chart_text.render(chart, c)).splitlines()
    assert max(map(len, lines)) <= 80
    assert not any("…" in line for line in lines)


def test_a_row_of_the_table(sample):
    text = text_of(lambda c: chart_text.render(sample, c))
    (row,) = (line for line in text.splitlines() if line.startswith(" 6   A.plate"))
    assert row.split()[2:5] == ["272k", "245k..299k", "160.8"]


def test_the_caution_ends_it(sample):
    text = " ".join(text_of(lambda c: chart_text.render(sample, c)).split())
    assert text.endswith(chart_words.CAUTION)
    assert chart_words.OHMS_ARE in text


def test_no_byte_of_a_drawing_moves_the_cursor(nasty):
    text = text_of(lambda c: chart_text.render(nasty, c))
    assert "\\x1b[31mred\\x07" in text
    assert all(ch.isprintable() or ch == "\n" for ch in text)


def test_an_explanation_is_as_clean():
    bench = Bench(circuit_of(DRAWING))
    text = text_of(lambda c: explain_text.render(explain(bench, "V1A.plate"), c))
    assert all(ch.isprintable() or ch == "\n" for ch in text)
    assert " ".join(text.split()).endswith(chart_words.CAUTION)


def test_long_names_do_not_push_the_figures_away():
    name = "A" * 60
    chart = chart_of(circuit_of(f"{name} --+[E1 90 V]-- gnd\n{name} --[R1 1k]-- gnd\n"))
    lines = text_of(lambda c: chart_text.render(chart, c)).splitlines()
    assert max(map(len, lines)) <= 80
    assert any(re.search(r"A+\s+1k\s+900\.\.1\.1k\s+90\.0", line) for line in lines)


def test_a_live_common_is_said_first():
    chart = chart_of(build_circuit(read_drawing(SAMPLES / "galley.tube")))
    text = " ".join(text_of(lambda c: chart_text.render(chart, c)).split())
    assert text.index(chart_words.LIVE) < text.index("V1: 12BE6")
    assert chart_words.LIVE.replace("-", "\\-") in chart_markdown.render(chart)
    assert chart_words.LIVE in chart_html.render(chart)
    assert json.loads(chart_json.render(chart))["live_common"] is True


def test_an_unsolved_state_has_resistances_all_the_same():
    chart = chart_of(circuit_of("B1 --+[E1 9 V]-- gnd\nB1 --+[E2 5 V]-- gnd\nB1 --[R1 1k]-- gnd\n"))
    text = text_of(lambda c: chart_text.render(chart, c))
    assert "No voltages: state warm not solved" in text
    assert "1k" in text
    assert "see note" in text


# -- Markdown -----------------------------------------------------------------------------


def test_markdown_lets_nothing_through(nasty):
    text = chart_markdown.render(nasty)
    assert not re.search(r"(?<!\\)[<>]", text)
    assert "\x1b" not in text
    assert "\\<script\\>" in text
    assert "\\!\\[x\\]" in text
    for line in text.splitlines():
        if line.startswith("|"):
            assert len(re.findall(r"(?<!\\)\|", line)) in (11, 10)


# -- CSV ----------------------------------------------------------------------------------


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_no_cell_is_a_formula(start):
    assert chart_csv.guarded(f"{start}HYPERLINK(1)").startswith("'")


def test_no_text_of_a_chart_is_a_formula(nasty):
    """Negative figures do begin with a minus; only texts are guarded."""
    chart = replace(nasty, state="=state")
    rows = list(csv.reader(StringIO(chart_csv.render(chart))))
    width = len(chart_csv.COLUMNS)
    texts = (0, 1, 2, 3, 4, 6, 21)
    assert all(len(row) == width for row in rows)
    for row in rows[1:]:
        assert not any(row[k].startswith(("=", "+", "-", "@")) for k in texts)


def test_negative_figures_stay_figures():
    chart = chart_of(circuit_of("gnd --+[E1 60 V]-- NEG\nNEG --[R1 1k]-- gnd\n"))
    (row,) = csv.DictReader(StringIO(chart_csv.render(chart)))
    assert float(row["dc_v"]) == pytest.approx(-60, rel=1e-4)
    assert float(row["ohms"]) == 1000
    assert row["measured_dc_v"] == ""


def test_csv_has_a_line_for_every_row(sample):
    rows = list(csv.DictReader(StringIO(chart_csv.render(sample))))
    assert [r["point"] for r in rows] == [r.pin.point for r in sample.rows()]
    (mains,) = (r for r in rows if r["point"] == "FUSED")
    assert mains["ohms"] == "infinite"


# -- JSON ---------------------------------------------------------------------------------


def test_json_holds_every_row(sample):
    found = json.loads(chart_json.render(sample))
    rows = [row for block in found["blocks"] for row in block["rows"]]
    assert found["schema"] == "coldcheck.chart/1"
    assert len(rows) == len(sample.rows())
    (plate,) = (r for r in rows if r["point"] == "V1:6")
    assert plate["ohms"]["nominal"] == pytest.approx(272e3)
    assert plate["through"] == ["R3", "R8", "R9"]


def test_json_of_a_point():
    found = json.loads(chart_json.render_point(explain(Bench(circuit_of(DRAWING)), "V1A.plate")))
    assert found["volts"]["dc"]["value"] == pytest.approx(160, abs=10)
    assert found["clip_allowed"] is True
    assert [m["response"] for m in found["meters"]].count("true-rms") == 2
    assert found["scopes"][0]["dc_coupled"]["volts_per_division"] == 50


def test_json_of_a_point_names_the_sources_of_its_instruments_once():
    found = json.loads(chart_json.render_point(explain(Bench(circuit_of(DRAWING)), "V1A.plate")))
    cited = [c["source"] for m in found["meters"] for c in m["cites"]]
    assert set(cited) == set(found["sources"])
    assert cited.count("practice") > 1
    assert {s["seen"] for s in found["sources"].values()} == {
        "common practice",
        "from memory",
        "read",
    }


# -- HTML ---------------------------------------------------------------------------------


def test_html_escapes_everything(nasty):
    page = Page(chart_html.render(nasty))
    assert "script" not in page.tags
    assert "b" not in page.tags
    assert any("<script>alert(1)</script>" in t for t in page.texts)


def test_html_asks_for_nothing_from_outside(sample):
    text = chart_html.render(sample)
    page = Page(text)
    assert not {"script", "link", "img", "iframe", "object"} & set(page.tags)
    assert {name for name, _ in page.attributes} <= {
        "lang", "charset", "class", "colspan", "name", "content", "http-equiv",
        "tabindex", "role", "aria-label"}  # fmt: skip
    assert "url(" not in text
    assert "@import" not in text
    assert "http:" not in text
    assert "https:" not in text


def test_html_has_room_for_three_readings_a_row(sample):
    text = chart_html.render(sample)
    listed = sum(len(chart_html._listed(b)) for b in sample.blocks)
    assert text.count('<td class="write"></td>') == 3 * listed
    assert listed > 30


def test_html_rows_all_have_the_same_width(sample):
    for line in chart_html.render(sample).splitlines():
        if line.startswith("<tr><td"):
            spans = re.findall(r"<td[^>]*?(?: colspan=\"(\d+)\")?>", line)
            assert sum(int(s or 1) for s in spans) == chart_html.COLUMNS


def test_rows_shrink_for_a_long_chart_but_stay_writable(sample):
    notes = {str(n): n for n in range(3)}
    tall = chart_html.row_height(sample, notes)
    many = chart_html.row_height(sample, {"x" * 200 + str(n): n for n in range(60)})
    assert chart_html.SMALLEST_MM <= many < tall <= chart_html.TALLEST_MM


# -- figures and words --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ohms", "text"),
    [
        (0.0, "0"),
        (0.078, "0.08"),
        (8.0, "8"),
        (110.0, "110"),
        (999.9, "1k"),
        (1500.0, "1.5k"),
        (182250.0, "182k"),
        (2.2e6, "2.2M"),
        (inf, "infinite"),
    ],
)
def test_ohms(ohms, text):
    assert chart_words.ohms_figure(ohms) == text


def test_an_unknown_resistance_points_to_its_note():
    assert chart_words.ohms_texts(Ohms(900, None, 11e3)) == ("see note", "900..11k")


@pytest.mark.parametrize(
    ("volts", "text"),
    [(0, "0"), (4e-5, "0"), (5e-4, "<0.001"), (0.0253, "0.025"), (4.164, "4.16"), (266.9, "267")],
)
def test_alternating(volts, text):
    assert chart_words.ac_text(volts) == text


def test_times_are_rounded_up():
    waits = [chart_words.seconds_text(s) for s in (0.4, 4.2, 40, 91, 121)]
    assert waits == ["1 s", "5 s", "45 s", "120 s", "3 min"]


@pytest.mark.parametrize(
    ("note", "word"),
    [
        (Note("climbs", ("C1",)), "no way to gnd but through C1"),
        (Note("minus-lead", ("C6",)), "+ lead of the ohmmeter to gnd"),
        (Note("diode", ("D1", "D2"), word="minus"), "- lead here: D1 and D2 conduct"),
        (Note("pot", ("P1",), 250e3, 0.0, 500e3), "250k less to 250k more"),
        (Note("pot", ("P1",), None, 0.0, 500e3), "from 0 to 500k"),
        (Note("loading", number=86.47), "shows 86.5 V"),
        (Note("input-rating", number=450.0), "450.0 V"),
        (Note("no-voltage", word="floating"), "floating"),
        (Note("swings", number=15.25), "swings there at 15.2 Hz: the volts are those of the stage"),
        (Note("unknown-part"), "no value"),
        (Note("own-channel", ("Q1",)), "Q1 conducts with no supply"),
    ],
)
def test_notes(note, word):
    assert word in chart_words.note_text(note)


# -- one point in words -------------------------------------------------------------------


@pytest.fixture(scope="module")
def galley_text():
    bench = Bench(build_circuit(read_drawing(SAMPLES / "galley.tube")))
    return " ".join(text_of(lambda c: explain_text.render(explain(bench, "RES"), c)).split())


def test_no_clip_on_a_live_common(galley_text):
    """Nor two probes with their clips on gnd: gnd is the mains."""
    assert "Ground clip: nowhere" in galley_text
    assert "clips" not in galley_text
    assert "Two probes" not in galley_text


def test_meters_without_a_category_stay_off_the_mains(galley_text):
    assert galley_text.count("no category: not here") == 3  # bench meter, needle, tube voltmeter


@pytest.fixture(scope="module")
def harbour():
    return Bench(build_circuit(read_drawing(SAMPLES / "harbour-light.tube")))


def said(bench, *points):
    return " ".join(text_of(lambda c: explain_text.render(explain(bench, *points), c)).split())


def test_a_rail_in_words(harbour):
    text = said(harbour, "V3.f2")
    for words in (
        "V3.f2 is at 284.3 V DC from gnd (252.6 to 315.9 V",
        "with 4.16 V rms of AC on it",
        "DC coupling: probe x10, 50 V per division",
        "No AC coupling: 40",  # volts before the tubes draw, the mains high
        "V peak at the input, rated 400 V",
        "Ground clip: never on V3.f2, which is at 284.3 V DC",
        "after C1 emptied itself through it at once",
        "an average-responding meter shows 3 % less",
    ):
        assert words in text


def test_across_a_choke_the_clip_would_short_a_rail(harbour):
    text = said(harbour, "RES", "B1")
    assert "Ground clip: never on B1, which is at 271.4 V DC" in text
    assert "too little to read, take a differential probe" in text
    high = explain(harbour, "RES", "B1").highest_to_gnd  # switched on, before the tubes draw
    assert high > 1.1 * 360
    assert f"It has to be rated {high:.1f} V to ground on either lead" in text
    assert f"{high:.1f} V to gnd at the worst instant" in text


def test_scope_advice_never_calls_an_overload_fine():
    """2 kV: beyond every probe and meter; no set-up, no range, no figure."""
    text = said(Bench(circuit_of("B1 --+[E1 2000 V]-- gnd\nB1 --[R1 1M]-- gnd\n")), "B1")
    assert "Not with this scope and its probes: 2020 V at the tip" in text  # the usual spread
    assert "a division" not in text
    assert "not: 2020 V peak, rated 1000 V" in text
    assert "none of its ranges holds 2020 V peak" in text
    assert "V range" not in text


@pytest.mark.parametrize("points", [("line",), ("chassis",), ("B1", "A")])
def test_where_no_scope_is_to_be_used_no_set_up_is_printed(points):
    text = said(Bench(circuit_of(LIVE)), *points)
    assert "No scope and no plain probe here" in text
    for words in ("a division", "DC coupling", "AC coupling", "clip: on gnd", "0.00 V to ground"):
        assert words not in text
    assert re.search(r"up to \d{3}\.\d V peak where plug or outlet is the other way round", text)
    assert re.search(r"rated \d+\.\d V or more to earth", text)


def test_a_clip_is_told_by_what_it_does():
    """A bias line: a few milliamperes, and two tubes far beyond their plates."""
    text = said(Bench(circuit_of(BIAS)), "BL")
    assert "never on BL" in text
    assert "it takes the bias from V3 (-34.4 V grid to cathode, then" in text
    assert re.search(r"V4: plate dissipation 1\d\d W .*limit 30 W", text)


RECTIFIED = """\
mains 120 V 60 Hz
transformer T1
    primary pri 120 V 5 ohm
    winding ht 100 V 10 ohm
line -- T1.pri.1
neutral -- T1.pri.2
T1.ht.1 --[D1 1N4007]-> B1
T1.ht.2 -- gnd
B1 --+[C1 40 uF 250 V]-- gnd
B1 --[R1 10k 5 W]-- gnd
"""


def test_no_finger_is_sent_to_a_live_point():
    text = said(Bench(circuit_of(RECTIFIED)), "B1")
    assert "AC coupling: probe x10" in text
    assert "is still at the input and counts against its 400 V" in text
    assert "clip the probe on with the power off" in text
    assert "touch the point" not in text


def test_an_earth_that_is_not_drawn_is_measured_first():
    text = said(Bench(circuit_of("B1 --+[E1 9 V]-- gnd\nB1 --[R1 1k]-- gnd\n")), "B1")
    assert "First measure from gnd to the scope's earth" in text


def test_json_says_what_a_clip_does():
    found = json.loads(chart_json.render_point(explain(Bench(circuit_of(BIAS)), "BL")))
    _, at = found["ground_clip"]
    assert at["kind"] == "short"
    assert [u["at"] for u in at["takes_bias_from"]] == ["V3", "V4"]
    assert {x["rule"] for x in at["exceeds"]} >= {"tube.plate-dissipation"}
    assert found["against_earth"] is None


def test_a_slip_is_told_by_what_it_does():
    text = said(Bench(circuit_of(BIAS)), "V3.grid")
    assert "Where the tip slips To V3:4 (screen):" in text
    assert "To gnd: what the ground clip on V3.grid does, above." in text
    assert "of plate current). Then V3:" in text


def test_a_slip_on_the_mains_names_no_amperes():
    text = said(Bench(circuit_of(LIVE)), "line")
    assert "To gnd: a short of the mains, with an arc at the tip." in text
    assert "through 10 mohm" not in said(Bench(circuit_of(LIVE)), "A")


def test_the_bridge_has_no_name_of_the_program():
    text = said(Bench(circuit_of(LIVE)), "A")
    assert "!" not in text
    assert not re.search(r"\w~\w", text)


def test_many_times_a_rating_are_not_counted():
    text = said(Bench(circuit_of(LIVE)), "L1")
    assert "F1 carries more than 100 times its rating and opens" in text


def test_a_slip_without_harm_is_said_too():
    text = said(Bench(circuit_of(DRAWING)), "V1A.plate")
    assert "no limit that is judged is exceeded" in text


def test_json_says_what_a_slip_does():
    found = json.loads(chart_json.render_point(explain(Bench(circuit_of(BIAS)), "V3.grid")))
    first, second = found["slips"]["beyond_limits"]
    assert (first["to"], second["to"]) == ("V3:4 (screen)", "gnd")
    assert first["takes_bias_from"][0]["grid_v_clipped"] > 0
    assert first["takes_bias_from"][0]["plate_ma_clipped"] > 100
    assert {x["rule"] for x in first["exceeds"]} >= {"grid.positive", "tube.plate-dissipation"}
    assert found["slips"]["not_worked_out"] == []


def test_json_of_a_point_on_the_mains():
    found = json.loads(chart_json.render_point(explain(Bench(circuit_of(LIVE)), "gnd")))
    assert found["scopes"] == found["two_channels"] == []
    unfit = [m for m in found["meters"] if m["category"] is None]
    assert len(unfit) == 3
    assert all(m["beyond"] == ["category"] and m["range"] is None for m in unfit)
    assert found["against_earth"]["neutral_earthed"] == pytest.approx(0, abs=0.1)
    assert found["against_earth"]["line_earthed"] == pytest.approx(186.7, abs=0.1)
