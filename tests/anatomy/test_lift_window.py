"""The lift of a heater winding that every tube on it stands, and what to build from it."""

from __future__ import annotations

from itertools import combinations
from math import sqrt

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from coldcheck.anatomy.case import Case
from coldcheck.anatomy.lift_divider import CAPACITOR_VOLTS, E24, WATTS, capacitor_volts, divider_for
from coldcheck.anatomy.lift_split import split_groups, width
from coldcheck.anatomy.lift_window import heater_lines, lift_windows

HEAD = """\
mains 120 V 60 Hz
transformer T1
    primary pri 120 V
    winding warm 6.3 V ct 2 A
"""
STRESS = ("heater.cathode-stress", "heater.lifted-too-far", "heater.no-common-lift")


def set_up(lift: str, *tubes: tuple[str, float]) -> str:
    """Tubes whose cathodes are held at given voltages, their heaters on one winding."""
    lines = [HEAD, lift]
    for i, (kind, volts) in enumerate(tubes, 1):
        section = f"V{i}" if kind in ("EF86", "6V6GT") else f"V{i}A"
        held = f"K{i} --+[E{i} {volts} V]-- gnd" if volts else f"K{i} -- gnd"
        lines += [f"tube V{i} {kind} heater T1.warm", held, f"{section}.cathode -- K{i}"]
    return "\n".join(lines) + "\n"


def case_of(looked) -> Case:
    return Case(looked.circuit, looked.solutions)


def window_of(looked):
    (window,) = lift_windows(case_of(looked))
    return window


# --- the window by hand ------------------------------------------------------------------------


def test_window_by_hand(review) -> None:
    looked = review(set_up("T1.warm.ct -- gnd", ("12AU7", 150), ("EF86", 0)))
    window = window_of(looked)
    # 12AU7 (memory: RCA 12AU7A): 200 V peak, 100 V DC positive; EF86 (memory: Philips): 100 V
    # with the heater negative, 50 V positive. Ends swing 3.15 sqrt 2 = 4.45 V, up to
    # 8 % more from a winding that is hardly loaded.
    swing = window.room.low.volts + 200 - 150
    assert 3.15 * sqrt(2) <= swing <= 1.08 * 3.15 * sqrt(2)
    assert window.room.least == pytest.approx(150 - 200 + 4.45, abs=0.5)
    assert window.room.most == pytest.approx(0 + 50 - 4.45, abs=0.5)
    assert (window.room.low.section, window.room.low.rating) == ("V1A", "heater-negative-peak")
    assert (window.room.high.section, window.room.high.limit) == ("V2", 50)
    assert (window.stands_at, window.empty, window.conflicts) == (pytest.approx(0), False, ())
    assert window.tubes == ("V1", "V2")


def test_the_dc_limit_counts_where_it_is_the_lower_one(review) -> None:
    window = window_of(review(set_up("T1.warm.ct -- gnd", ("12AU7", 0))))
    assert window.room.most == pytest.approx(100)  # 100 V DC before 200 V peak
    assert window.room.high.rating == "heater-positive-dc"


def test_cold_cathodes_count_while_the_divider_already_lifts(sample) -> None:
    window = window_of(sample("heater.cathode-stress", "right"))
    assert (window.room.high.state, window.room.high.cathode_v) == ("cold", pytest.approx(0, abs=1))
    # 400 V * 68 / 288.
    assert window.stands_at == pytest.approx(94.44, abs=0.01)
    assert window.room.holds(window.stands_at)


def test_a_winding_tied_at_one_end_swings_twice_as_far(review) -> None:
    tap = window_of(review(set_up("T1.warm.ct -- gnd", ("6DJ8", 0))))
    end = window_of(review(set_up("T1.warm.1 -- gnd", ("6DJ8", 0))))
    # 6DJ8: 50 V with the heater positive (memory): 50 - 4.45 V and 50 - 8.91 V.
    assert tap.room.most == pytest.approx(45.5, abs=0.5)
    assert end.room.most == pytest.approx(41.1, abs=0.8)


def test_a_floating_winding_has_a_window_and_stands_nowhere(review) -> None:
    window = window_of(review(set_up("", ("6DJ8", 0))))
    assert window.stands_at is None
    assert window.room.most == pytest.approx(50 - 4.45, abs=0.5)


