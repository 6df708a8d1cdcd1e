"""The power-up plan of small drawings, with the arithmetic written out beside each figure."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import inf, log, sqrt
from pathlib import Path

import pytest

from coldcheck.bench.plan.model import AC, DC, OHM
from coldcheck.bench.plan.plan import plan_of
from coldcheck.drawing import parse_drawing
from coldcheck.verdict.engine import review_drawing, review_file

SAMPLES = Path(__file__).parents[3] / "samples"

# A winding of 100 V without load (no rated current: no voltage on top of its rated load's), a
# bridge, a reservoir and a bleeder: every rail is the peak less two diodes.
SUPPLY = """\
drawing "Lantern: a supply and one tube"
mains 100 V 50 Hz tolerance 10 %
transformer T1
    primary pri 100 V 5 ohm
    winding ht 100 V 0.2 ohm
    winding warm 6.3 V 0.01 ohm
tube V1 6V6GT heater T1.warm
line --[F1 fuse 1 A slow]-- FUSED --[S1 switch]-- T1.pri.1
T1.pri.2 -- neutral
earth -- chassis
chassis -- gnd
T1.warm.1 -- gnd
gnd --[D1 1N4007]-> T1.ht.1 --[D2 1N4007]-> RES
gnd --[D3 1N4007]-> T1.ht.2 --[D4 1N4007]-> RES
RES --+[C1 100 uF {rating} V]-- gnd
RES --[R1 20k 2 W]-- gnd
RES -- V1.plate
RES -- V1.screen
V1.grid --[R2 100k]-- gnd
V1.cathode --[R3 1k 2 W]-- gnd
"""

BENCH = """\
drawing "Bench: one stage"
B1 --+[E1 250 V]-- gnd
B1 --[R1 100k]-- V1A.plate
tube V1 12AX7
V1A.grid --[R2 1M]-- gnd
V1A.cathode --[R3 1k5]-- gnd
V1B.grid -- V1B.cathode -- gnd
"""

# A tube with fixed bias on bench supplies, so that every figure of the bias is a divider's.
FIXED = """\
drawing "Fixed: one tube with its bias"
RAW --+[E1 360 V]-- gnd
gnd --+[E2 60 V]-- NEG
tube V1 EL34
pot P1 25k at 50 %
RAW --[S1 switch standby]-- B1
B1 --+[C1 10 uF 500 V]-- gnd
B1 --[R3 220k 2 W]-- gnd
NEG --[R1 22k]-- BIAS --[R2 12k]-- P1.top
P1.wiper -- P1.top
P1.bottom -- gnd
BIAS --[R4 47k]-- V1.grid
B1 -- V1.plate
B1 --[R5 1k 5 W]-- V1.screen
V1.suppressor -- V1.cathode
V1.cathode --[R6 10 ohm 1 W]-- gnd
"""


def plan(text):
    return plan_of(review_drawing(parse_drawing(text, "test.tube")))


@cache
def sample(name):
    return plan_of(review_file(SAMPLES / f"{name}.tube"))


@pytest.fixture(scope="module")
def lantern():
    return plan(SUPPLY.format(rating=400))


@pytest.fixture(scope="module")
def over():
    return plan(SUPPLY.format(rating=160))


@pytest.fixture(scope="module")
def fixed():
    return plan(FIXED)


@pytest.fixture(scope="module")
def galley():
    return sample("galley")


def step(found, key):
    (one,) = (s for s in found.steps if s.key == key)
    return one


def at(one, point, unit=DC, other="gnd", mains=None):
    """The one check of a step at a point, at a setting of the mains where there are several."""
    here = [c for c in one.checks if (c.point, c.other, c.unit) == (point, other, unit)]
    (found,) = (c for c in here if mains is None or c.mains == mains)
    return found


# -- order ----------------------------------------------------------------------------------


def test_power_comes_after_everything_that_needs_none(lantern):
    keys = [s.key for s in lantern.steps]
    unplugged = ["empty", "cold", "diodes", "cold-tubes-in", "reform"]
    assert keys == [*unplugged, "tubes-out", "all-in", "off"]
    assert [s.power for s in lantern.steps] == [*[False] * 5, True, True, False]


def test_a_tube_rectifier_goes_in_before_the_tubes_it_feeds():
    found = sample("harbour-light")
    powered = [s for s in found.steps if s.power]
    stages = ["tubes-out", "heaters", "rectifier-in", "small-in", "all-in"]
    assert [s.key for s in powered] == [*stages, "hum", "signal"]
    assert any("put in V3" in text for text in step(found, "rectifier-in").do)
    assert any("put in V2" in text for text in step(found, "all-in").do)


# -- figures by hand --------------------------------------------------------------------------


@pytest.mark.parametrize("share", [0.3, 0.6, 1.0])
def test_an_unloaded_rail_is_the_peak_less_two_diodes(lantern, share):
    """100 V x share x 1.414 less 2 x 0.7 V; the winding's pulses take another half percent."""
    check = at(step(lantern, "tubes-out"), "RES", mains=share * 100)
    assert check.expected == pytest.approx(share * 100 * sqrt(2) - 1.4, rel=0.01)
    assert check.low < check.expected < check.high
    assert check.stop_below == check.low  # silicon rectifies at any voltage


