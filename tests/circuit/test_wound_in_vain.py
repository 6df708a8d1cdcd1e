"""One winding that cannot be read is one problem, not one more for each of its leads."""

from __future__ import annotations

from coldcheck.circuit.build import build_circuit
from coldcheck.drawing import parse_drawing

TEXT = """transformer T2
    winding a  2 mH ct 2 mH
    winding e  0.5 mH
T2.a.1 -- A
T2.a.ct -- T2.e.1 -- B
T2.f.1 -- gnd
"""


def test_its_leads_are_left_alone_and_those_of_no_winding_are_not() -> None:
    drawing = parse_drawing(TEXT)
    (halves,) = drawing.problems
    assert (halves.span.line, halves.found) == (2, '"2 mH"')
    assert "8 mH ct" in halves.hint
    assert [p.found for p in build_circuit(drawing).problems if p not in drawing.problems] == [
        "T2.f.1"
    ]


def test_the_whole_with_its_middle_is_read() -> None:
    text = TEXT.replace("2 mH ct 2 mH", "8 mH ct").replace("T2.f.1 -- gnd\n", "")
    drawing = parse_drawing(text)
    assert (drawing.problems, build_circuit(drawing).problems) == ((), ())
