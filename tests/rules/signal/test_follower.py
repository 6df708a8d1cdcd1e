"""Followers against the current they draw at rest, by Kirchhoff's law at the cathode."""

from __future__ import annotations

from math import sqrt
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

PAIRS = Path(__file__).parents[3] / "samples" / "mistakes"
RULE = "signal.follower-overloaded"
STAGE = """tube V1 12AU7
B1 --+[E1 250 V]-- gnd
B1 -- V1A.plate
signal IN {volts} V 1 kHz
IN --[C1 100 nF 400 V]-- V1A.grid --[R1 1M]-- MID
V1A.cathode --[R2 1k]-- MID --[R3 22k 2 W]-- gnd
V1A.cathode --+[C2 100 uF 250 V]-- OUT --[R5 {load}]-- gnd
"""
FIXED = """tube V1 12AU7
B1 --+[E1 250 V]-- gnd
signal IN {volts} V 1 kHz
IN --[C1 100 nF 400 V]-- G --[R1 1M]-- MID
G -- V1A.grid
V1A.cathode --[R2 1k]-- MID --[R3 22k 2 W]-- gnd
B1 --[R4 22k 2 W]-- V1A.plate --[C2 100 nF 400 V]-- OUT --[R5 1k]-- gnd
"""


def found(text: str, review: Callable[[str], Review]) -> list[object]:
    looked = review(text)
    assert looked.readable
    assert [n for n in looked.not_judged if n.kind.broken] == []
    return [f for f in looked.findings if f.rule == RULE]


def test_idle_current_times_the_load(review: Callable[[str], Review]) -> None:
    """The criterion of the trade: load times idle current below the peak that is wanted."""
    looked = review(STAGE.format(volts=12, load="1k"))
    (finding,) = [f for f in looked.findings if f.rule == RULE]
    idle = looked.solutions["warm"].readings["V1A"].plate_ma / 1e3
    # For the signal R3 carries what C2 carries less: 22k parallel to 1k, the grid leak aside.
    load = 1 / (1 / 22e3 + 1 / 1e3)
    assert (finding.at, finding.state) == (("V1A",), "warm")
    assert finding.evidence["load"].value == pytest.approx(load, rel=0.05)
    assert finding.evidence["cut_off_at"].value == pytest.approx(idle * load, rel=0.05)
    # What is wanted is the follower's share of 12 V rms: below 17 V peak, and most of it.
    assert 0.5 * 12 * sqrt(2) < finding.evidence["wanted_peak"].value < 12 * sqrt(2)
    assert finding.evidence["wanted_peak_current"].value == pytest.approx(
        finding.evidence["wanted_peak"].value / load, rel=0.05
    )


@pytest.mark.parametrize(
    ("volts", "load", "level"),
    [(0.5, "1k", None), (12, "47k", None), (12, "1k", "notice")],
)
def test_the_level_follows_the_demand(
    volts: float, load: str, level: str | None, review: Callable[[str], Review]
) -> None:
    levels = [f.level for f in found(STAGE.format(volts=volts, load=load), review)]
    assert levels == ([level] if level else [])


def test_a_little_too_much_is_advice(review: Callable[[str], Review]) -> None:
    (strong,) = found(STAGE.format(volts=12, load="1k"), review)
    to_the_edge = 12 / strong.excess  # the volts at which it just reaches cut-off
    (mild,) = found(STAGE.format(volts=1.2 * to_the_edge, load="1k"), review)
    assert (mild.level, mild.excess) == ("advice", pytest.approx(1.2, rel=1e-6))
    assert found(STAGE.format(volts=0.95 * to_the_edge, load="1k"), review) == []


def test_a_plate_loaded_stage_is_no_follower(review: Callable[[str], Review]) -> None:
    assert found(FIXED.format(volts=20), review) == []


def test_nothing_is_said_without_a_signal(review: Callable[[str], Review]) -> None:
    text = STAGE.format(volts=12, load="1k").replace("signal IN 12 V 1 kHz\n", "")
    assert found(text.replace("IN --", "X --"), review) == []