def test_windings_are_read_without_load(lantern):
    check = at(step(lantern, "tubes-out"), "T1.warm.1", AC, "T1.warm.2", mains=100.0)
    assert check.expected == pytest.approx(6.3, rel=0.01)
    assert 6.0 < check.low < check.high < 6.7  # 3 % of winding and 2 % of the meter


def test_the_lamp_follows_from_the_power_of_the_set(lantern):
    """Heater 6.3 V x 0.45 A = 2.8 W; 140 V x (7 mA + cathode current): the rest.

    The cathode's volts across 1 kohm are its milliamperes.
    """
    milliamps = at(step(lantern, "all-in"), "V1.cathode", mains=100.0).expected
    rail = at(step(lantern, "all-in"), "RES", mains=100.0).expected
    watts = 6.3 * 0.45 + rail * (rail / 20e3 + milliamps / 1000)
    lamp = lantern.limiter
    assert lamp.watts == pytest.approx(watts, rel=0.08)  # diodes and copper take the rest
    assert lamp.lamp == 15.0  # nothing smaller on the list; 1.5 x 5 W would be 7.5 W
    assert lamp.shorted == pytest.approx(15 / 100)
    # what the lamp takes and what it leaves the set make up the mains
    amps_ratio = lamp.share * lamp.amps / (15 / 100)
    assert lamp.share + amps_ratio ** (1 / 0.55) == pytest.approx(1.0, abs=1e-6)


def test_the_cathode_stops_where_the_plate_reaches_its_rating(lantern):
    """At a plate voltage that stays the current is in proportion to the watts, 14 W of a 6V6GT."""
    check = at(step(lantern, "all-in"), "V1.cathode", mains=100.0)
    watts = float(check.note.split(" W on the plate")[0])
    assert check.stop_above == pytest.approx(check.expected * 14 / watts, rel=0.01)


def test_what_stays_charged_by_hand(lantern):
    """R1 and 100 uF: 2 s x ln(140 / 60) = 1.7 s; parts 20 and 10 % up, mains 10 %: 2.5 s."""
    (charge,) = lantern.charges
    assert (charge.capacitor, charge.plus, charge.minus) == ("C1", "RES", "gnd")
    tau = 20e3 * 100e-6
    assert charge.seconds == pytest.approx(tau * log(charge.volts / 60), rel=0.01)
    tolerance = 0.0 if charge.state == "high line" else 0.1
    assert charge.high == pytest.approx(
        1.2 * 1.1 * tau * log(charge.volts * (1 + tolerance) / 60), rel=0.01
    )
    assert charge.through == ("R1",)


def test_without_a_bleeder_the_charge_stays():
    text = SUPPLY.format(rating=400).replace("RES --[R1 20k 2 W]-- gnd\n", "")
    found = plan(text)
    assert found.withheld  # the review finds no bleeder, and that can hurt
    (charge,) = found.charges
    assert charge.seconds == inf
    assert charge.through == ()
    assert any(c.level == "warning" and "C1" in c.text for c in found.cautions)


# -- limits exceeded by the step itself -------------------------------------------------------


