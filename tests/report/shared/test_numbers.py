from __future__ import annotations

import pytest

from coldcheck.judge.figure import figure
from coldcheck.report.shared.numbers import evidence_name, evidence_value, margin_text, volts


@pytest.mark.parametrize(
    ("name", "value", "expected"),
    [
        ("plate", figure(44.81, "mA"), ("plate", "44.81 mA")),
        ("heater", figure(2.5, "A"), ("heater", "2.5 A")),
        ("reference", figure(470e3, "ohm"), ("reference", "470 kohm")),
        ("cathode_dc", figure(152.3, "V"), ("cathode DC", "152.3 V")),
        ("first", figure(47, "uF"), ("first", "47 uF")),
        ("tolerance", figure(10, "%"), ("tolerance", "10 %")),
        ("in_parallel", figure(2, ""), ("in parallel", "2")),
        ("sense", "heater negative", ("sense", "heater negative")),
        ("peak", figure(float("nan"), "V"), ("peak", "no number")),
    ],
)
def test_name_and_value_of_evidence(name, value, expected):
    assert (evidence_name(name), evidence_value(value)) == expected


def test_margins():
    assert margin_text(1.568) == "57 % beyond the limit"
    assert margin_text(1.02) == "2 % beyond the limit"
    assert margin_text(2.5) == "2.5 times the limit"
    assert margin_text(1000) == "far beyond the limit"
    assert margin_text(0.9) == "10 % inside the limit"
    assert margin_text(1.0) == ""


def test_volts_for_a_column():
    assert [volts(v) for v in (None, 0.041, 12.43, 285.06, 1250.4, -0.001)] == [
        "–",
        "0.04",
        "12.4",
        "285.1",
        "1250",
        "0.00",
    ]


@pytest.mark.parametrize(
    ("value", "shown"),
    [(figure(-2.7e-14, "V"), "0 V"), (figure(4e-11, "A"), "0 A"), (figure(4e-9, "A"), "4 nA")],
)
def test_the_dust_of_rounding_is_not_shown(value, shown):
    assert evidence_value(value) == shown
