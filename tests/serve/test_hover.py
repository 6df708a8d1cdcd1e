"""What is said of the name under the cursor: figures that the review has, in escaped words."""

from __future__ import annotations

from dataclasses import replace

import pytest
from markdown_it import MarkdownIt
from tests.serve.texts import SAMPLES, STAGE, known_of, word_in

from coldcheck.report.shared.numbers import volts
from coldcheck.serve.held import View
from coldcheck.serve.hover import hover
from coldcheck.serve.reading import Known
from coldcheck.serve.words import words_of

VIEW = View(known_of(STAGE))
SUPPLY = """\
mains 120 V 60 Hz
transformer T1
    primary pri 120 V 5 ohm
    winding ht 200 V 50 mA 100 ohm
    winding warm 6.3 V ct 1 A 0.1 ohm
tube V1 12AX7 heater T1.warm
T1.ht.1 --[D1 1N4007]-> RES --[L1 8 H 250 ohm]-- B1
RES --+[C1 20 uF 350 V]-- gnd
T1.ht.2 -- gnd
B1 --[R1 47k 2 W]-- gnd
pot P1 500k at 30 %
P1.top -- B1
P1.bottom -- gnd
"""


def shown(name: str, text: str = STAGE, nth: int = 0, view: View | None = None) -> str:
    return hover(view or View(known_of(text)), word_in(text, name, nth))


def warm(name: str) -> float:
    review = VIEW.known.review
    wave = review.solutions["warm"].wave(name)
    assert wave is not None
    return wave.dc


def test_a_point_has_its_voltage_its_range_its_states_and_its_reference() -> None:
    text = shown("V1A.cathode")
    assert f"**{volts(warm('V1A.cathode'))} V DC**" in text
    assert "usually between" in text
    assert "Referenced to gnd through R2 (1.5 kohm)." in text
    assert "V1A.cathode \\(pin 8\\)" in text
    assert "| pulled V1 |" in text


def test_a_floating_point_says_that_nothing_holds_it() -> None:
    text = shown("A", "A --[C1 1u 50 V]-- gnd\nA --[R1 1k]-- B\n")
    assert "Referenced to nothing" in text
    assert "No voltage can be given" in text


def test_ground_is_what_is_measured_from() -> None:
    assert "The 0 V all voltages are measured from" in shown("gnd")


def test_a_resistor_has_its_power_and_margin() -> None:
    text = shown("R1")
    power = warm("B1") - warm("V1A.plate")
    watts = power**2 / 100e3
    assert "**R1** resistor 100 kohm 500 mW" in text
    assert f"Power at most {1000 * watts:.3g} mW of 500 mW: {200 * watts:.0f} %" in text


def test_a_capacitor_beyond_its_voltage_says_so_with_the_finding() -> None:
    text = shown("C2")
    assert "of its working voltage, **beyond it**" in text
    assert "`capacitor.over-voltage`" in text


def test_a_part_without_a_rating_or_value_says_that() -> None:
    assert "the drawing gives no rated power" in shown("R3")
    assert "value not known" in shown("R1", "B1 --+[E1 9 V]-- gnd\nB1 --[R1 ?]-- gnd\n")


def test_a_tube_has_pins_ratings_with_their_sources_and_how_it_works() -> None:
    text = shown("V1")
    assert "| 6 | A.plate | V1A.plate |" in text
    assert "| plate dissipation | 1 W | found |" in text
    assert "| grid leak fixed bias | 1 Mohm | memory |" in text
    assert "Its heater is not drawn: it is taken as hot." in text
    assert "V1A, warm: plate" in text


def test_a_type_is_explained_before_anything_was_worked_out() -> None:
    text = hover(None, word_in(STAGE, "12AX7"))
    assert "**12AX7**" in text
    assert "| heater positive peak | 180 V |" in text
    assert hover(None, word_in(STAGE, "V1A.plate")) == ""


def test_a_rule_and_a_statement_are_explained() -> None:
    text = 'accept capacitor.over-voltage at C2 because "x"'
    assert "Capacitor above its working voltage" in shown("capacitor.over-voltage", text)
    assert "`tube V1 12AX7 heater T1.warm`" in shown("tube")


