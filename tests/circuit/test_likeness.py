"""``type X like Y``: other pins, base and heater, and what is kept said."""

from __future__ import annotations

import pytest

from coldcheck.circuit import build_circuit
from coldcheck.circuit.tubes import tube_type
from coldcheck.drawing import parse_drawing
from coldcheck.verdict.engine import review_drawing

LOCTAL = 'base "loctal 6AA" pins "1 h1 2 plate, 3 g2 4 nc 5 nc 6 grid 7 k 8 h2"'


def made(line, more=""):
    circuit = build_circuit(parse_drawing(f"{line}\ntube V1 MINE\n{more}"))
    assert not circuit.problems
    return circuit


def test_what_is_said_is_changed_and_the_rest_kept() -> None:
    line = f"type MINE like 6V6GT heater 12.6 V 225 mA {LOCTAL}\n    rating plate-voltage 300 V"
    kind, base = made(line).tubes["V1"].type, tube_type("6V6GT")
    assert [(w.mode, w.volts.value, w.amps.value) for w in kind.heaters] == [
        ("single", 12.6, 0.225)
    ]
    assert kind.heaters[0].volts.confidence == "drawing"
    assert kind.base == "loctal 6AA"
    assert kind.pins["3"] == ("", "screen")
    assert kind.rating("plate-voltage").value == 300
    assert kind.rating("screen-voltage") == base.rating("screen-voltage")
    assert kind.sections == base.sections


def test_its_own_pins_are_wired() -> None:
    circuit = made(f"type MINE like 6V6GT {LOCTAL}", "V1:2 --[R1 1k]-- B\n")
    assert circuit.points["V1.plate"] == circuit.branches["R1"].a


def test_the_pins_of_a_type_whose_base_was_not_known_can_be_given() -> None:
    """6AH4GT: its base is not on file for certain; the builder has the sheet before him."""
    assert not tube_type("6AH4GT").pins_known
    line = 'type MINE like 6AH4GT pins "1 nc 2 h1 3 nc 4 plate 5 grid 6 nc 7 h2 8 cathode"'
    assert made(line).tubes["V1"].type.pins_known


@pytest.mark.parametrize(
    ("said", "found", "expected"),
    [
        ('pins "1 h1 2 h2 3 plate 5 grid 8 cathode"', "pins", "a pin for screen"),
        (f"{LOCTAL[:-1]} 9 plate2" + '"', "plate2", "an electrode of a 6V6GT"),
        ('pins "1 h1 2"', '"1 h1 2"', "a pin and what is on it, in pairs: 1 nc 2 h1 3 plate"),
        ('pins "1 h1 1 h2"', "1", "the number of a pin, or cap, once each"),
        ('pins "1 wick"', "wick", "an electrode: plate, A.grid, h1, nc"),
    ],
)
def test_what_does_not_go_with_the_type_is_refused(said, found, expected) -> None:
    circuit = build_circuit(parse_drawing(f"type MINE like 6V6GT {said}\n"))
    (problem,) = circuit.problems
    assert (problem.found, problem.expected) == (found, expected)


def test_a_cold_cathode_gets_no_heater() -> None:
    circuit = build_circuit(parse_drawing("type MINE like 0A2 heater 6.3 V 1 A\n"))
    assert circuit.problems[0].expected == "0A2 has a cold cathode"


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("type MINE like 12AX7", "MINE is like 12AX7; kept: heater, base, pins, ratings and law"),
        (
            "type MINE like 12AX7 heater 6.3 V 0.3 A\n    rating plate-voltage 250 V",
            "MINE is like 12AX7; from the drawing: heater and some ratings; "
            "kept: base, pins, the other ratings and law",
        ),
    ],
)
def test_the_review_says_what_is_kept(line, told) -> None:
    review = review_drawing(parse_drawing(f"{line}\ntube V1 MINE\nB --+[E1 9 V]-- gnd\n"))
    assert told in [n.reason for n in review.not_judged]