def test_without_a_value_the_signal_is_not_judged(review: Callable[[str], Review]) -> None:
    looked = review(STAGE.format(volts=12, load="?"))
    said = [(n.at, n.reason) for n in looked.not_judged if n.rule == RULE]
    assert said == [(("IN",), "the signal: depends on the value of R5")]


def test_the_pair_by_hand(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    finding = only(sample(RULE, "wrong"), RULE)
    # R4 and R5 in parallel are 566 ohm; with R3 559 ohm.
    assert finding.evidence["load"].value == pytest.approx(
        1 / (1 / 600 + 1 / 10e3 + 1 / 47e3), rel=0.01
    )
    assert finding.level == "notice"


def test_the_case_works_the_signal_out_once(review: Callable[[str], Review]) -> None:
    from coldcheck.anatomy.case import Case

    looked = review(STAGE.format(volts=1, load="1k"))
    assert looked.circuit is not None
    case = Case(looked.circuit, looked.solutions)
    assert case.signal is not None
    assert case.signal is case.signal
    assert case.signal.sources["IN"].stage("V1A").output == "cathode"


AHEAD = """tube V1 12AX7
tube V2 12AU7
B1 --+[E1 250 V]-- gnd
signal IN {volts} V 1 kHz
IN -- V1A.grid --[R1 1M]-- gnd
V1A.cathode --[R2 1k5]-- gnd
V1A.cathode --+[C9 25 uF 25 V]-- gnd
B1 --[R3 100k 1 W]-- V1A.plate --[C1 100 nF 400 V]-- V2A.grid --[R4 1M]-- MID
B1 -- V2A.plate
V2A.cathode --[R5 1k]-- MID --[R7 22k 2 W]-- gnd
V2A.cathode --[C3 1 uF 400 V]-- OUT --[R8 10k 1 W]-- gnd
"""


def test_a_stage_ahead_gives_no_more_than_it_can_swing(review: Callable[[str], Review]) -> None:
    """A hundred times the signal asks no more of the follower: the stage ahead clips."""
    (usual,) = found(AHEAD.format(volts=5), review)
    (mad,) = found(AHEAD.format(volts=500), review)
    assert mad.evidence["wanted_peak"] == usual.evidence["wanted_peak"]
    # No plate on 250 V gives more than 250 V peak, and a follower less.
    assert usual.evidence["wanted_peak"].value < 250


OPPOSED = "signal.lower-tube-on-own-plate"


def test_a_lower_tube_driven_from_the_output(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(OPPOSED, "wrong"), OPPOSED)
    assert (found.at, found.level) == (("C2", "V1B", "V1A"), "notice")
    assert found.evidence["load"] == "R4"
    assert found.remedy == "Take C2 to V1A.plate in place of V1A.cathode"
    assert [f for f in sample(OPPOSED, "right").findings if f.rule == OPPOSED] == []


@pytest.mark.parametrize(
    ("old", "new", "fires"),
    [
        ("B1 --[R4 470 ohm 1 W]-- V1A.plate", "B1 -- V1A.plate", True),
        ("GL --[R6 1k]-- V1B.grid", "GL -- V1B.grid", True),
        # Another signal at the lower grid, none at the upper one.
        ("GL --[R6 1k]-- V1B.grid", "GL -- V1B.grid\nsignal IN2 1 V 1 kHz\nIN2 --[C9 10n]-- GL",
         False),
        ("IN --[C1 100 nF 400 V film]-- GU", "IN --[R9 1M]-- gnd", False),
    ],
)  # fmt: skip
def test_which_lower_tubes_work_against_the_upper_one(
    old: str, new: str, fires: bool, review: Callable[[str], Review]
) -> None:
    text = (PAIRS / OPPOSED / "wrong.tube").read_text("utf-8")
    assert old in text
    found = [f for f in review(text.replace(old, new)).findings if f.rule == OPPOSED]
    assert bool(found) is fires
    if "B1 -- V1A.plate" in new:
        assert "with a resistor of some 1/gm" in found[0].remedy
