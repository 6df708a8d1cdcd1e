"""The conditions are on every form of chart and plan, with how to go over to other mains."""

from __future__ import annotations

from coldcheck.bench.chart.conditions import Conditions, Control, Scaling
from coldcheck.report.shared.conditions import as_data, paragraph_of

FULL = Conditions(
    "quay.tube", "1234-5678-9abc", "warm", 230.0, 50.0, Scaling(0.1, 0.016, ("HELD",)),
    ("IN",), (Control("P1", 0.3), Control("S1"), Control("S2", None, "S2 at 3")),
)  # fmt: skip


def test_all_of_it_in_words():
    said = paragraph_of(FULL)
    for part in (
        "Mark of the drawing: 1234-5678-9abc.",
        "Mains: 230 V, 50 Hz.",
        "multiply volts by yours over 230 V: up to 10 % off",
        "within 2 %, but not that of HELD.",
        "Signal: none (IN at nothing).",
        "State: warm.",
        "Controls: P1 at 30 %, S1 as drawn, S2 at 3.",
        "Meter: 10 Mohm",
    ):
        assert part in said


def test_without_mains_and_controls():
    said = paragraph_of(Conditions("q", "m", "warm", None, None, None, (), ()))
    assert "Mains: none in the drawing" in said
    assert "Signal: none." in said
    assert "Controls" not in said
    assert "multiply" not in said


def test_as_data_says_what_does_not_go_with_the_mains():
    found = as_data(FULL)
    assert found["goes_with_mains"] == {"reach": 0.1, "within": 0.016, "not_at": ["HELD"]}
    assert found["controls"][0] == {"name": "P1", "below_wiper": 0.3, "thrown": None}
