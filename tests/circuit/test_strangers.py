"""A type that is not on file: sections and electrodes as wired, the rest of the drawing solved."""

from __future__ import annotations

import pytest

from coldcheck.circuit import build_circuit
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing import parse_drawing
from coldcheck.verdict.engine import review_drawing

KNOWN = """B --+[E1 250 V]-- gnd
tube V9 12AX7
B --[R91 100k]-- V9A.plate
V9A.cathode --[R92 1k5]-- gnd
V9A.grid --[R93 1M]-- gnd
V9B.plate -- V9B.grid -- V9B.cathode -- gnd
"""
STAGE = """tube V1 {}
B --[R1 100k]-- V1.plate
V1.k --[R2 1k5]-- gnd
V1.g1 --[R3 1M]-- gnd
"""


def review_text(text):
    return review_drawing(parse_drawing(text))


def built(text):
    circuit = build_circuit(parse_drawing(text))
    assert not circuit.problems
    return circuit


@pytest.mark.parametrize(
    ("text", "kinds", "electrodes"),
    [
        ("V1.a -- V1.g -- V1.k", ["triode"], {"plate", "grid", "cathode"}),
        ("V1.plate -- V1.g1 -- V1.g2 -- V1.k", ["pentode"], {"plate", "grid", "screen", "cathode"}),
        ("V1.plate1 -- V1.plate2 -- V1.f1 -- V1.f2", ["rectifier"],
         {"plate1", "plate2", "f1", "f2"}),
        ("V1A.plate -- V1A.grid -- V1B.plate -- V1B.g -- V1B.g2", ["triode", "pentode"],
         {"plate", "grid", "cathode"}),
        ("V1:1 -- V1:3", ["unknown"], {"plate", "pin1", "pin3", "cathode"}),
        ("V1.cap -- V1.k", ["unknown"], {"plate", "pincap", "cathode"}),
        ("V1A.plate -- V1A.grid -- V1:7", ["triode", "unknown"], {"plate", "grid", "cathode"}),
        ("A --[R1 1k]-- gnd", ["unknown"], {"plate", "cathode"}),
    ],
)  # fmt: skip
def test_sections_are_those_that_are_wired(text, kinds, electrodes) -> None:
    (tube,) = built(f"tube V1 6XQ9\n{text}\n").tubes.values()
    assert tube.type.stranger
    assert [s.kind for s in tube.sections] == [SectionKind(k) for k in kinds]
    assert set(tube.sections[0].electrodes) == electrodes


def test_a_lead_no_tube_has_is_still_refused() -> None:
    (problem,) = build_circuit(parse_drawing("tube V1 6XQ9\nV1.plait -- gnd\n")).problems
    assert problem.rule == "drawing.unknown-lead"


def test_what_it_does_not_touch_is_solved_and_the_verdict_undecided() -> None:
    review = review_text(KNOWN + STAGE.format("6XQ9"))
    assert review.verdict() == "undecided"
    warm = review.solutions["warm"]
    assert warm.readings["V9A"].plate_ma == pytest.approx(0.88, abs=0.02)
    assert "V1.plate" not in warm.waves
    (said,) = [n for n in review.not_judged if n.kind.value == "unknown-type"]
    assert said.at == ("V1",)
    (told,) = [f for f in review.findings if f.rule == "drawing.unknown-type"]
    assert (told.span.line, told.level) == (7, "advice")
    assert told.message == "6XQ9 is not on file"


def test_it_is_never_let_through_even_where_nothing_is_wired_to_it() -> None:
    clean = review_text(KNOWN)
    assert clean.verdict() == "let through"
    assert review_text(f"{KNOWN}tube V1 6XQ9\n").verdict() == "undecided"


def test_what_needs_no_type_is_judged_of_it() -> None:
    """Its grid has no return: that is in the drawing."""
    review = review_text(KNOWN + STAGE.format("6XQ9").replace("--[R3 1M]--", "--[C3 22n]--"))
    assert "grid.no-return" in {f.rule for f in review.findings if "V1" in f.at}
    assert review.verdict() == "held"


def test_the_hint_names_a_true_relative() -> None:
    review = review_text(KNOWN + STAGE.format("25AV6"))
    (told,) = [f for f in review.findings if f.rule == "drawing.unknown-type"]
    assert "6AV6, 12AV6, by its name the same electrodes at another heater" in told.message


def test_a_series_string_with_one_has_no_numbers() -> None:
    """Its heater's resistance is not known, so that of the string is not."""
    text = "A --+[E2 18.9 V]-- gnd\ntube V1 6XQ9\ntube V2 12AX7\n"
    review = review_text(f"{KNOWN}{text}A --[V1 heater]-- M --[V2 heater]-- gnd\n")
    assert "M" not in review.solutions["warm"].waves
    assert review.verdict() == "undecided"


def test_across_a_winding_it_has_its_place() -> None:
    text = "mains 120 V 60 Hz\ntransformer T1\n    winding warm 6.3 V 2 A\ntube V1 6XQ9 heater {}\n"
    circuit = built(text.format("T1.warm"))
    assert circuit.points["V1.h1"] == circuit.points["T1.warm.1"]
    (problem,) = build_circuit(parse_drawing(text.format("T1.wrm"))).problems
    assert problem.hint == "did you mean T1.warm?"


def test_what_its_heater_takes_is_not_counted_and_that_is_said() -> None:
    text = (
        "mains 120 V 60 Hz\ntransformer T1\n    winding warm 6.3 V 1 A\nT1.warm.2 -- gnd\n"
        "tube V1 6XQ9 heater T1.warm\ntube V2 12AX7 heater T1.warm\n"
    )
    review = review_text(KNOWN + text)
    (said,) = [n for n in review.not_judged if n.rule == "heater.winding-overload"]
    assert said.at == ("T1.warm", "V1")
    assert "not known and not counted" in said.reason


def test_by_pins_alone_whatever_it_touches_has_no_number() -> None:
    pins = "tube V1 6XQ9\nB --[R1 100k]-- V1:1\nV1:2 --[R2 1M]-- gnd\nV1:3 --[R3 1k5]-- gnd\n"
    review = review_text(KNOWN + pins)
    warm = review.solutions["warm"]
    assert not {"V1.pin1", "V1.pin2", "V1.pin3"} & set(warm.waves)
    assert "V9A" in warm.readings


BEAM = """tube V1 3XY1
V1.y1 -- V9A.plate
V1.y2 -- B
V1.x1 -- V1.x2 -- V1.a2 -- gnd
V1.a1 -- FOCUS --[R6 1M]-- gnd
N --[E2 1000 V]+-- gnd
N --[R4 1M]-- FOCUS
V1.grid -- N
V1.k --[R5 100k]-- N
"""


def test_deflection_plates_make_a_cathode_ray_tube_and_draw_nothing() -> None:
    """What hangs on a deflection plate stands where it would without."""
    (section,) = built(KNOWN + BEAM).tubes["V1"].sections
    assert section.kind is SectionKind.BEAM
    assert set(section.electrodes) == {
        "grid", "cathode", "plate1", "plate2", "x1", "x2", "y1", "y2",
    }  # fmt: skip
    with_it, alone = review_text(KNOWN + BEAM), review_text(KNOWN)
    plate = [r.solutions["warm"].waves["V9A.plate"].dc for r in (with_it, alone)]
    assert plate[0] == pytest.approx(plate[1], abs=0.01)
    assert with_it.verdict() == "undecided"
    assert not with_it.broken