def test_a_step_that_would_break_a_capacitor_says_how_far_to_go(over, lantern):
    """Unloaded 139 V are fine for 160 V; with the mains 10 % high, 153 V, too; 130 V are not."""
    assert not step(over, "tubes-out").cautions
    found = plan(SUPPLY.format(rating=130))
    one = step(found, "tubes-out")
    (caution,) = one.cautions
    assert caution.level == "notice"
    assert "C1" in caution.text
    top = max(c.mains for c in one.checks)
    # nine tenths of 130 V over 139 V is 84 %: the next twentieth below is 80 %
    assert top == pytest.approx(80.0)
    assert all(abs(c.expected) < 0.9 * 130 for c in one.checks if c.unit == DC)


# -- bias ---------------------------------------------------------------------------------------


def test_the_bias_is_set_from_its_safe_end(fixed):
    """-60 V x 37k / 59k = -37.6 V with the whole track in, x 12k / 34k = -21.2 V with none."""
    before, whole = step(fixed, "tubes-out"), step(fixed, "all-in")
    safe = at(before, "V1.grid", mains=360.0)
    assert safe.expected == pytest.approx(-60 * 37 / 59, abs=0.05)
    assert safe.stop_above == safe.high
    (order,) = (t for t in before.do if t.startswith("Turn P1 from P1.top"))
    assert "-37.6 V to -21.2 V" in order
    # all tubes in, the pot still at the safe end: less than half the current it is set to
    target = at(step(fixed, "bias-P1"), "V1.cathode")
    assert at(whole, "V1.cathode", mains=360.0).expected < 0.5 * target.expected
    # as drawn -60 V x 24.5k / 46.5k = -31.6 V
    assert at(step(fixed, "set-up"), "V1.grid").expected == pytest.approx(
        -60 * 24.5 / 46.5, abs=0.05
    )
    # 25 W at 360 V are 69 mA of plate current, and 8 to 15 mA of the screen's, in 10 ohm
    assert 0.77 < target.stop_above < 0.84


def test_a_standby_switch_leaves_one_side_alive(fixed):
    one = step(fixed, "switches")
    assert any("S1 thrown: these stay above 60 V: RAW" in t and "B1" not in t for t in one.do)
    assert at(one, "B1").expected == 0.0


def test_a_switch_that_harms_is_left_alone():
    """It opens one of two equal resistors that feed the bias: -31.6 V become -20.6 V."""
    halved = "NEG --[R1 44k]-- BIAS\nNEG --[S9 switch]-- SWITCHED --[R7 44k]-- BIAS"
    text = FIXED.replace("NEG --[R1 22k]-- BIAS", halved)
    said = [t for t in step(plan(text), "switches").do if t.startswith("S9 thrown: V1: plate")]
    assert len(said) == 1
    assert said[0].endswith("leave it alone.")
    assert not any("leave it alone" in t for t in step(plan(FIXED), "switches").do)


# -- what an apprentice would do by its words --------------------------------------------------


def test_no_step_without_power_can_be_read_as_plug_in(lantern):
    """``line`` and ``neutral`` are the pins of a plug that lies on the bench."""
    cold = step(lantern, "cold")
    assert cold.title.startswith("Unplugged")
    assert cold.do[0].startswith("The plug stays out of the outlet")
    (pins,) = (c for c in cold.checks if {c.point, c.other} == {"line", "neutral"})
    assert "of the unplugged plug" in pins.note
    for one in (s for s in lantern.steps if not s.power):
        words = " ".join((one.title, *one.do, *(c.note for c in one.checks)))
        assert "plug in" not in words.casefold()


def test_hands_go_in_with_the_plug_out(lantern, fixed):
    """The lamp, the clips and every switch are moved without power."""
    first = next(s for s in lantern.steps if s.power)
    lamp = next(t for t in first.do if "filament lamp" in t)
    assert lamp.startswith("With the plug still out of the outlet")
    clip = next(t for t in first.do if t.startswith("To move a clip"))
    assert "switch off and pull the plug" in clip
    order = step(fixed, "switches").do[0]
    assert order.index("Switch the supplies off") < order.index("move one switch")


# -- sets that are not like the others -------------------------------------------------------


def test_a_live_chassis_calls_for_an_isolating_transformer(galley):
    assert galley.live
    (first, *_) = galley.cautions
    assert first.level == "danger"
    assert "isolating transformer" in first.text
    assert not galley.blocking


