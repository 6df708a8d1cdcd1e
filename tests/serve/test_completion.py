"""What is offered next, in lines that are only begun."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.serve.texts import STAGE, known_of, read_of

from coldcheck.circuit.tubes import RATING_NAMES, accepted_names
from coldcheck.drawing.lines import FORMS
from coldcheck.drawing.reader import parse_drawing
from coldcheck.serve.completion import Offer, completion, next_free

HEAD = (
    STAGE
    + """\
transformer T1
    primary pri 120 V
    winding ht 250 V ct 250 V 70 mA
switch S1 dpst
type MINE like 6V6GT
"""
)


def offers(line: str, text: str = HEAD) -> list[Offer]:
    """What is offered at the end of a line typed below a text."""
    whole = text + line
    read = read_of(whole)
    lines = read.page.lines
    return list(completion(read, known_of(STAGE).review, lines, len(lines), len(line) + 1))


def texts(line: str) -> list[str]:
    return [offer.text for offer in offers(line)]


def test_a_line_begins_with_a_statement_or_a_name() -> None:
    found = texts("")
    assert set(FORMS) <= set(found)
    assert {"B1", "OUT", "gnd", "V1A"} <= set(found)


@pytest.mark.parametrize(
    ("line", "wanted"),
    [
        ("V1A.", ["plate", "grid", "cathode"]),
        ("B1 -- V1A.pl", ["plate", "grid", "cathode"]),
        ("V1.", ["h1", "h2", "tap"]),
        ("T1.", ["pri.1", "pri.2", "ht.1", "ht.ct", "ht.2"]),
        ("S1.", ["a.common", "a.1", "b.common", "b.1"]),
        ("V1:", ["1", "2", "3", "4", "5", "6", "7", "8", "9"]),
        ("NONE.", []),
        ("switch S2 ", ["spst", "spdt", "dpst", "dpdt", "sp3t", "dp3t", "4pdt"]),
        ("jack J1 ", ["plugged", "unplugged"]),
        ("tube V9 12AX7 heater ", ["T1.ht"]),
        ("accept capacitor.over-voltage at ", ["C2"]),
        ("accept capacitor.over-voltage at C2 ", ["because"]),
        ("type X ", ["like"]),
        ("B1 -- OUT # a comment ", []),
        ('drawing "a ti', []),
    ],
)
def test_what_may_follow_is_offered_and_nothing_else(line: str, wanted: list[str]) -> None:
    assert texts(line) == wanted


def test_an_offer_replaces_what_was_typed_of_it() -> None:
    (plate, *_) = offers("B1 -- V1A.pl")
    assert (plate.start, plate.kind) == (len("B1 -- V1A.") + 1, "lead")
    (first, *_) = offers("B1 -- O")
    assert first.start == len("B1 -- ") + 1


def test_types_are_the_drawings_and_the_librarys() -> None:
    found = texts("tube V9 6V")
    assert found[0] == "MINE"
    assert set(found) >= set(accepted_names())


def test_a_wire_goes_to_points_landmarks_and_leads() -> None:
    found = texts("B1 --[R9 10k]-- ")
    assert {"B1", "OUT", "gnd", "chassis", "V1A", "T1", "S1"} <= set(found)
    assert "tube" not in found


def test_rules_that_found_something_come_first() -> None:
    found = offers("accept ")
    assert found[0].text == "capacitor.over-voltage"
    assert len({o.text for o in found}) == len({o.text for o in found if o.kind == "rule"})


def test_ratings_and_states_and_measures() -> None:
    assert texts("    rating ") == list(RATING_NAMES)
    assert "pulled V1" in texts("expect B1 below 3 V in ")
    assert {"gain", "ripple", "B1"} <= set(texts("expect "))
    assert "R1" in texts("expect dissipation ")


def test_in_a_bracket_the_next_free_name_then_words_and_units() -> None:
    assert {"R5", "C3", "E2", "V1"} <= set(texts("B1 --["))
    units = [o.text for o in offers("B1 --[C9 20 u") if o.kind == "unit"]
    assert units[:2] == ["F", "V"]
    assert "electrolytic" in texts("B1 --[C9 20u ")


def test_the_next_free_name_is_above_the_last() -> None:
    assert next_free("R", {"R1", "R10", "RT4"}) == "R11"


def test_what_is_offered_for_a_lead_can_be_read() -> None:
    for lead in ("T1.", "S1.", "V1A."):
        for offer in offers(lead):
            assert not parse_drawing(f"A -- {lead}{offer.text}").problems


def test_a_drawing_that_cannot_be_reviewed_is_served_all_the_same() -> None:
    read = replace(read_of(HEAD + "B1 --[[\nV1A."), settings=None)
    found = completion(read, None, read.page.lines, len(read.page.lines), 5)
    assert [o.text for o in found] == ["plate", "grid", "cathode"]
