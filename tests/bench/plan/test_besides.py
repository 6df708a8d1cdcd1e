"""What a careful man does besides, with the arithmetic beside each figure."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from coldcheck.bench.faults.driven import Drive
from coldcheck.bench.plan.cautions import cautions_of
from coldcheck.bench.plan.model import AC, DC, DIODE
from coldcheck.bench.plan.plan import plan_of
from coldcheck.bench.plan.reform import done_at, series_resistor
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing, read_drawing
from coldcheck.solve.faults.fault import OPEN, Fault
from coldcheck.solve.faults.solver import FaultSolver
from coldcheck.solve.signal.small_signal import small_signal
from coldcheck.verdict.engine import review_drawing, review_file

SAMPLES = Path(__file__).parents[3] / "samples"


def plan(text):
    return plan_of(review_drawing(parse_drawing(text, "test.tube")))


@pytest.fixture(scope="module")
def breakwater():
    return plan_of(review_file(SAMPLES / "breakwater.tube"))


@pytest.fixture(scope="module")
def galley():
    return plan_of(review_file(SAMPLES / "galley.tube"))


@pytest.fixture(scope="module")
def harbour():
    return plan_of(review_file(SAMPLES / "harbour-light.tube"))


def step(found, key):
    (one,) = (s for s in found.steps if s.key == key)
    return one


def at(one, point):
    return [c for c in one.checks if c.point == point]


# -- diodes ---------------------------------------------------------------------------------

JUNCTION = """\
B --+[E1 20 V]-- gnd
B --[R1 10k]-- A --[D1 1N4148]-> K
K --[R2 10k]-- gnd
A --[R3 {}]-- K
"""


def test_every_junction_is_read_from_its_anode(breakwater):
    one = step(breakwater, "diodes")
    assert {c.note for c in one.checks} == {f"D{k}" for k in range(1, 7)}
    assert {c.unit for c in one.checks} == {DIODE}
    (second,) = (c for c in one.checks if c.note == "D2")
    assert (second.point, second.other) == ("T1.ht.1", "RAW")
    assert second.low < 0.55 < second.high
    assert not one.power


@pytest.mark.parametrize(("ohms", "masked"), [("1k", True), ("1k5", False)])
def test_a_resistor_beside_a_junction_may_hide_it(ohms, masked):
    """A milliampere through what lies beside it has to make 1.125 V: R3, and 20k through gnd."""
    (check,) = step(plan(JUNCTION.format(ohms)), "diodes").checks
    assert ("lift one end" in check.note) is masked
    assert (check.low == 0.0) is masked


def test_no_junction_no_step(harbour):
    assert "diodes" not in [s.key for s in harbour.steps]


# -- old electrolytics ----------------------------------------------------------------------


@pytest.mark.parametrize(("volts", "ohms"), [(368, 33e3), (406, 33e3), (407, 39e3), (60, 820)])
def test_the_resistor_takes_a_short(volts, ohms):
    """No more than 5 W: 406 V over 33 kohm is 4.995 W, 407 V 5.02 W; 60 V over 720 ohm."""
    assert series_resistor(volts) == pytest.approx(ohms)
    assert volts**2 / ohms <= 5.0


def test_when_one_is_done():
    """0.03 uA a microfarad and volt: 20 uF at 368 V are 221 uA; never less than 100 uA."""
    assert done_at(20e-6, 368) == pytest.approx(220.8e-6)
    assert done_at(1e-6, 100) == 1e-4


def test_each_capacitor_has_its_steps(harbour):
    orders = " ".join(step(harbour, "reform").do)
    # C1 sees the highest rail, some 368 V before the tubes draw, 33 kohm; 221 uA over that: 7.3 V
    assert "C1, rated 500 V: 92, 184, 276, 368 V through 33 kohm, 10 W, until 7.3 V" in orders
    assert "C5" not in orders  # a cathode's, a volt or two
    assert step(harbour, "reform").cautions[0].level == "danger"


# -- heaters before the high tension -----------------------------------------------------------


def test_the_heaters_come_on_without_the_rectifier(harbour):
    keys = [s.key for s in harbour.steps]
    assert keys.index("tubes-out") < keys.index("heaters") < keys.index("rectifier-in")
    one = step(harbour, "heaters")
    assert "all tubes but V3" in one.do[0]
    (check,) = one.checks  # the rectifier's own winding has nothing to say
    assert (check.point, check.unit) == ("T1.warm.1", AC)


def test_or_without_the_fuse_of_the_high_tension(breakwater):
    one = step(breakwater, "heaters")
    assert "take F2 out and put all tubes in" in one.do[0]
    assert one.do[-1] == "Only then put F2 back."


def test_a_string_is_brought_up_with_the_rectifier_s_plate_off(galley):
    one = step(galley, "heaters")
    assert "Lift the wire to V5.plate" in one.do[0]
    # 117 V over 35 + 50 + 3 x 12.6 = 122.8 V of heaters
    for tube, rated in (("V1", 12.6), ("V4", 50.0), ("V5", 35.0)):
        (check,) = at(one, f"{tube}.h1")
        assert check.expected == pytest.approx(117 * rated / 122.8, rel=0.002)
        assert check.low < check.expected < check.high


SILICON = """\
mains 100 V 50 Hz
transformer T1
    primary pri 100 V 5 ohm
    winding ht 100 V 0.2 ohm
    winding warm 6.3 V 0.01 ohm