def test_a_heater_string_is_not_powered_tube_by_tube(galley):
    stages = ["tubes-out", "heaters", "all-in", "hum"]
    assert [s.key for s in galley.steps if s.power] == stages
    assert any("put in V1, V2, V3, V4, V5" in t for t in step(galley, "all-in").do)


def test_a_bench_supply_is_turned_up_in_steps_with_a_limit():
    found = plan(BENCH)
    one = step(found, "tubes-out")
    assert found.limiter is None
    assert [at(one, "B1", mains=v).expected for v in (75.0, 150.0, 250.0)] == [
        pytest.approx(v, rel=1e-3) for v in (75, 150, 250)
    ]
    assert any("E1 delivers" in text for text in one.do)
    assert not any("lamp" in text for s in found.steps for text in s.do)


def test_a_drawing_that_does_not_solve_gets_no_power():
    found = plan(BENCH + "B1 --+[E2 200 V]-- gnd\nB1 --+[C1 10 uF 450 V]-- gnd\n")
    assert "could not be worked out" in found.withheld
    assert [s.key for s in found.steps] == ["empty", "cold", "cold-tubes-in", "off"]
    assert any("could not be worked out" in c.text for c in found.cautions)
    assert any("C1" in t and "take every one as charged" in t for t in step(found, "off").do)


def test_what_hangs_on_a_value_left_open_is_owned_up_to():
    """Without the value of R9 nothing behind it has a figure, and C1's discharge has none."""
    behind = BENCH.replace("B1 --[R1 100k]--", "B1 --[R9 ?]-- B2 --[R1 100k]--")
    found = plan(behind + "B2 --+[C1 10 uF 450 V]-- gnd\n")
    assert [s.key for s in found.steps if s.power] == ["tubes-out", "all-in"]
    whole = step(found, "all-in")
    (missing,) = whole.missing
    assert "B2" in missing
    assert "depends on the value of R9" in missing
    assert not any(c.point == "B2" for c in whole.checks)
    assert any("perhaps more" in c.text for c in found.cautions)
    (charge,) = found.charges  # with the tube out it stands at 250 V, whatever R9 is
    assert (charge.seconds, charge.through) == (inf, ())
    assert "R9" in charge.perhaps


def test_a_high_winding_is_read_by_halves():
    one = step(sample("fog-bell"), "tubes-out")
    halves = [c for c in one.checks if c.other == "T1.ht.ct"]
    assert {c.point for c in halves} == {"T1.ht.1", "T1.ht.2"}
    # 200 V at 20 mA through 450 ohm a half, the primary's 22 ohm seen through the turns
    assert max(c.expected for c in halves) == pytest.approx(200 + 0.02 * 450, rel=0.03)


def test_nothing_that_feeds_it():
    found = plan("B1 --[R1 10k]-- gnd\nB1 --+[C1 10 uF 400 V]-- gnd\n")
    assert found.withheld == "nothing in the drawing feeds it"
    assert not any(s.power for s in found.steps)


def test_dangerous_findings_come_first_and_hold_the_power_back():
    text = SUPPLY.format(rating=400).replace("earth -- chassis\n", "")
    found = plan(text)
    assert [f.rule for f in found.blocking] == ["mains.no-earth"]
    assert found.withheld
    assert not any(s.power for s in found.steps)
    assert [c.unit for s in found.steps for c in s.checks].count(OHM) > 3  # what is safe stays


def test_what_no_ohmmeter_can_show_is_said(lantern):
    (said,) = step(lantern, "cold").missing
    assert "under voltage" in said
    assert "shorted turns" in said


def test_a_drawing_that_was_not_read_has_no_plan():
    with pytest.raises(ValueError, match="could not be read"):
        plan_of(replace(review_drawing(parse_drawing(BENCH, "test.tube")), circuit=None))


# -- every sample ---------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["fog-bell", "harbour-light"])
def test_a_sample_has_a_whole_plan(name):
    found = sample(name)
    assert not found.withheld
    assert not any(s.missing for s in found.steps if s.power)
    for one in found.steps:
        for check in one.checks:
            assert check.low <= check.high
            if check.unit != OHM and check.expected is not None:
                assert check.low <= check.expected <= check.high
            for limit in (check.stop_below, check.stop_above):
                assert limit is None or check.why
    told = [text for s in found.steps for text in (*s.do, *(c.text for c in s.cautions))]
    assert not any("safe to" in text or "is safe" in text for text in told)
