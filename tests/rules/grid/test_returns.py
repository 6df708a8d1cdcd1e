"""Grid rules: a return for every grid, and its resistance against the data sheet."""

from __future__ import annotations

import pytest

from coldcheck.anatomy.case import Case
from coldcheck.anatomy.grid_kinds import bias_kind, grid_ohms
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.judge.figure import Figure, figure
from coldcheck.rules.grid.returns import no_return

STAGE = """\
tube V1 {tube}
B1 --+[E1 250 V]-- gnd
B1 --[R1 47k 2 W]-- V1A.plate
V1A.cathode --[R2 1k8]-- gnd
signal IN 0.1 V 1 kHz
IN --[C1 22 nF 400 V]-- V1A.grid
"""

PAIR = """\
tube V1 6V6GT
tube V2 6V6GT
B1 --+[E1 250 V]-- gnd
B1 --[L1 10 H 100 ohm]-- V1.plate
B1 --[L2 10 H 100 ohm]-- V2.plate
B1 -- V1.screen
B1 -- V2.screen
"""


def of(review, rule):
    return [f for f in review.findings if f.rule == rule]


def reasons(review, rule):
    return {n.at: n.reason for n in review.not_judged if n.rule == rule}


def section(text: str, name: str):
    circuit = build_circuit(parse_drawing(text, "t.tube"))
    return circuit, next(s for s in circuit.sections() if s.name == name)


# --- grid.no-return ------------------------------------------------------------------------------


def test_only_a_capacitor(sample, only) -> None:
    found = only(sample("grid.no-return", "wrong"), "grid.no-return")
    assert (found.level, found.at, found.state) == ("notice", ("V1A",), "drawing")
    assert found.span.line == 5
    assert found.message.endswith("only C1 reaches it")
    # 12AX7 with cathode bias: 2.2 M on the Philips sheet, 2 M on file (memory).
    assert found.remedy == "Fit a grid leak from V1A.grid to gnd of at most 2 Mohm"


@pytest.mark.parametrize(
    "lines",
    [
        "V1A.grid --[R3 1M]-- gnd",
        "V1A.grid --[R3 1M]-- V1A.cathode",
        "V1A.grid --[R3 100k]-- BIAS\nBIAS --[E2 5 V]+-- gnd",
        "pot P1 1M at 50 %\nP1.wiper -- V1A.grid\nP1.bottom -- gnd",
        "V1A.grid -- V1B.plate\nB1 --[R9 220k]-- V1B.plate\nV1B.cathode -- gnd\n"
        "V1B.grid --[R8 1M]-- gnd",
    ],
)
def test_every_way_to_return_a_grid(review, lines) -> None:
    assert of(review(STAGE.format(tube="12AX7") + lines + "\n"), "grid.no-return") == []


def test_a_signal_generator_is_no_return(review, only) -> None:
    text = STAGE.format(tube="12AX7").replace("--[C1 22 nF 400 V]--", "--")
    only(review(text), "grid.no-return")


def test_an_unused_and_a_parked_section_need_none(review) -> None:
    spare = "V1A.grid --[R3 1M]-- gnd\n"
    assert of(review(STAGE.format(tube="12AX7") + spare), "grid.no-return") == []
    parked = spare + "V1B.grid -- gnd\nV1B.cathode -- gnd\n"
    assert of(review(STAGE.format(tube="12AX7") + parked), "grid.no-return") == []


def test_a_grid_that_is_not_wired_at_all(review, only) -> None:
    text = STAGE.format(tube="12AX7").replace("IN --[C1 22 nF 400 V]-- V1A.grid", "")
    assert only(review(text), "grid.no-return").message.endswith("nothing is wired to it")


@pytest.mark.parametrize(
    ("wires", "ends"),
    [
        ("V1A.grid --[R3 1k]-- G --[C1 22 nF]-- IN", "only C1 reaches it (through R3)"),
        ("IN --[C1 22 nF]-- G --[R3 1k]-- V1A.grid", "only C1 reaches it (through R3)"),
        ("V1A.grid --[R3 1k]-- G", "R3 leads nowhere else"),
        ("V1A.grid --[R3 1k]-- G\nV1A.grid --[R4 1k]-- H", "R3 and R4 lead nowhere else"),
    ],
)
def test_what_there_is_at_the_grid_is_said(review, wires: str, ends: str) -> None:
    text = STAGE.format(tube="12AX7").replace("IN --[C1 22 nF 400 V]-- V1A.grid", wires)
    looked = review(text)  # the engine tells a lead to nowhere by itself
    (found,) = no_return.judge(Case(looked.circuit, looked.solutions))
    assert found.message.endswith(ends)


def test_the_third_grid_of_a_converter(review, only) -> None:
    text = (
        "tube V1 12BE6\nB1 --+[E1 100 V]-- gnd\nB1 --[R1 10k]-- V1.plate\nB1 -- V1.screen\n"
        "V1.cathode --[R2 220 ohm]-- gnd\nV1.grid --[R3 22k]-- gnd\n"
        "X --[C1 100 pF 400 V]-- V1.grid3\nX --[R4 1M]-- gnd\n"
    )
    assert only(review(text), "grid.no-return").at == ("V1", "V1.grid3", "R4", "C1")
    assert of(review(text + "V1.grid3 --[R5 1M]-- gnd\n"), "grid.no-return") == []


# --- grid.leak-too-high --------------------------------------------------------------------------


