from __future__ import annotations

import pytest

from coldcheck.report.shared.numbers import common_unit, evidence_text, margin_text, volts


@pytest.mark.parametrize(
    ("name", "value", "expected"),
    [
        ("plate_ma", 44.81, ("plate", "44.81 mA")),
        ("heater_a", 2.5, ("heater", "2.5 A")),
        ("reference_ohms", 470e3, ("reference", "470 kohm")),
        ("cathode_dc", 152.3, ("cathode DC", "152.3 V")),
        ("time_s", 140.0, ("time", "140 s")),
        ("first_uf", 47.0, ("first", "47 uF")),
        ("limit_percent", 10.0, ("limit", "10 %")),
        ("count", 3, ("count", "3")),
        ("sense", "heater negative", ("sense", "heater negative")),
        ("time_s", "never", ("time", "never")),
        ("peak", float("nan"), ("peak", "no number")),
    ],
)
def test_the_name_gives_the_unit(name, value, expected):
    assert evidence_text(name, value, "") == expected


def test_a_limit_borrows_the_unit_of_its_neighbours():
    assert common_unit({"cathode_dc": 1.0, "peak": 2.0, "limit": 3.0}, "heater.x") == "V"
    assert common_unit({"heater_a": 2.0, "limit": 1.5}, "heater.winding-overload") == "A"


def test_a_limit_takes_the_unit_of_the_number_that_exceeds_it():
    mixed = {"loop": 3.15, "path_ohms": 0.15, "short_a": 21.0, "limit": 1.0}
    assert common_unit(mixed, "heater.two-references", 21.0) == "A"


def test_where_neighbours_differ_the_rule_decides_and_else_nothing():
    mixed = {"plate_v": 1.0, "plate_ma": 2.0, "limit": 3.0}
    assert common_unit(mixed, "tube.plate-dissipation") == "W"
    assert common_unit(mixed, "tube.strange") == ""


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
    ("name", "value", "shown"),
    [("standby_dc", -2.7e-14, "0 V"), ("plate_a", 4e-11, "0 A"), ("plate_a", 4e-9, "4 nA")],
)
def test_the_dust_of_rounding_is_not_shown(name, value, shown):
    assert evidence_text(name, value, "")[1] == shown
