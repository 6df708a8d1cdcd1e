"""High voltage within reach: by Ohm's law through a person of 2 kohm, on both sides of each limit.

Limits: IEC 62368-1 table 4 (60 V, 120 V DC; 70.7 V peak; 25 mA DC; 7.07 mA peak), IEC 60335-1
cl. 8.1.4 (2 mA DC, 0.7 mA peak, 0.1 uF up to 450 V, 45 uC above).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

JACK = "jack J1\nJ1.sleeve -- gnd\n"
RULE = "touch.live-terminal"


def fed(volts: float, ohms: float, rest: str = "") -> str:
    return f"B1 --+[E1 {volts} V]-- gnd\nB1 --[R1 {ohms} ohm 50 W]-- J1.tip\n" + JACK + rest


def live(looked: Review) -> list[Finding]:
    assert not [n for n in looked.not_judged if "failed" in n.reason]
    return [f for f in looked.findings if f.rule == RULE]


@pytest.mark.parametrize(
    ("volts", "ohms", "level"),
    [
        (59.0, 10, None),  # 29 mA, but below 60 V DC
        (61.0, 10, "warning"),  # 61 / 2010 = 30 mA, below 120 V
        (61.0, 1e3, "caution"),  # 61 / 3k = 20 mA
        (119.0, 10, "warning"),
        (121.0, 10, "danger"),  # 60 mA from more than 120 V
        (300.0, 9.9e3, "danger"),  # 300 / 11.9k = 25.2 mA
        (300.0, 10.1e3, "warning"),  # 24.8 mA: two fifths of 25 mA, and more than 120 V
        (300.0, 27.5e3, "warning"),  # 10.17 mA
        (300.0, 28.5e3, "caution"),  # 9.84 mA
        (300.0, 147e3, "caution"),  # 2.013 mA
        (300.0, 149e3, "notice"),  # 1.987 mA
        (300.0, 2.9e6, "notice"),  # 0.1034 mA
        (300.0, 3.1e6, None),  # 0.0967 mA
    ],
)
def test_a_terminal_is_judged_by_volts_and_by_amperes(
    volts: float, ohms: float, level: str | None, review: Callable[[str], Review]
) -> None:
    found = live(review(fed(volts, ohms)))
    assert [f.level for f in found] == ([] if level is None else [level])
    for finding in found:
        assert (finding.at[0], finding.state) == ("J1", "warm")
        assert finding.evidence["dc"].value == pytest.approx(volts, rel=1e-3)
        assert finding.evidence["current_dc"].value == pytest.approx(volts / (ohms + 2e3), rel=1e-3)


@pytest.mark.parametrize(
    ("volts", "kohm", "nano", "level", "then"),
    [
        (400.0, 1000, 0, "notice", "drives 399 uA"),
        (400.0, 1000, 100, "notice", "drives 399 uA"),  # 0.1 uF may be touched up to 450 V
        (400.0, 1000, 110, "caution", "has 0.11 uF charged to it"),
        (430.0, 1000, 103, "caution", "has 0.103 uF charged to it"),  # 44.3 uC
        (400.0, 100, 110, "caution", "drives 3.92 mA"),  # what flows is told first
        # Above, the charge counts: 45 uC at 600 V is 75 nF, at 470 V 95.7 nF.
        (600.0, 1000, 70, "notice", "drives 599 uA"),
        (600.0, 1000, 80, "caution", "has 0.08 uF charged to it"),
        (470.0, 1000, 98, "caution", "has 0.098 uF charged to it"),
    ],
)
def test_a_capacitor_at_the_terminal_counts_by_its_size_or_its_charge(
    volts: float, kohm: int, nano: int, level: str, then: str, review: Callable[[str], Review]
) -> None:
    part = f"J1.tip --[C1 {nano}n 1000 V]-- gnd\n" if nano else ""
    (found,) = live(review(fed(volts, kohm * 1e3, part)))
    assert found.level == level
    assert then in found.message


AC = """mains 120 V 60 Hz tolerance 0.001 %
transformer T1
    primary pri 120 V 1 ohm
    winding out {volts} V 0.01 ohm
