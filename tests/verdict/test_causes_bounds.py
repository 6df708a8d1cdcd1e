"""Where no slip is looked for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.drawing import parse_drawing
from coldcheck.verdict import causes
from coldcheck.verdict.engine import review_drawing

if TYPE_CHECKING:
    from collections.abc import Callable

    import pytest

    from coldcheck.verdict.review import Review

TWO = """\
B1 --+[E1 24 V]-- gnd
B1 --[R1 10k 0.5 W]-- MID --[R2 10k 0.5 W]-- gnd
gnd --+[C1 10 uF 50 V]-- MID
gnd --+[C2 10 uF 50 V]-- MID
"""


def test_a_drawing_too_large_for_a_search_has_its_findings_as_they_are(
    review: Callable[[str], Review], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert "E1" in review(TWO).findings[0].at
    monkeypatch.setattr(causes, "MOST_PARTS", 4)
    assert [f.at for f in review(TWO).findings] == [("C1", "C2")]


def test_a_complaint_about_a_waiver_is_no_effect_of_a_slip(
    review: Callable[[str], Review],
) -> None:
    looked = review(TWO + 'accept resistor.over-power at R1 because "x"\n')
    assert "intent.accept-unmatched" in {f.rule for f in looked.findings}
    assert "accept" not in str([f.evidence for f in looked.findings if "E1" in f.at])


def test_a_drawing_that_is_not_all_there_has_no_slip_to_name() -> None:
    """A heater lifted too far was hidden under a suppressor that hangs loose."""
    text = """mains 120 V 60 Hz
transformer T1
    primary pri 120 V
    winding warm 6.3 V ct 2 A
T1.warm.ct --+[E9 56 V]-- gnd
tube V1 EF86 heater T1.warm
V1.cathode -- K1 -- gnd
tube V2 6SN7GT heater T1.warm
V2A.cathode -- K2 -- gnd
"""
    found = {f.rule for f in review_drawing(parse_drawing(text, "t.tube")).findings}
    assert {"drawing.incomplete", "heater.lifted-too-far"} <= found