def test_limits_that_are_not_on_file_leave_an_end_open(review) -> None:
    text = HEAD + (
        "tube V1 EZ80 heater T1.warm\nT1.warm.ct -- gnd\nK --+[E1 300 V]-- gnd\nV1.cathode -- K\n"
    )
    window = window_of(review(text))
    assert (window.room.high, window.unlimited) == (None, ("V1",))
    # 500 V (found): 300 - 500 + 4.45.
    assert window.room.least == pytest.approx(-195.5, abs=0.5)


@pytest.mark.parametrize(
    "name", ["heater.shares-rectifier-filament", "heater.rectifier-filament-grounded"]
)
def test_filament_supplies_have_no_window(sample, name) -> None:
    names = [w.winding for w in lift_windows(case_of(sample(name, "wrong")))]
    assert "T1.fil" not in names


def test_a_tube_out_of_its_socket_only_narrows_the_second_window(review) -> None:
    # V1 draws its plate, which is the cathode of V2, down; with V1 out it stands at 140 V.
    text = HEAD + (
        "tube V1 6SN7GT heater T1.warm\ntube V2 12AT7 heater T1.warm\nT1.warm.ct -- gnd\n"
        "X --+[E9 140 V]-- gnd\nX --[R1 47k]-- V2A.cathode\nV1A.plate -- V2A.cathode\n"
        "V1A.grid -- gnd\nV1A.cathode -- gnd\n"
    )
    window = window_of(review(text))
    # 12AT7: 90 V either way (memory: RCA). Cold, V1 draws nothing either: X itself.
    assert window.sockets.least == pytest.approx(140 - 90 + 4.6, abs=0.4)
    assert window.sockets.least >= window.room.least
    assert window.sockets.low.state == "pulled V1"


def test_the_swing_of_the_signal_narrows_the_window(review) -> None:
    still = (
        "tube V1 12AX7 heater T1.warm\nB1 --+[E1 400 V]-- gnd\nB1 -- V1A.plate\n"
        "B1 --[R1 1M 1 W]-- V1A.grid --[R2 1M 1 W]-- gnd\nV1A.cathode --[R3 150k 1 W]-- gnd\n"
        "T1.warm.ct -- gnd\n"
    )
    played = still + (
        "signal IN 20 V 1 kHz\nIN --[C1 100 nF 400 V]-- V1A.grid\n"
        "V1A.cathode --[C2 100 nF 400 V]-- OUT --[R4 1M]-- gnd\n"
    )
    rest, loud = window_of(review(HEAD + still)), window_of(review(HEAD + played))
    # A follower of gain mu / (mu + 1) = 0.99 (12AX7: 100, data sheet): 20 root 2 V at its cathode.
    assert loud.room.least - rest.room.least == pytest.approx(0.99 * 20 * sqrt(2), rel=0.02)
    assert loud.room.most == pytest.approx(rest.room.most, abs=0.1)  # cold sets it, without signal


# --- the property: inside is quiet, outside is not ---------------------------------------------

KINDS = ("12AX7", "12AU7", "6DJ8", "EF86", "6SN7GT", "6SN7GTB")
placed = st.tuples(st.sampled_from(KINDS), st.integers(0, 60))


def held_at(volts: float) -> str:
    """An ideal source from gnd to the tap."""
    ends = ("T1.warm.ct", "gnd") if volts > 0 else ("gnd", "T1.warm.ct")
    return f"{ends[0]} --+[E9 {abs(volts):.6f} V]-- {ends[1]}"


def over(looked, level: str | None = None) -> list[str]:
    """Findings on heater to cathode, but not those of which only the usual spread is beyond."""
    found = [f for f in looked.findings if f.rule in STRESS and f.certainty != "possible"]
    return [f.rule for f in found if level in (None, f.level)]


@settings(max_examples=10, phases=(Phase.generate,))
@given(tubes=st.tuples(placed, placed), share=st.floats(0.0, 1.0))
def test_any_lift_in_the_window_is_quiet_and_just_outside_is_not(review, tubes, share) -> None:
    window = window_of(review(set_up("T1.warm.ct -- gnd", *tubes)))
    for room, level in ((window.room, "notice"), (window.sockets, None)):
        inside = room.least + share * (room.most - room.least)
        assert over(review(set_up(held_at(inside), *tubes)), level) == []
    # Up to 5 % beyond a design-centre limit is advice: 10 V of 200 V.
    for beyond, level in ((0.5, None), (10.5, "notice")):
        for outside in (window.room.least - beyond, window.room.most + beyond):
            assert over(review(set_up(held_at(outside), *tubes)), level)


