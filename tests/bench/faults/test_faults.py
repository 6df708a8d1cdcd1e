"""Single faults of small drawings, each held against arithmetic written beside it."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from coldcheck.bench.faults.faults import as_review, sweep
from coldcheck.bench.faults.judging import touchable
from coldcheck.bench.faults.listing import every_fault, owners
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing, read_drawing
from coldcheck.judge.finding import LEVELS
from coldcheck.solve.faults import fault as f
from coldcheck.solve.faults.fault import Fault

SAMPLES = Path(__file__).resolve().parents[3] / "samples"

POWER = """drawing "one stage on a bench supply"
B --+[E1 {volts}]-- gnd
B --[F1 fuse {fuse}]-- B1
B1 --[S1 switch]-- B2
B2 --+[C1 100 uF 450 V]-- gnd
B2 --[R1 100k 2 W]-- gnd
tube V1 6V6GT
B2 --[R2 {load} 20 W]-- V1.plate
B2 -- V1.screen
V1.cathode --[R3 270 ohm 5 W]-- gnd
V1.grid --[R4 470k]-- gnd
B2 --[R5 100k 1 W]-- gnd
DRIVE --[R6 47k]-- gnd
B2 --[R7 47k 2 W]-- DRIVE
DRIVE --[C2 100 nF 400 V film]-- V1.grid
"""


def power(volts="250 V", fuse="2 A", load="500 ohm"):
    return drawn(POWER.format(volts=volts, fuse=fuse, load=load))


def drawn(text):
    drawing = parse_drawing(text, "<test>")
    circuit = build_circuit(drawing)
    assert not (*drawing.problems, *circuit.problems)
    return circuit


def only(circuit, *faults):
    """The outcomes of these faults, in the order given."""
    found = sweep(circuit, faults)
    assert not isinstance(found, str), found
    by_fault = {o.fault: o for o in found.outcomes}
    return [by_fault[x] for x in faults]


def rules_of(outcome):
    return {x.rule for x in outcome.findings}


SIMPLE = """
mains 120 V 60 Hz
transformer T1
    primary pri 120 V 4 ohm
    winding ht 210 V 50 mA 100 ohm