line --[F1 1 A]-- T1.pri.1
T1.pri.2 -- neutral
earth -- chassis
chassis -- gnd
T1.out.2 -- gnd
T1.out.1 --[R1 {ohms} ohm 50 W]-- J1.tip
"""


@pytest.mark.parametrize(
    ("volts", "ohms", "level"),
    [
        (29.5, 10, None),  # 41.7 V peak
        (30.5, 10, "warning"),  # 43.1 V peak, 21 mA peak, below 70.7 V
        (49.0, 10, "warning"),
        (51.0, 10, "danger"),  # 72.1 V peak
        (100.0, 17e3, "danger"),  # 141.4 V / 19k = 7.44 mA peak
        (100.0, 19e3, "warning"),  # 6.73 mA
        (100.0, 199e3, "caution"),  # 0.7036 mA
        (100.0, 201e3, None),  # 0.6966 mA
    ],
)
def test_alternating_voltage_by_its_peaks(
    volts: float, ohms: float, level: str | None, review: Callable[[str], Review]
) -> None:
    found = live(review(AC.format(volts=volts, ohms=ohms) + JACK))
    assert [f.level for f in found] == ([] if level is None else [level])
    for finding in found:
        peak = math.sqrt(2) * volts
        assert finding.evidence["ac_peak"].value == pytest.approx(peak, rel=2e-2)
        assert finding.evidence["current_peak"].value == pytest.approx(
            peak / (ohms + 2e3), rel=2e-2
        )


def test_a_load_that_is_unplugged_no_longer_holds_the_terminal_down(
    review: Callable[[str], Review],
) -> None:
    """300 V through 20k: 0.12 V at 8 ohm, 300 V when the plug's lead is open; 300 / 22k there."""
    text = fed(300.0, 20e3, "J1.tip --[LS1 8 ohm 5 W]-- J1.sleeve\n")
    (found,) = live(review(text))
    assert (found.at, found.level) == (("J1",), "warning")
    assert found.evidence["dc"].value == pytest.approx(300, rel=1e-3)
    assert found.evidence["current_dc"].value == pytest.approx(300 / 22e3, rel=1e-3)


def test_current_through_a_winding_into_a_plugged_load_counts(
    review: Callable[[str], Review],
) -> None:
    """300 V behind 210 ohm: 11 V at 8 ohm; 300 / 2210 through a person."""
    text = SUPPLY + "output T2 5k : 8 ohm 210 ohm\nB1 -- T2.p1\nT2.p2 -- J1.tip\n" + JACK
    (found,) = live(review(text + "J1.tip --[LS1 8 ohm 500 W]-- J1.sleeve\n"))
    assert (found.at[0], found.level) == ("J1", "danger")
    assert found.evidence["current_dc"].value == pytest.approx(300 / 2210, rel=1e-3)


def test_a_headphone_on_a_cathode_holds_it_down(review: Callable[[str], Review]) -> None:
    """No branch brings the current to J1, a tube does: 24 V while the plug is in."""
    text = """tube V1 12AU7
B1 -- V1A.plate
B1 --[R1 1M]-- V1A.grid
V1A.cathode -- J1.tip --[R2 1M]-- gnd
J1.tip --[LS1 600 ohm 2 W]-- J1.sleeve
"""
    (found,) = live(review(SUPPLY + text + JACK))
    assert (found.at[0], found.level) == ("J1", "danger")


def test_a_generator_no_longer_holds_the_input_down(review: Callable[[str], Review]) -> None:
    text = "B1 --+[E1 300 V]-- gnd\nsignal IN 1 V 1 kHz\nB1 --[R1 22k 5 W]-- IN\n"
    (found,) = live(review(text))
    assert (found.at, found.level) == (("IN",), "warning")
    assert found.evidence["current_dc"].value == pytest.approx(300 / 24e3, rel=1e-3)


