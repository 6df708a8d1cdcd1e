"""Instruments: the generic ones say where they come from; a user's own are checked."""

import re
import tomllib
from pathlib import Path

import numpy as np
import pytest

from coldcheck.bench.instruments.instruments import GENERIC, PROBES, meters, scopes
from coldcheck.bench.instruments.measure import show
from coldcheck.bench.instruments.own_instruments import BadInstrument, instrument_of, instruments_of
from coldcheck.solve.solution import Wave

PLAIN = {"name": "grey", "max-volts": "600 V", "input-resistance": "10 Mohm"}


def test_generic_ones_carry_source_and_confidence():
    assert len(list(meters())) + len(list(scopes())) == len(GENERIC)
    for one in GENERIC:
        assert one.source
        assert one.confidence in ("found", "memory", "derived", "common practice")
    assert {one.response for one in GENERIC} == {"mean", "average", "true-rms", "trace"}


def test_a_meter_from_the_settings():
    own = instrument_of({**PLAIN, "response": "average", "accuracy": "1.5 %", "max_rms": 300})
    assert (own.name, own.response, own.ohms) == ("grey", "average", 10e6)
    assert (own.max_volts, own.max_rms) == (600, 300)
    assert own.accuracy == pytest.approx(0.015)
    assert own.confidence == "settings"
    assert own.screen is None


def test_a_needle_from_the_settings():
    table = {"name": "old", "max-volts": 1000, "ohms-per-volt": "20k", "ranges": ["10 V", 50.0]}
    own = instrument_of({**table, "accuracy-of-range": "3 %"})
    assert own.input_ohms(8) == pytest.approx(200e3)
    assert own.input_ohms(12) == pytest.approx(1e6)
    assert own.max_rms == 1000


@pytest.mark.parametrize("kind", [{"input-resistance": "10 Mohm"}, {"ohms-per-volt": "20k"}])
@pytest.mark.parametrize("response", ["mean", "average", "true-rms"])
def test_ranges_of_ones_own_hold_the_peak(response, kind):
    """A sine of 83 V rms on 10 V DC: 127 V; one of its ranges or, above all of them, none."""
    table = {"name": "old", "max-volts": 1000, "ranges": [2.5, 10, 100, 250], "response": response}
    own = instrument_of({**table, **kind})
    turn = 2 * np.pi * np.arange(64) / 64
    assert show(own, Wave(10 + 83 * np.sqrt(2) * np.sin(turn))).range == 250
    over = show(own, Wave(10 + 200 * np.sqrt(2) * np.sin(turn)))
    assert (over.range, over.over) == (None, ("range",))


@pytest.mark.parametrize(
    ("text", "volts", "fit"),
    [
        ("CAT II 300 V", 230, True),
        ("CAT IV 600 V", 230, True),
        ("CAT I 600 V", 120, False),  # not for what hangs on an outlet
        ("CAT II 150 V", 230, False),
    ],
)
def test_a_category_has_to_be_one_for_these_mains(text, volts, fit):
    own = instrument_of({**PLAIN, "category": text})
    assert str(own.category) == text
    assert own.for_mains(volts) is fit
    assert not instrument_of(PLAIN).for_mains(volts)


@pytest.mark.parametrize("text", ["none", "", "CAT V 600 V", "CAT II", "cat ii 300 V", 2])
def test_a_category_that_is_none_is_refused(text):
    with pytest.raises(BadInstrument, match="CAT II 300 V"):
        instrument_of({**PLAIN, "category": text})