T1.ht.2 -- gnd
T1.ht.1 --[D1 1N4007]-> RES
RES --+[C1 47 uF 450 V]-- gnd
RES --[R1 220k 2 W]-- gnd
"""


def test_a_bleeder_open_leaves_the_charge_for_good():
    circuit = drawn(SIMPLE)
    found = sweep(circuit, (Fault(f.OPEN, "R1"),))
    # 47 uF through 220k: 10.34 s, times ln(V / 60): 18 s from 330 V, the mains at their upper end
    volts = found.good.wave("RES").dc
    assert 320 < volts < 363
    assert found.seconds == pytest.approx(47e-6 * 220e3 * math.log(volts / 60), rel=0.01)
    (outcome,) = found.outcomes
    assert outcome.level == "danger"
    assert outcome.seconds == math.inf
    assert outcome.findings[0].rule == "supply.no-bleeder"
    assert outcome.findings[0].state.startswith("off")
    assert outcome.findings[0].state.endswith("failed R1 open")
    assert outcome.barrier == "only R1 unbroken"


def test_a_drifted_or_doubled_bleeder_is_no_danger_of_its_own():
    (outcome,) = only(drawn(SIMPLE), Fault(f.SHORT, "C1"))
    assert "supply.no-bleeder" not in rules_of(outcome)


def test_a_cathode_resistor_short_overloads_the_plate():
    (outcome,) = only(power(), Fault(f.SHORT, "R3"))
    over = next(x for x in outcome.findings if x.rule == "tube.plate-dissipation")
    watts = over.evidence["plate_dissipation"].value
    # 14 W (data sheet); at -0.4 V the tube takes more than twice its idle 45 mA
    assert over.limit.value == 14
    assert 16 < watts < 60
    assert over.excess == pytest.approx(watts / 14)
    assert over.state == "failed R3 shorted"
    assert outcome.barrier == "only R3 not shorted"


def test_a_coupling_capacitor_short_drives_the_grid_positive():
    (outcome,) = only(power(), Fault(f.SHORT, "C2"))
    assert {"grid.positive", "tube.plate-dissipation"} <= rules_of(outcome)
    assert outcome.barrier.startswith("only the insulation of C2")


def test_a_grid_leak_open_is_taken_as_no_bias():
    (outcome,) = only(power(), Fault(f.OPEN, "R4"))
    assert "tube.plate-dissipation" in rules_of(outcome)


def test_a_plate_without_supply_overloads_the_screen():
    (outcome,) = only(power(), Fault(f.OPEN, "R2"))
    assert "tube.screen-dissipation" in rules_of(outcome)
    assert not any(x.at[0] == "R2" for x in outcome.findings)


def test_a_fuse_that_opens_ends_the_state():
    # C1 shorted: the bench supply gives 250 V through 0.05 + 0.01 + 0.01 ohm: far above 2.1 times
    held, opened = (only(power(fuse=x), Fault(f.SHORT, "R3"))[0] for x in ("2 A", "50 mA"))
    assert held.lasts
    assert not held.fuses
    # about 100 mA of plate and screen and 8 mA of resistors through a fuse of 50 mA
    assert opened.fuses[0].name == "F1"
    assert opened.fuses[0].times == pytest.approx(0.11 / 0.05, rel=0.4)
    assert opened.lasts is (opened.fuses[0].times < 2.1)
    assert opened.rank[0] == held.rank[0]
    assert opened.rank <= held.rank


def test_what_the_good_circuit_exceeds_is_not_blamed_on_a_fault():
    hot = power(load="50 ohm", volts="330 V")
    (quiet,) = only(hot, Fault(f.OPEN, "C2"))
    assert quiet.findings == ()


LINE = """
B --+[E1 250 V]-- gnd
tube V1 12AX7
B --[R1 100k 1 W]-- V1A.plate
V1A.cathode --[R2 1k5]-- gnd
V1A.grid --[R3 1M]-- gnd
V1A.plate --[C1 1 uF 400 V film]-- OUT
jack J1
OUT -- J1.tip
J1.sleeve -- gnd
OUT --[R4 100k]-- gnd
"""


def test_an_output_terminal_at_high_tension_is_a_danger():
    circuit = drawn(LINE)
    assert touchable(circuit)[0] == ("J1", circuit.points["OUT"])
    shorted, leaky = only(circuit, Fault(f.SHORT, "C1"), Fault(f.LEAK, "C1", 10e6))
    live = next(x for x in shorted.findings if x.rule == "fault.live-terminal")
    # 100k and 100k from 250 V with the tube across the lower one: between 60 and 125 V
    assert 60 < live.evidence["dc"].value < 125
    assert shorted.level == live.level == "danger"
    assert leaky.findings == ()  # some 1.5 V


def test_the_list_of_faults_is_in_the_trades_terms():
    circuit = build_circuit(read_drawing(SAMPLES / "breakwater.tube"))
    faults = every_fault(circuit)
    names = {x.name for x in faults}
    assert len(faults) == len(names) >= 150
    assert {
        "R9 open", "C9 shorted", "C9 leaking 1 Mohm", "V2 pulled", "V1A heater-cathode short",
        "V2 gassy (10 µA)", "S2 thrown", "P1 wiper open", "T1.pri.1 joined to T1.ht.1",
        "V2.screen joined to V2.grid", "T2.p1-ct open", "V2 weak (50 %)",
    } <= names  # fmt: skip
    assert not any(x.part in ("IN", "gnd") for x in faults)
    assert owners(circuit, Fault(f.GASSY, "V1A", 1e-6)) >= {"V1", "V1A"}


@pytest.fixture(scope="module")
def breakwater():
    drawing = read_drawing(SAMPLES / "breakwater.tube")
    circuit = build_circuit(drawing)
    wanted = {
        "R3 open", "R6 open", "C10 shorted", "P1 wiper open", "R18 open",
        "T1.pri.1 joined to T1.ht.1",
        "C1 shorted", "S2 thrown", "V2 pulled", "T1.pri shorted",
    }  # fmt: skip
    found = sweep(circuit, [x for x in every_fault(circuit) if x.name in wanted])
    return drawing, circuit, found


def test_the_push_pull_sample(breakwater):
    _, _, found = breakwater
    by_name = {o.fault.name: o for o in found.outcomes}
    assert not any(o.broken or o.reason for o in found.outcomes)
    assert by_name["R3 open"].level == "danger"
    assert not by_name["P1 wiper open"].findings  # the trimmer is wired to fail safe
    bias = by_name["R6 open"]
    assert {"tube.plate-dissipation", "supply.no-bleeder"} <= rules_of(bias)
    assert {b.name for b in bias.fuses} == {"F1", "F2"}
    assert "tube.plate-dissipation" in rules_of(by_name["R18 open"])
    # one of two in series shorted: the whole supply across the other of 350 V, 370 V at nominal
    # mains, which are a tenth higher here
    (over,) = [x for x in by_name["C1 shorted"].findings if x.rule == "capacitor.over-voltage"]
    assert over.at == ("C2",)
    assert over.excess == pytest.approx(1.1 * 373 / 350, rel=0.02)
    # the metal is earthed: the primary on it blows the fuse and hurts nobody while that holds
    joined = by_name["T1.pri.1 joined to T1.ht.1"]
    assert not any(x.rule.startswith("mains.") for x in joined.findings)
    assert {x.rule for x in joined.unearthed} >= {"mains.live-chassis"}
    assert "the protective earth" in joined.barrier
    assert not by_name["T1.pri shorted"].lasts


def test_ranked_by_word_then_by_how_far(breakwater):
    _, _, found = breakwater
    ranks = [o.rank for o in found.outcomes]
    assert ranks == sorted(ranks, reverse=True)
    words = [LEVELS.index(o.level) for o in found.harmful]
    assert words == sorted(words, reverse=True)
    parts = (found.harmful, found.earthed, found.harmless, found.unsolved)
    assert sorted(o.fault.name for part in parts for o in part) == sorted(
        o.fault.name for o in found.outcomes
    )


def test_as_a_review(breakwater):
    drawing, circuit, found = breakwater
    review = as_review(drawing, circuit, found)
    assert len(review.findings) == len(found.harmful)
    assert review.verdict("notice") == "held"
    assert len({x.fingerprint for x in review.findings}) == len(review.findings)
    first = review.findings[0]
    assert "failed" in first.state
    assert first.message.startswith(f"with {found.harmful[0].fault.name}: ")
    assert first.evidence["barrier"] == found.harmful[0].barrier


def test_a_circuit_without_numbers_fails():
    text = POWER.format(volts="?", fuse="2 A", load="500 ohm")
    circuit = drawn(text)
    found = sweep(circuit)
    assert isinstance(found, str)
    review = as_review(parse_drawing(text, "<test>"), circuit, found)
    assert review.verdict("notice") == "held"
    assert review.findings[0].rule == "fault.not-worked-out"


EARTHED = """
mains 120 V 60 Hz tolerance 10 %
line --[F1 fuse 0.5 A slow]-- L1
transformer T1
    primary pri 120 V 4 ohm
    winding ht 210 V 50 mA 100 ohm