def test_leak_above_the_data_sheet(sample, only) -> None:
    found = only(sample("grid.leak-too-high", "wrong"), "grid.leak-too-high")
    assert (found.level, found.at, found.span.line) == ("notice", ("V1A", "R3"), 5)
    assert found.evidence == {"grid": Figure(pytest.approx(2.2e6), "ohm"), "bias": "cathode"}
    assert found.limit == figure(1e6, "ohm")
    assert found.excess == pytest.approx(2.2)
    assert "memory" in found.source  # 12AU7: 1 M with cathode bias, 0.25 M fixed
    assert found.remedy.startswith("Use a grid leak of 1 Mohm or less")


def test_a_grid_stopper_is_no_reason(review) -> None:
    text = STAGE.format(tube="12AU7").replace("V1A.grid\n", "G --[R4 22k]-- V1A.grid\n")
    assert of(review(text + "G --[R3 1M]-- gnd\n"), "grid.leak-too-high") == []


def test_somewhat_above_is_advice(review, only) -> None:
    text = STAGE.format(tube="12AU7") + "V1A.grid --[R3 1M2]-- gnd\n"
    assert only(review(text), "grid.leak-too-high").level == "advice"


def test_fixed_bias_has_the_lower_limit(review, only) -> None:
    bias = "V1.cathode -- gnd\nV2.cathode -- gnd\nBIAS --[E2 15 V]+-- gnd\n"
    text = PAIR + bias + "V1.grid --[R3 470k]-- BIAS\nV2.grid --[R4 100k]-- BIAS\n"
    found = only(review(text), "grid.leak-too-high")
    # 6V6GT: 0.1 M with fixed bias, 0.5 M with cathode bias (memory: RCA 6V6GT).
    assert (found.at, found.limit.value, found.evidence["bias"]) == (
        ("V1", "R3"),
        1e5,
        "fixed",
    )
    own = "V1.cathode --[R5 470 ohm 2 W]-- gnd\nV2.cathode --[R6 470 ohm 2 W]-- gnd\n"
    text = PAIR + own + "V1.grid --[R3 470k]-- gnd\nV2.grid --[R4 470k]-- gnd\n"
    assert of(review(text), "grid.leak-too-high") == []


def test_grids_that_share_a_leak_count_twice(review) -> None:
    own = "V1.cathode --[R5 470 ohm 2 W]-- gnd\nV2.cathode --[R6 470 ohm 2 W]-- gnd\n"
    shared = "V1.grid --[R3 10k]-- G\nV2.grid --[R4 10k]-- G\nG --[R7 470k]-- gnd\n"
    (found,) = of(review(PAIR + own + shared), "grid.leak-too-high")
    assert found.at == ("V1", "R7", "V2")  # no stopper
    # 10 k + 470 k as wired; the other grid's current flows through the 470 k too: 950 k.
    assert found.evidence["grid"].value == pytest.approx(950e3)
    assert "480 kohm as wired" in found.message


def test_grid_leak_bias_of_a_small_tube_is_left_alone(review) -> None:
    text = STAGE.format(tube="12AX7").replace("--[R2 1k8]-- gnd", "-- gnd")
    looked = review(text + "V1A.grid --[R3 10M]-- gnd\n")
    assert of(looked, "grid.leak-too-high") == []
    circuit, half = section(text + "V1A.grid --[R3 10M]-- gnd\n", "V1A")
    assert bias_kind(circuit, half) == "grid-leak"


def test_a_sense_resistor_does_not_make_cathode_bias() -> None:
    text = "{}V1.cathode --[R5 {}]-- gnd\nV1.grid --[R3 100k]-- BIAS\nBIAS --[E2 15 V]+-- gnd\n"
    circuit, tube = section(text.format(PAIR, "1 ohm"), "V1")
    assert bias_kind(circuit, tube) == "fixed"
    circuit, tube = section(text.format(PAIR, "270 ohm"), "V1")
    assert bias_kind(circuit, tube) == "cathode"
    # Through the bias source, which is a short for the gas current.
    assert grid_ohms(circuit, tube) == pytest.approx(100e3)


def test_no_limit_on_file_and_unknown_values_are_said(review) -> None:
    looked = review(STAGE.format(tube="12AY7") + "V1A.grid --[R3 1M]-- gnd\n")
    assert "no limit on file" in reasons(looked, "grid.leak-too-high")[("V1",)]
    looked = review(STAGE.format(tube="12AX7") + "V1A.grid --[R3 ?]-- gnd\n")
    assert "not known" in reasons(looked, "grid.leak-too-high")[("V1A",)]


def test_a_long_tail_holds_a_small_tubes_current_and_no_output_tubes(review) -> None:
    text = STAGE.format(tube="12AU7").replace("R2 1k8", "R2 47k") + "V1A.grid --[R3 10M]-- gnd\n"
    assert [f.level for f in of(review(text), "grid.leak-too-high")] == ["advice"]
    power = PAIR.replace("tube V2 6V6GT\n", "").replace("V2", "V1") + "V1.grid --[R3 10M]-- gnd\n"
    power += "V1.cathode --[R4 10k 5 W]-- gnd\n"
    power = power.replace("B1 --[L2 10 H 100 ohm]-- V1.plate\nB1 -- V1.screen\n", "", 1)
    assert [f.level for f in of(review(power), "grid.leak-too-high")] == ["notice"]


def test_the_free_end_of_a_control_is_named(sample, only) -> None:
    """The volume control is the grid's leak; its lower end has no wire."""
    found = only(sample("grid.no-return/control", "wrong"), "grid.no-return")
    assert found.at == ("V1", "P1.bottom", "R1")
    assert found.remedy.startswith("Wire P1.bottom to gnd")