SUPPLY = "B1 --+[E1 300 V]-- gnd\n"


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("B1 -- chassis\n", "chassis"),
        ("B1 --[J1 jack]-- gnd\n", "J1"),
        ("B1 --[LS1 2k 10 W]-- A\nA --[R1 4k7 20 W]-- gnd\n", "LS1"),
        ("output T2 5k : 8 ohm\nT2.s1 -- B1\nT2.p1 -- gnd\n", "T2"),
        ("B1 -- J1.ring\n" + JACK, "J1"),
        # Open until the switch is thrown.
        ("B1 --[S1 switch open]-- J1.tip\nJ1.tip --[R1 1M]-- gnd\n" + JACK, "J1"),
    ],
)
def test_every_kind_of_place_is_looked_at(
    text: str, place: str, review: Callable[[str], Review]
) -> None:
    (found,) = live(review(SUPPLY + text))
    assert (found.at, found.level) == ((place,), "danger")


def test_the_state_is_the_one_in_which_it_is_live(review: Callable[[str], Review]) -> None:
    text = SUPPLY + "B1 --[S1 switch open]-- J1.tip\nJ1.tip --[R1 1M]-- gnd\n" + JACK
    (found,) = live(review(text))
    assert found.state == "standby S1"


def test_of_many_live_states_the_worst_is_told(review: Callable[[str], Review]) -> None:
    """Each switch adds a state; 71 V peak is passed with the line high alone."""
    text = AC.format(volts=47, ohms=10).replace("0.001 %", "10 %") + JACK
    switches = "".join(f"J1.tip --[R{n} 1M]-- A{n} --[S{n} switch]-- gnd\n" for n in (2, 3))
    (found,) = live(review(text + switches))
    assert (found.state, found.level) == ("high line", "danger")


def test_a_tube_out_of_its_socket_makes_a_terminal_live(review: Callable[[str], Review]) -> None:
    """V2 holds the follower's grid down; with it out, J1 is at the supply."""
    text = """tube V1 12AU7
tube V2 12AU7
B1 --[R1 220k 1 W]-- V2A.plate -- V1A.grid
V2A.grid -- gnd
V2A.cathode -- gnd
B1 -- V1A.plate
V1A.cathode -- J1.tip --[R2 10k 10 W]-- gnd
"""
    (found,) = live(review(SUPPLY + text + JACK))
    assert (found.at, found.state) == (("J1",), "pulled V2")