# --- no common lift ----------------------------------------------------------------------------


def test_follower_and_microphone_stage(sample, only) -> None:
    looked = sample("heater.no-common-lift", "wrong")
    found = only(looked, "heater.no-common-lift")
    # V2 in front: on the winding T1.mike, which is drawn and has no tube, all would be well.
    assert (found.level, found.at) == ("notice", ("V2", "T1.warm", "V1"))
    # Grid at 420 * 1 / 1.68 = 250 V, cathode 1 to 2 V above: 251.2 - 180 + 4.5 V (12AX7, found);
    # 50 V - 4.5 V for the EF86 (memory).
    assert found.evidence["needs"].value == pytest.approx(251.2 - 180 + 4.55, abs=0.6)
    assert found.evidence["stands"].value == pytest.approx(50 - 4.55, abs=0.3)
    assert found.evidence["heater_dc"].value == pytest.approx(420 * 110 / 440, rel=1e-3)
    assert "heater.lifted-too-far at T1.warm, V2" in found.evidence["explains"]
    assert "V2 on a winding tied to gnd" in found.remedy
    # 390 k over 160 k from 420 V.
    assert "390 kohm 1 W over 160 kohm 250 mW from B1 (420 V) gives 122 V" in found.remedy
    groups = [g.tubes for g in window_of_named(looked, "T1.warm").split]
    assert groups == [("V2",), ("V1",)]


def window_of_named(looked, name):
    return next(w for w in lift_windows(case_of(looked)) if w.winding == name)


def test_two_sections_of_one_tube_that_disagree(review, only) -> None:
    text = set_up("T1.warm.ct -- gnd", ("6SN7GT", 0)) + "H --+[E9 200 V]-- gnd\nV1B.cathode -- H\n"
    found = only(review(text), "heater.no-common-lift")
    # 90 V either way (memory: RC-30): B wants 110 V at least, A stands 90 V at most.
    assert "no lift suits both its sections, use two tubes" in found.remedy


def test_an_empty_window_that_troubles_nobody_as_drawn_is_not_a_finding(review) -> None:
    # The winding follows the one high cathode: right in every state, though no fixed lift is.
    text = HEAD + (
        "tube V1 6SN7GT heater T1.warm\nB1 --+[E1 400 V]-- gnd\nB1 -- V1A.plate\n"
        "B1 --[R1 470k]-- V1A.grid --[R2 470k]-- gnd\nV1A.cathode --[R3 47k 2 W]-- gnd\n"
        "T1.warm.ct -- V1A.cathode\n"
    )
    looked = review(text)
    assert window_of(looked).empty
    assert over(looked) == []


# --- the split ---------------------------------------------------------------------------------

ranges = st.lists(
    st.tuples(st.integers(-100, 100), st.integers(0, 120)).map(lambda p: (p[0], p[0] + p[1])),
    min_size=1,
    max_size=6,
).map(lambda rows: {f"V{i}": row for i, row in enumerate(rows)})


@given(ends=ranges)
def test_groups_are_a_partition_and_each_has_a_window(ends) -> None:
    groups = split_groups(ends, {name: low for name, (low, _) in ends.items()})
    assert sorted(n for g in groups for n in g) == sorted(ends)
    assert all(width(ends, g) >= 0 for g in groups)


@given(ends=ranges)
def test_no_more_groups_than_needed(ends) -> None:
    # As many as there are ranges of which no two have a point in common (interval graphs are
    # perfect), except that sorting by cathode voltage may need none more than that.
    apart = max(
        len(some)
        for size in range(1, len(ends) + 1)
        for some in combinations(ends.values(), size)
        if all(max(a[0], b[0]) > min(a[1], b[1]) for a, b in combinations(some, 2))
    )
    assert len(split_groups(ends, {n: low for n, (low, _) in ends.items()})) == apart


def test_the_cut_leaves_the_most_room() -> None:
    ends = {"V1": (-80.0, 40.0), "V2": (-60.0, 90.0), "V3": (60.0, 170.0)}
    assert split_groups(ends, {"V1": 0, "V2": 20, "V3": 150}) == [("V1", "V2"), ("V3",)]


def test_a_tube_at_odds_with_itself_is_left_alone() -> None:
    groups = split_groups({"V1": (10, 0), "V2": (-50, 50)}, {"V1": 99, "V2": 0})
    assert groups == [("V2",), ("V1",)]