tube V1 6V6GT heater T1.warm
line --[F1 fuse 1 A slow]-- T1.pri.1
T1.pri.2 -- neutral
earth -- chassis
chassis -- gnd
T1.warm.1 -- gnd
T1.ht.2 -- gnd
T1.ht.1 --[D1 1N4007]-> RES
RES --+[C1 47 uF 250 V]-- gnd
RES --[R1 20k 2 W]-- gnd
RES -- V1.plate
RES -- V1.screen
V1.grid --[R2 100k]-- gnd
V1.cathode --[R3 470 ohm 2 W]-- gnd
"""


def test_nothing_is_made_up_where_there_is_no_way():
    assert "heaters" not in [s.key for s in plan(SILICON).steps]


# -- what to watch --------------------------------------------------------------------------


def test_each_stage_says_what_it_can_show(harbour):
    watched = {s.key: s.do[-1] for s in harbour.steps if s.key.endswith(("-in", "-out"))}
    watched.pop("cold-tubes-in", None)
    assert all(text.startswith("Keep your eyes") for text in watched.values())
    assert "arc in V3" not in watched["tubes-out"]
    assert "arc in V3" in watched["rectifier-in"]
    assert "reddens" not in watched["small-in"]
    assert "a plate that reddens or a grid wire that glows in V2" in watched["all-in"]
    assert all("the lamp that stays bright" in text for text in watched.values())


# -- a loop that may be the wrong way round ----------------------------------------------------


def test_a_loop_is_joined_last_and_its_leads_are_named(breakwater):
    text = step(breakwater, "all-in").do[0]
    assert text.startswith("R24 leads back from T2")
    assert text.index("exchange the plate leads T2.p1 and T2.p2") < text.index("T2.s1 and T2.s2")
    assert "to about 27 % at 1 kHz" in text


def gain(text):
    """From the input to the speaker at 1 kHz."""
    circuit = build_circuit(parse_drawing(text, "b.tube"))
    (driven,) = small_signal(circuit, None, (1000.0,)).sources.values()
    at_1k = abs(driven.frequencies - 1000.0).argmin()
    net = circuit.points["T2.s1"]
    other = circuit.points["T2.s2"]
    nothing = 0 * driven.frequencies
    volts = [driven.response.get(n, nothing)[at_1k] for n in (net, other)]
    return abs(volts[0] - volts[1])


def test_by_how_much_the_output_falls():
    """The gain of the sample as drawn over that with next to no feedback."""
    text = "\n".join(read_drawing(SAMPLES / "breakwater.tube").lines)
    (line,) = (x for x in text.splitlines() if "[R24 " in x)
    value = line.partition("[R24 ")[2].partition("]")[0].split()[0]
    opened = text.replace(f"[R24 {value}", "[R24 100M")
    assert gain(text) / gain(opened) == pytest.approx(0.27, abs=0.02)


def test_no_loop_no_word(harbour):
    assert not any("back from" in text for text in step(harbour, "all-in").do)


# -- hum and signal -----------------------------------------------------------------------------

DRIVEN = """\
B --+[E1 250 V]-- gnd
tube V1 6V6GT
output T2 5k : 8 ohm 200 ohm
B -- T2.p1
T2.p2 -- V1.plate
B -- V1.screen
signal IN {} V 1 kHz
IN --[C1 100 uF 50 V film]-- A --[R1 47k]-- V1.grid --[R2 470k]-- gnd
V1.cathode --[R3 270 ohm 5 W]-- gnd
V1.cathode --+[C2 1000 uF 50 V]-- gnd
T2.s1 --[LS1 speaker 8 ohm]-- T2.s2
T2.s2 -- gnd
"""


@pytest.mark.parametrize(("volts", "share"), [(0.3, 1.0), (3.0, 0.1)])
def test_a_signal_is_followed_by_as_much_as_stays_straight(volts, share):
    """At the grid 470/517 of the generator; 0.3 V swing the plate by some 6 V, 3 V by a fourth."""
    one = step(plan(DRIVEN.format(volts)), "signal")
    (grid,) = at(one, "V1.grid")
    assert grid.expected == pytest.approx(share * volts * 470 / 517, rel=0.002)
    assert grid.low == pytest.approx(grid.expected / 1.4)
    (out,) = at(one, "T2.s1")
    # the mu of the transformer: sqrt(5000 / 8) = 25 to one
    assert 0.3 < out.expected / grid.expected < 1.2


def test_hum_is_that_of_the_solution_and_no_less_than_a_meter_tells(harbour, galley):
    (quiet,), (loud,) = step(harbour, "hum").checks, step(galley, "hum").checks
    assert (quiet.low, quiet.high) == (0.0, 0.01)
    assert loud.expected > 0.01 / 3
    assert loud.high == pytest.approx(3 * loud.expected)
    assert loud.unit == AC


# -- currents on the way up, and live sets ------------------------------------------------------


def test_an_output_tube_s_current_is_read_at_every_step_up(breakwater):
    for point in ("V2.cathode", "V3.cathode"):
        checks = at(step(breakwater, "all-in"), point)
        assert [c.mains for c in checks] == [pytest.approx(v) for v in (72.0, 120.0)]
        low, full = checks
        assert low.unit == DC
        assert low.low == 0.0
        assert low.high <= full.high
        assert "draws more than it can have" in low.why


def test_an_isolating_transformer_is_no_cure_for_all(galley):
    text = galley.cautions[0].text
    assert "does not protect who touches two points of the set at once" in text
    assert "a variable one, is none" in text


def test_what_an_output_without_its_load_does_is_told_as_the_faults_tell_it():
    """The same figures in the plan and among the faults, the mains as drawn."""
    circuit = build_circuit(read_drawing(str(SAMPLES / "harbour-light.tube")))
    warm = FaultSolver(circuit).good("warm")
    [said] = [c for c in cautions_of(circuit, [warm], (), None, live=False, mains=True)
              if c.text.startswith("Never run T2")]  # fmt: skip
    lost = Fault(OPEN, "LS1")
    [found], _ = Drive.of(circuit, warm).judged(circuit, lost, FaultSolver(circuit).solve(lost))
    assert said.level == found.level
    figures = re.findall(r"[0-9.]+ m?k?V", said.text)
    assert figures == re.findall(r"[0-9.]+ m?k?V", found.message)
    assert len(figures) == 4
