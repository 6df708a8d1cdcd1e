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
        assert (finding.at, finding.state) == (("J1",), "warm")
        assert finding.evidence["dc"].value == pytest.approx(volts, rel=1e-3)
        assert finding.evidence["current_dc"].value == pytest.approx(volts / (ohms + 2e3), rel=1e-3)


@pytest.mark.parametrize(
    ("part", "level"),
    [
        ("", "notice"),
        ("J1.tip --[C1 100n 630 V]-- gnd\n", "notice"),  # 0.1 uF may be touched up to 450 V
        ("J1.tip --[C1 110n 630 V]-- gnd\n", "caution"),
    ],
)
def test_a_capacitor_at_the_terminal_counts_by_its_size(
    part: str, level: str, review: Callable[[str], Review]
) -> None:
    (found,) = live(review(fed(400.0, 1e6, part)))
    assert found.level == level


@pytest.mark.parametrize(("nano", "level"), [(70, "notice"), (80, "caution")])
def test_above_450_volts_the_charge_counts(
    nano: int, level: str, review: Callable[[str], Review]
) -> None:
    """45 uC at 600 V is 75 nF."""
    (found,) = live(review(fed(600.0, 1e6, f"J1.tip --[C1 {nano}n 1000 V]-- gnd\n")))
    assert found.level == level


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
