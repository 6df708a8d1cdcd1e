"""What a letter code means behind the value: a choke's resistance, never a second value."""

from __future__ import annotations

import pytest

from coldcheck.drawing.model import Chain, RelayLine
from coldcheck.drawing.reader import parse_drawing
from coldcheck.drawing.units import magnitude


def part(text: str):
    drawing = parse_drawing(f"a --[{text}]-- b\n", "x.tube")
    chains = [s for s in drawing.statements if isinstance(s, Chain)]
    return (chains[0].links[0] if chains else None), drawing.problems


@pytest.mark.parametrize(("written", "ohms"), [("1k", 1000), ("1k2", 1200), ("470R", 470)])
def test_a_chokes_resistance_may_have_its_letter_alone(written: str, ohms: float) -> None:
    found, problems = part(f"L1 12 H {written} 70 mA")
    assert not problems
    assert magnitude(found.resistance, "ohm") == pytest.approx(ohms)
    assert magnitude(found.value, "henry") == 12


def test_a_lamps_resistance_may_have_its_letter_alone() -> None:
    found, problems = part("DS1 lamp 120 V 1k2")
    assert not problems
    assert magnitude(found.resistance, "ohm") == pytest.approx(1200)
    assert magnitude(found.voltage, "volt") == 120


@pytest.mark.parametrize("text", ["L1 12 H 20 70 mA", "R1 10k 22k", "C1 1u 2k2"])
def test_what_has_no_letter_or_no_resistance_is_a_second_value(text: str) -> None:
    _, problems = part(text)
    assert [p.rule for p in problems if "second" in p.found or p.rule == "drawing.wrong-unit"]


def test_a_word_behind_a_letter_code_is_a_note() -> None:
    found, problems = part("R10 1k2 movement")
    assert not problems
    assert "movement" in found.words


@pytest.mark.parametrize(
    "text",
    [
        "relay K1 spdt 24 V 10k",
        "transformer T1\n winding a impedance 50k 10k",
        "transformer T2\n winding b 250 V 10k",
        "output T3 5k : 8 ohm 10k",
    ],
)
def test_so_it_is_in_the_lines_of_relays_and_windings(text: str) -> None:
    drawing = parse_drawing(text + "\n", "x.tube")
    assert not drawing.problems
    line = drawing.statements[-1]
    ohms = line.ohms if isinstance(line, RelayLine) else line.resistance
    assert magnitude(ohms, "ohm") == pytest.approx(1e4)


def test_nothing_else_there_goes_without_its_unit() -> None:
    for text in ("relay K1 spdt 24 V 250", "mains 120 V 50", "signal IN 1 V 10k"):
        assert [p.rule for p in parse_drawing(text + "\n").problems] == ["drawing.bad-value"]