L1 -- T1.pri.1
neutral -- T1.pri.2
T1.ht.2 -- gnd
T1.ht.1 --[D1 1N4007]-> RES
RES --+[C1 47 uF 450 V]-- gnd
RES --[R1 220k 2 W]-- gnd
gnd -- chassis
{}
"""


def test_the_primary_on_its_core_is_kept_off_by_the_earth_alone():
    fault = Fault(f.BRIDGE, "T1.pri.1~chassis")
    circuit = drawn(EARTHED.format("chassis -- earth"))
    assert fault in every_fault(circuit)
    found = sweep(circuit, (fault,))
    assert [o.fault for o in found.earthed] == [fault]
    assert found.harmful == found.harmless == ()
    (outcome,) = found.outcomes
    assert {x.rule for x in outcome.unearthed} >= {"mains.live-chassis"}
    assert "; then the protective earth" in outcome.barrier
    # 132 V over 2 kohm, with the earth broken
    (touch,) = outcome.touches
    assert touch.ac == pytest.approx(132 / 2000, rel=0.001)
    assert (touch.to, touch.harmful) == ("earth", True)


def test_without_an_earth_it_is_a_danger_by_itself():
    circuit = drawn(EARTHED.format(""))
    found = sweep(circuit, (Fault(f.BRIDGE, "T1.pri.1~chassis"),))
    (outcome,) = found.outcomes
    assert outcome.level == "danger"
    assert outcome.unearthed == ()
    (said,) = as_review(circuit.drawing, circuit, found).findings
    assert said.evidence["touched"] == "chassis"
    assert said.evidence["touch_ac"].value == pytest.approx(132 / 2000, rel=0.001)


OUTPUT = """
B --+[E1 300 V]-- gnd
tube V1 6V6GT
output T2 5k : 8 ohm 200 ohm
B -- T2.p1
T2.p2 -- V1.plate
B -- V1.screen
V1.cathode --[R3 270 ohm 5 W]-- gnd
V1.grid --[R4 470k]-- gnd
T2.s1 --[LS1 speaker 8 ohm]-- T2.s2
{}
"""


def test_the_insulation_of_an_output_transformer():
    """Between its windings, and to its core: 300 V on a speaker that nothing ties to gnd."""
    circuit = drawn(OUTPUT.format(""))
    fault = Fault(f.BRIDGE, "T2.p1~T2.s1")
    assert {fault, Fault(f.BRIDGE, "T2.p1~gnd")} <= set(every_fault(circuit))
    (outcome,) = only(circuit, fault)
    assert outcome.findings[0].rule == "fault.live-terminal"
    (touch,) = outcome.touches
    assert touch.dc == pytest.approx(0.15, rel=0.01)  # 300 V over 2 kohm
    assert touch.harmful


@pytest.mark.parametrize(("volts", "hot"), [(95, False), (105, True)])
def test_an_electrolytic_that_leaks_gets_hot_from_a_watt(volts, hot):
    """100 V across 10 kohm is a watt."""
    circuit = drawn(f"B --+[E1 {volts} V]-- gnd\nB --+[C1 47 uF 450 V]-- gnd\nB --[R1 1M]-- gnd\n")
    (outcome,) = only(circuit, Fault(f.LEAK, "C1", 10e3))
    assert ("fault.capacitor-heat" in rules_of(outcome)) is hot
    if hot:
        heat = next(x for x in outcome.findings if x.rule == "fault.capacitor-heat")
        assert heat.evidence["heat"].value == pytest.approx(volts**2 / 10e3, rel=0.001)
        assert heat.level == "caution"


@pytest.mark.parametrize(("volts", "hot"), [(680, False), (730, True)])
def test_a_film_capacitor_that_leaks_gets_hot_from_half_a_watt(volts, hot):
    """707 V across 1 Mohm is half a watt."""
    circuit = drawn(
        f"B --+[E1 {volts} V]-- gnd\nB --[C1 100 nF 1 kV film]-- gnd\nB --[R1 1M]-- gnd\n"
    )
    (outcome,) = only(circuit, Fault(f.LEAK, "C1", 1e6))
    assert ("fault.capacitor-heat" in rules_of(outcome)) is hot


def test_a_fuse_is_judged_at_the_lowest_mains():
    # 120 V over 4 ohm and the diode's: what it carries goes with the mains, 1.1 to 0.9
    circuit = drawn(EARTHED.format("RES --[R2 1k5 100 W]-- gnd"))
    found = sweep(circuit, (Fault(f.SHORT, "R1"),))
    (outcome,) = found.outcomes
    (fuse,) = outcome.fuses
    assert fuse.least == pytest.approx(fuse.times * 0.9 / 1.1, rel=0.05)
    assert found.good.state.line == pytest.approx(1.1)