# --- the divider -------------------------------------------------------------------------------

BENCH = HEAD + (
    "tube V1 12AX7 heater T1.warm\nT1.warm.ct -- gnd\nB1 --+[E1 300 V]-- gnd\n"
    "B1 --[R1 100k]-- V1A.plate\nV1A.cathode --[R2 1k5]-- gnd\nV1A.grid --[R3 1M]-- gnd\n"
)


@pytest.fixture(scope="module")
def bench(review) -> Case:
    return case_of(review(BENCH))


@settings(max_examples=60)
@given(target=st.floats(6, 150))
def test_divider_gives_what_it_says_in_values_that_are_sold(bench, target) -> None:
    found = divider_for(bench, heater_lines(bench.circuit)[0], target, {"warm": (0.0, 200.0)})
    assert found.gives_v == pytest.approx(target, rel=0.08)  # half a step of E24 and a little
    total = found.upper_ohms + found.lower_ohms
    assert found.gives_v == pytest.approx(300 * found.lower_ohms / total, rel=1e-6)
    amps = 300 / total
    assert 0.5e-3 < amps < 2e-3
    # By the same arithmetic: P = I^2 R of each.
    assert found.upper_w == pytest.approx(amps**2 * found.upper_ohms, rel=1e-6)
    assert found.lower_w == pytest.approx(amps**2 * found.lower_ohms, rel=1e-6)
    assert found.upper_rating_w in WATTS
    assert found.upper_rating_w >= 2 * found.upper_w
    mantissa = float(f"{found.lower_ohms:e}".split("e")[0]) * 10
    assert min(abs(mantissa - e) for e in E24) < 1e-6
    assert found.bypass_rating_v == 350  # 300 V when the lower resistor opens


def test_divider_keeps_every_state_or_there_is_none(bench) -> None:
    line = heater_lines(bench.circuit)[0]
    found = divider_for(bench, line, 60.0, {"warm": (40.0, 90.0), "cold": (0.0, 50.0)})
    assert found.gives_v <= 50.0
    assert divider_for(bench, line, 60.0, {"warm": (60.0, 90.0), "cold": (0.0, 50.0)}) is None


def test_no_divider_without_a_rail(review) -> None:
    case = case_of(review(set_up("T1.warm.ct -- gnd", ("12AX7", 0))))
    assert divider_for(case, heater_lines(case.circuit)[0], 40.0, {"warm": (0.0, 90.0)}) is None


FOLLOWER = HEAD + (
    "tube V1 12AX7 heater T1.warm\nB1 --+[E1 {supply} V]-- gnd\nB1 -- V1A.plate\n"
    "B1 --[R1 1M 1 W 500 V]-- V1A.grid --[R2 1M 1 W 500 V]-- gnd\n"
    "V1A.cathode --[R3 150k 1 W]-- gnd\nV1B.grid -- gnd\nV1B.cathode -- gnd\n{tie}\n"
)


@settings(max_examples=4, phases=(Phase.generate,))
@given(supply=st.integers(360, 480))
def test_the_suggested_divider_soldered_in_leaves_nothing_to_say(review, supply) -> None:
    found = window_of(review(FOLLOWER.format(supply=supply, tie="T1.warm.ct -- gnd"))).divider
    tie = (
        f"B1 --[R4 {found.upper_ohms:.0f} ohm {found.upper_rating_w:g} W 500 V]-- LIFT\n"
        f"LIFT --[R5 {found.lower_ohms:.0f} ohm {found.lower_rating_w:g} W]-- gnd\n"
        f"LIFT --+[C1 10 uF {found.bypass_rating_v:g} V]-- gnd\nLIFT -- T1.warm.ct"
    )
    looked = review(FOLLOWER.format(supply=supply, tie=tie))
    window = window_of(looked)
    assert window.stands_at == pytest.approx(found.gives_v, rel=0.01)
    assert window.room.holds(window.lowest)
    assert window.room.holds(window.highest)
    told = [f.rule for f in looked.findings if f.rule.startswith(("heater.", "resistor."))]
    assert told == []


@given(volts=st.floats(1, 590))
def test_capacitor_to_buy_is_a_size_that_is_sold_with_some_to_spare(volts) -> None:
    bought = capacitor_volts(volts)
    assert bought in CAPACITOR_VOLTS
    assert bought >= 1.05 * volts
