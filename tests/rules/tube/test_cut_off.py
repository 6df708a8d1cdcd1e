"""Stages biased beyond cut-off."""

import pytest

STAGE = """\
tube V1 12AU7
B1 --+[E1 250 V]-- gnd
gnd --+[E2 {bias} V]-- NEG
B1 --[R1 47k 1 W]-- V1A.plate
V1A.cathode --[R2 1k8]-- gnd
V1A.grid --[R3 470k]-- NEG
V1B.plate -- V1B.grid -- V1B.cathode -- gnd
"""


@pytest.fixture(name="found")
def fixture_found(review):
    return lambda text: [f for f in review(text).findings if f.rule == "tube.cut-off"]


@pytest.mark.parametrize("bias", [30, 35])
def test_says_where_conduction_begins(found, bias):
    """250 V over a mu of 17 to 19 is 13 to 15 V of cut-off (12AU7 sheet: mu; found)."""
    (one,) = found(STAGE.format(bias=bias))
    assert one.at == ("V1A",)
    assert one.evidence["grid"].value == pytest.approx(-bias, abs=0.1)
    assert -17 < one.evidence["conducts_at"].value < -11
    assert one.evidence["plate"].value == pytest.approx(250, abs=0.1)
    assert "less than 1 uA" in one.message


def test_a_stage_that_only_draws_little_is_not_cut_off(found):
    assert not found(STAGE.format(bias=8))


def test_a_cold_tube_is_another_matter(sample):
    """Without heater current there is no plate current either, at any bias."""
    cold = sample("mains.no-return", "wrong")
    assert cold.solutions["warm"].readings["V1A"].plate_ma == pytest.approx(0, abs=1e-6)
    assert not [f for f in cold.findings if f.rule == "tube.cut-off"]


def test_cause_is_told_once(found, review):
    """The missing cathode resistor explains it."""
    text = STAGE.format(bias=0.1).replace(
        "V1A.cathode --[R2 1k8]-- gnd", "V1A.cathode --[C1 47 uF 25 V]-- gnd"
    )
    assert not found(text)
    (cause,) = [f for f in review(text).findings if f.rule == "tube.no-cathode-path"]
    assert "tube.cut-off at V1A" in cause.evidence["explains"]


def test_a_plate_on_a_transformers_winding_is_no_stage_of_class_c(review) -> None:
    """A winding's value is volts: found by random drawings."""
    looked = review(
        "mains 120 V 60 Hz\ntransformer T1\n    primary pri 120 V 4 ohm\n"
        "    winding ht 250 V ct 250 V 70 mA\ntube V1 12AX7\nB1 --+[E0 250 V]-- gnd\n"
        "B1 --[R7 100k]-- V1B.plate\nT1.ht.1 -- V1B.plate\nV1B.grid --[R9 1M]-- gnd\n"
    )
    assert [n for n in looked.not_judged if "failed" in n.reason] == []


@pytest.mark.parametrize(("foot", "at"), [("TAIL", None), ("gnd", ("V1B", "R6"))])
def test_a_pairs_second_leak_belongs_on_the_tail(found, foot, at):
    """Two stages share some 2 mA in 15 kohm of tail: 30 V of cathode over a grid at 0 V."""
    hits = found(
        "tube V1 12AX7\nB1 --+[E1 300 V]-- gnd\nsignal IN 1 V 1 kHz\n"
        "IN --[C1 22 nF 400 V]-- V1A.grid --[R5 1M]-- TAIL\n"
        f"V1B.grid --[R6 1M]-- {foot}\nV1B.grid --[C2 100 nF 400 V]-- gnd\n"
        "V1A.cathode -- V1B.cathode --[R3 470 ohm]-- TAIL --[R4 15k]-- gnd\n"
        "B1 --[R1 82k]-- V1A.plate\nB1 --[R2 100k]-- V1B.plate\n"
    )
    assert [h.at for h in hits] == ([at] if at else [])
    assert all(h.remedy.startswith("Take R6 from gnd to TAIL: ") for h in hits)


FOLLOWER = """B --+[E1 300 V]-- gnd
N --[E2 100 V]+-- gnd
tube V1 12AU7
B -- V1A.plate
B -- V1B.plate
G1 --[R1 220k]-- P --[R5 22k]-- gnd
P --[R6 22k]-- N
G1 -- V1A.grid
V1B.grid --[R2 220k]-- P
V1A.cathode --[R3 {load}]-- gnd
V1B.cathode --[R4 {load}]-- N
"""


@pytest.mark.parametrize(("load", "named"), [("22k", ("R3",)), ("1k", ())])
def test_a_follower_whose_load_ends_on_gnd(load: str, named: tuple[str, ...], review) -> None:
    looked = review(FOLLOWER.format(load=load))
    (found,) = [f for f in looked.findings if f.rule == "tube.cut-off"]
    assert found.at == ("V1A", *named)  # a small resistor only measures, or makes a bias
    assert found.remedy.startswith("Take R3 from gnd to N" if named else "It begins to conduct")