@pytest.mark.parametrize(
    ("name", "wanted"),
    [
        ("L1", "Its 250 ohm take"),
        ("D1", "Reverse voltage at most"),
        ("T1", "| T1.ht | 200 V |"),
        ("ht", "Warm: carries"),
        ("P1", "**P1** pot 500 kohm at 30 %"),
        ("T1.warm", "leads T1.warm.1, T1.warm.ct, T1.warm.2"),
    ],
)
def test_other_parts_have_what_matters_for_them(name: str, wanted: str) -> None:
    assert wanted in shown(name, SUPPLY)


def test_what_is_from_before_says_so() -> None:
    assert "*Line 4 cannot be read" in shown(
        "B1", view=replace(VIEW, caveat="Line 4 cannot be read at the moment: this is from before.")
    )


def test_every_name_of_a_sample_has_a_page_that_is_plain_text_and_tables() -> None:
    text = (SAMPLES / "night-watch.tube").read_text(encoding="utf-8")
    view = View(known_of(text))
    renderer = MarkdownIt("commonmark").enable("table")
    silent = []
    for word in words_of(text.splitlines()):
        page = hover(view, word)
        if not page:
            silent.append(word.text)
        for token in renderer.parse(page):
            assert token.type != "html_block"
            kinds = {t.type for t in token.children or ()}
            assert not kinds & {"html_inline", "link_open", "image"}, (word, page)
    assert not silent


def test_a_hostile_reason_cannot_leave_its_place() -> None:
    review = VIEW.known.review
    evil = '</td><img src=x onerror=1> [x](http://evil.example) `|` \x1b[31m "**'
    bad = replace(review.findings[0], message=evil, remedy=evil, accepted=evil, at=("B1",))
    known = Known(VIEW.known.read, replace(review, findings=(bad,)))
    page = hover(View(known), word_in(STAGE, "B1"))
    tokens = MarkdownIt("commonmark").parse(page)
    found = {t.type for token in tokens for t in token.children or ()}
    assert not found & {"html_inline", "link_open", "image"}
    assert "\x1b" not in page


FOLLOWER = """\
B --+[E1 300 V]-- gnd
transistor Q1 IRF840 heatsink 4 K/W
B -- Q1.drain
B --[R1 1M]-- Q1.gate --[R2 1M]-- gnd
Q1.source --[R3 22k 5 W]-- gnd
bridge BR1 400 V 1 A
BR1.plus -- B
"""


def test_a_transistor_has_its_type_and_what_is_across_it() -> None:
    text = shown("Q1", FOLLOWER)
    assert "IRF840: n\\-channel MOSFET, TO\\-220" in text
    assert "Q1.drain\\-source" in text
    assert "153.0 V" in text  # half of 300 V at the gate, the source 3 V below that
    assert "drain\\-source\\-voltage: 500 V" in shown("IRF840", FOLLOWER)
    assert "bridge 400 V" in shown("BR1", FOLLOWER)
    picked = FOLLOWER.replace("IRF840 heatsink 4 K/W", "2N3819")
    assert "2N3819: n\\-channel JFET, TO\\-92" in shown("Q1", picked)
    assert "cut\\-off\\-high: 8 V" in shown("2N3819", picked)


@pytest.mark.parametrize(
    ("name", "title", "inside"),
    [
        ("SCR1", "thyristor or triac", "SCR1.main: Warm: 100.0 V DC across it"),
        ("OC1", "optocoupler", "OC1.lamp: Warm:"),
        ("VB1", "vibrator", "Warm: 8.48 V AC rms across it"),
        ("P1", "plug; unplugged is a state of its own", "Warm: 0.00 V DC across it"),
    ],
)
def test_parts_in_one_case_have_a_page_with_each(name: str, title: str, inside: str) -> None:
    text = """\
B --+[E1 100 V]-- gnd
B -- P1.a1
P1.b1 --[R1 1k]-- SCR1.a
thyristor SCR1 400 V 4 A
SCR1.k -- gnd
connector P1 1
B --[R2 10k]-- OC1.a
optocoupler OC1 led 20 mA cell 1M 1k
OC1.k -- gnd
vibrator VB1 6 V
VB1.c1 -- gnd
VB1.c2 --[R3 1k]-- gnd
"""
    page = shown(name, text)
    assert f"**{name}** {title}" in page
    assert inside in page