def test_a_scope_from_the_settings():
    probes = [
        {"attenuation": 100, "input-resistance": "100 Mohm", "max-volts": "2 kV"},
        {"attenuation": 10, "input-resistance": 10e6, "max-volts": "600 V"},
    ]
    own = instrument_of({**PLAIN, "response": "trace", "divisions": 10, "probes": probes})
    assert own.screen.divisions == 10
    assert [p.attenuation for p in own.screen.probes] == [10, 100]
    assert own.screen.probes[1].max_volts == 2000
    assert instrument_of({**PLAIN, "response": "trace"}).screen.probes == PROBES


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"name": ""}, "wants a name"),
        ({"name": 3}, "wants a name"),
        ({"response": "peak"}, "response is one of"),
        ({"response": ["mean"]}, "response is one of"),
        ({"max-volts": None}, "max-volts"),
        ({"max-volts": "600 ohm"}, "not in volts"),
        ({"max-volts": "sixty"}, "found"),
        ({"max-volts": -5}, "above zero"),
        ({"max-volts": float("nan")}, "above zero"),
        ({"max-volts": float("inf")}, "above zero"),
        ({"max-volts": True}, "is a number or a text"),
        ({"max-volts": 10**400}, "a number that is too large"),
        ({"input-resistance": 0}, "above zero"),
        ({"ohms-per-volt": 20000}, "one of them"),
        ({"counts": 999}, "whole number from 1000"),
        ({"counts": True}, "whole number"),
        ({"counts": "6000"}, "whole number"),
        ({"accuracy-counts": 3}, "wants the counts"),
        ({"counts": 6000, "accuracy-counts": -1}, "above zero"),
        ({"ac-rejection": "60 V"}, "not in percents"),
        ({"colour": "grey"}, "has no colour"),
        ({"ranges": "10 V"}, "list of voltages"),
        ({"response": "trace", "divisions": 0}, "divisions"),
        ({"response": "trace", "divisions": True}, "divisions"),
        ({"response": "trace", "volts-per-division": [5, 1]}, "least first"),
        ({"response": "trace", "volts-per-division": 5}, "least and the most"),
        ({"response": "trace", "probes": [{"attenuation": 10}]}, "a probe wants"),
        ({"response": "trace", "probes": [7]}, "is a table"),
        ({"response": "trace", "probes": 7}, "list"),
    ],
)
def test_what_is_wrong_is_said_in_one_line(change, said):
    with pytest.raises(BadInstrument, match=said) as caught:
        instrument_of({**PLAIN, **change})
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("gone", ["max-volts", "input-resistance"])
def test_what_is_missing_is_said(gone):
    with pytest.raises(BadInstrument, match=gone):
        instrument_of({k: v for k, v in PLAIN.items() if k != gone})


def test_a_needle_without_ranges():
    with pytest.raises(BadInstrument, match="ranges"):
        instrument_of({"name": "old", "max-volts": 100, "ohms-per-volt": 20000})


def test_a_display_from_the_settings():
    table = {**PLAIN, "counts": 2000, "accuracy-counts": 2, "ac-rejection": "0.1 %"}
    own = instrument_of(table)
    assert own.resolution(1.0) == pytest.approx(6.0 / 2000)
    assert (own.ranges, own.digits.off, own.rejection) == ((), 2.0, 0.001)
    own = instrument_of({**table, "ranges": ["2 V", "20 V"]})
    assert own.resolution(1.0) == pytest.approx(0.001)
    assert own.resolution(1000.0) == pytest.approx(0.01)


def test_a_needle_has_no_counts():
    table = {"name": "old", "max-volts": 100, "ohms-per-volt": 20000, "ranges": ["10 V"]}
    with pytest.raises(BadInstrument, match="no counts"):
        instrument_of({**table, "counts": 6000})


def test_the_bench_of_the_settings():
    """One's own first; a generic one for each response that none of them has."""
    assert instruments_of(None) == GENERIC
    found = instruments_of([{**PLAIN, "response": "average"}])
    assert found[0].name == "grey"
    assert [i.response for i in found].count("average") == 1
    assert {i.response for i in found} == {"mean", "average", "true-rms", "trace"}


@pytest.mark.parametrize("value", ["grey", 7, [7], {"name": "grey"}])
def test_a_bench_that_is_no_list_of_tables(value):
    with pytest.raises(BadInstrument):
        instruments_of(value)


def test_the_instrument_of_the_guide_is_one():
    text = (Path(__file__).parents[3] / "samples/guide/repository.md").read_text("utf-8")
    (table,) = (
        found["tool"]["coldcheck"]["instruments"]
        for found in map(tomllib.loads, re.findall(r"```toml\n(.*?)```", text, re.DOTALL))
        if "instruments" in found.get("tool", {}).get("coldcheck", {})
    )
    own = instruments_of(table)[0]
    assert (own.response, own.ohms, own.max_volts) == ("average", 10e6, 600)