def test_places_that_are_not_live_do_not_count_among_the_most(
    review: Callable[[str], Review], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("coldcheck.rules.touch.terminal.MOST_PLACES", 2)
    dead = "".join(f"gnd --[R{n} 1M]-- A{n} --[J{n} jack]-- gnd\n" for n in (1, 2, 3))
    hot = "".join(f"B1 --[R{n} 1k 9 W]-- A{n} --[J{n} jack]-- gnd\n" for n in (4, 5, 6))
    looked = review(SUPPLY + dead + hot)
    assert [f.at for f in live(looked)] == [("J4", "J5")]
    assert ("J6",) in [n.at for n in looked.not_judged if n.rule == RULE]


@pytest.mark.parametrize(
    "text",
    [
        "jack J1\nJ1.sleeve -- gnd\nJ1.tip --[R1 220k]-- gnd\nB1 --[C1 100n 400 V]-- J1.tip\n",
        "chassis -- gnd\nB1 --[R1 100k 2 W]-- gnd\n",
        # 6.3 V for another set's heaters.
        "A --+[E2 6.3 V]-- gnd\nA -- J1.tip\n" + JACK,
    ],
)
def test_what_may_be_touched_is_left_alone(text: str, review: Callable[[str], Review]) -> None:
    assert live(review(SUPPLY + text)) == []


FLOATING = """mains 120 V 60 Hz tolerance 0.001 %
transformer T1
    primary pri 120 V 1 ohm
    winding out {volts} V 1 ohm
line --[F1 1 A]-- T1.pri.1
T1.pri.2 -- neutral
earth -- gnd
jack J1
T1.out.1 -- J1.tip
T1.out.2 -- J1.sleeve
"""


@pytest.mark.parametrize(("volts", "level"), [(250, "danger"), (29, None)])
def test_two_leads_that_float_are_judged_against_each_other(
    volts: int, level: str | None, review: Callable[[str], Review]
) -> None:
    found = live(review(FLOATING.format(volts=volts)))
    assert [f.level for f in found] == ([] if level is None else [level])
    for finding in found:
        assert finding.evidence["ac_peak"].value == pytest.approx(math.sqrt(2) * volts, rel=1e-2)


def test_a_source_behind_two_leads_that_float_is_seen(review: Callable[[str], Review]) -> None:
    text = "B1 --[R1 100k 2 W]-- gnd\nA --+[E2 300 V]-- J1.tip\n" + JACK.replace("gnd", "A")
    (found,) = live(review(SUPPLY + text))
    assert (found.at[0], found.level) == ("J1", "danger")


PASSED = """mains 120 V 60 Hz
tube V1 6C4
transformer T1
    primary pri 120 V 5 ohm
    winding ht 240 V 60 ohm
line -- T1.pri.1
neutral -- T1.pri.2
T1.ht.2 -- gnd
T1.ht.1 --[D1 1N4007]-> RAW --+[C8 20 uF 500 V]-- gnd
RAW -- V1.plate
RAW --[R1 100k]-- V1.grid --[R2 220k]-- gnd
V1.cathode --[R8 47 ohm]-- OUT --[R3 47k 5 W]-- gnd
{lead}
"""
FUSED = "OUT --[F1 fuse 50 mA 250 V]-- J1.tip"


@pytest.mark.parametrize(
    ("lead", "more", "level"),
    [
        (FUSED, "", "advice"),
        (FUSED, "OUT --+[C1 10 uF 400 V]-- gnd\n", "advice"),
        ("RAW -- J1.tip", "", "danger"),  # not what the tube hands on
        ("OUT -- J1.ring", "", "danger"),
        (FUSED, "signal IN 1 V 1 kHz\nIN --[C2 100 nF 630 V]-- V1.grid\n", "danger"),
        (FUSED, "jack J2\nJ2.sleeve -- gnd\nJ2.tip --[C2 100 nF 630 V]-- V1.grid\n", "danger"),
        (FUSED, "OUT --[LS1 speaker 2k 10 W]-- gnd\n", "warning"),
    ],
)
def test_the_terminal_of_a_supply_is_live_on_purpose(
    lead: str, more: str, level: str, review: Callable[[str], Review]
) -> None:
    """The same wires in a set that amplifies are a follower without its capacitor."""
    found = [f for f in live(review(PASSED.format(lead=lead) + JACK + more)) if f.at[0] == "J1"]
    assert [f.level for f in found] == [level]
    assert ("as the terminal of a supply is" in found[0].message) is (level == "advice")
    assert found[0].remedy.startswith("Use a terminal that no finger") is (level == "advice")


def test_a_plate_fed_past_its_capacitor_is_where_the_remedy_points(
    review: Callable[[str], Review],
) -> None:
    """What is wrong is the feed; a capacitor stands there already."""
    looked = review(
        "B1 --+[E1 250 V]-- gnd\n"
        "tube V1 12AX7\n"
        "V1A.cathode --[R1 1k5 0.5 W]-- gnd\n"
        "V1A.grid --[R2 1M 0.5 W]-- gnd\n"
        "V1A.plate --[C1 22n 400 V]-- J1.tip\n"
        "B1 --[R3 47k 2 W]-- J1.tip\n" + JACK
    )
    (found,) = live(looked)
    assert found.remedy == "Join R3 to V1A.plate, the plate's side of C1, not to this one"
    (unfed,) = [f for f in looked.findings if f.rule == "tube.no-plate-supply"]
    assert unfed.remedy == "Join R3 to V1A.plate, the plate's side of C1"
