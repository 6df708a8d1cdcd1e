"""Oscillators whose feedback takes away from itself, and those that get too little back."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

PHASE, WEAK = "signal.oscillator-in-phase", "signal.oscillator-too-weak"


def told(looked: Review, rule: str) -> list[tuple[str, tuple[str, ...]]]:
    return [(f.level, f.at) for f in looked.findings if f.rule == rule]


def test_a_feedback_winding_turned_round(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(PHASE, "wrong"), PHASE)
    assert (found.at, found.state, found.level) == (("T1.grd", "V1", "T1"), "drawing", "notice")
    assert found.remedy == "Exchange T1.grd.1 and T1.grd.2"
    assert told(sample(PHASE, "right"), PHASE) == []


@pytest.mark.parametrize(
    ("written", "instead", "fires"),
    [
        ("    winding grd  12 V", "    winding grd  12 V dot 2", False),
        ("    primary plt  60 V", "    primary plt  60 V dot 2", False),
        (
            "--[R2 100k]-- gnd",
            "--[R2 100k]-- gnd\nsignal IN 1 V 1 kHz\nIN --[C9 10 nF 100 V film]-- V1.grid",
            False,
        ),
        ("V1.grid --[R2 100k]-- gnd", "G --[R9 1k]-- V1.grid\nG --[R2 100k]-- gnd", True),
    ],
)
def test_dots_and_what_else_drives_the_grid(
    written: str, instead: str, fires: bool, sample: Callable[[str, str], Review],
    review: Callable[[str], Review],
) -> None:  # fmt: skip
    text = "\n".join(sample(PHASE, "wrong").lines)
    assert written in text
    assert bool(told(review(text.replace(written, instead) + "\n"), PHASE)) is fires


def test_a_detectors_tickler_turned_round(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """A signal comes to the grid as well: what the tickler brings is to help it."""
    found = only(sample(f"{PHASE}/detector", "wrong"), PHASE)
    assert found.at == ("L1.tick", "V1", "L1")
    assert found.remedy == "Exchange L1.tick.1 and L1.tick.2"
    assert "no regeneration" in found.message
    assert told(sample(f"{PHASE}/detector", "right"), PHASE) == []


def test_a_capacitor_that_neutralises_is_no_tickler(
    sample: Callable[[str, str], Review], review: Callable[[str], Review]
) -> None:
    text = "\n".join(sample(f"{PHASE}/detector", "wrong").lines) + "\n"
    text = text.replace("V1.plate -- L1.tick.1", "V1.plate --[C9 5p]-- L1.grd.1")
    text = text.replace("L1.tick.2 --[R4 10k]-- AF", "V1.plate --[R4 10k]-- AF")
    assert told(review(text), PHASE) == []


def test_a_cathode_coil_turned_round(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """The cathode follows the grid: both dots are to be at the ends that move."""
    found = only(sample(f"{PHASE}/cathode", "wrong"), PHASE)
    assert (found.at, found.state, found.level) == (("L1.cath", "V1", "L1"), "drawing", "notice")
    assert found.remedy == "Exchange L1.cath.1 and L1.cath.2"
    assert told(sample(f"{PHASE}/cathode", "right"), PHASE) == []


@pytest.mark.parametrize(
    ("written", "instead", "fires"),
    [
        ("winding tank 100 uH 3 ohm", "winding tank 100 uH 3 ohm dot 2", False),
        ("winding cath 5 uH 0.5 ohm", "winding cath 5 uH 0.5 ohm dot 2", False),
        ("--[R2 22k]-- V1.cathode", "--[R2 22k]-- gnd", True),
        # taken back from the cathode on purpose, which no oscillator does
        ("L1.tank.1 --[C1 47p 500 V]-- V1.grid", "L1.tank.1 -- V1.grid", False),
        ("--[R2 22k]-- V1.cathode", "--[R2 22k]-- gnd\nIN --[C9 47p 500 V]-- V1.grid", False),
        # plates want the other sense
        ("L1.cath.2 -- V1.cathode", "L1.cath.2 -- X\nV1.cathode -- gnd", False),
    ],
)
def test_the_dots_of_a_cathode_coil(
    written: str, instead: str, fires: bool, sample: Callable[[str, str], Review],
    review: Callable[[str], Review],
) -> None:  # fmt: skip
    text = "\n".join(sample(f"{PHASE}/cathode", "wrong").lines)
    assert written in text
    assert bool(told(review(text.replace(written, instead) + "\n"), PHASE)) is fires


def test_a_tickler_behind_a_supply_that_is_still_at_radio_frequencies_only(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """10 nF behind the tickler are 29 ohm at 550 kHz, and 16 kohm at 1 kHz."""
    found = only(sample(f"{PHASE}/tickler", "wrong"), PHASE)
    assert (found.at, found.state, found.level) == (("L1.tick", "V1", "L1"), "drawing", "notice")
    assert found.remedy == "Exchange L1.tick.1 and L1.tick.2"
    # 1 / (2 pi sqrt(230 uH 365 pF)), the tickler and the grid's capacitor beside
    assert found.evidence["frequency"].value == pytest.approx(549e3, rel=0.01)
    assert found.evidence["loop_gain_at_most"].value == pytest.approx(-49.8, rel=0.02)
    assert told(sample(f"{PHASE}/tickler", "right"), PHASE) == []


def test_grid_and_cathode_exchanged_on_a_tapped_coil(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(f"{PHASE}/tap", "wrong"), PHASE)
    assert (found.at, found.state, found.level) == (("L1.tank", "V1", "L1"), "drawing", "notice")
    assert found.remedy == "Exchange L1.tank.10 and L1.tank.2"
    assert told(sample(f"{PHASE}/tap", "right"), PHASE) == []


@pytest.mark.parametrize(
    ("written", "instead", "fires"),
    [
        # the feeding winding turned once more, by its dot
        ("winding tick 25 uH 1 ohm", "winding tick 25 uH 1 ohm dot 2", False),
        # no coupling written: the sense is still that of the dots
        ("transformer L1 coupling 45 %", "transformer L1", True),
        # fed in parallel: the plate's own resistor, a capacitor to the tickler
        (
            "BO -- L1.tick.2\nL1.tick.1 -- V1.plate",
            "BO --[R9 22k 2 W]-- V1.plate --[C9 1n 500 V]-- L1.tick.1\nL1.tick.2 -- gnd",
            True,
        ),
        (
            "BO -- L1.tick.2\nL1.tick.1 -- V1.plate",
            "BO --[R9 22k 2 W]-- V1.plate --[C9 1n 500 V]-- L1.tick.2\nL1.tick.1 -- gnd",
            False,
        ),
        # a signal at the grid is what it helps; another stage drives the coil
        ("L1.tank.2 -- gnd", "L1.tank.2 -- gnd\nIN --[C9 47p 500 V]-- V1.grid\n"
         "signal IN 1 V 1 MHz", True),
        ("L1.tank.2 -- gnd", "L1.tank.2 -- gnd\ntube V2 6C4\nV2.grid --[R9 1M]-- gnd\n"
         "V2.cathode -- gnd\nV2.plate -- L1.tank.1", False),
        # a part around the stage of which nobody knows the value
        ("[C1 100p 500 V]", "[C1 ?]", False),
        ("[C3 10p 500 V]", "[C3 ?]", False),
        ("B1 --[R2 10k 2 W]-- BO", "B1 --[R2 ? 2 W]-- BO", False),
    ],
)  # fmt: skip
def test_what_a_tickler_is_told_by(
    written: str, instead: str, fires: bool, sample: Callable[[str, str], Review],
    review: Callable[[str], Review],
) -> None:  # fmt: skip
    text = "\n".join(sample(f"{PHASE}/tickler", "wrong").lines)
    assert written in text
    assert bool(told(review(text.replace(written, instead) + "\n"), PHASE)) is fires


SCREEN_FED = """transformer L1 coupling 40 %
    winding tank 230 uH 4 ohm
    winding tick 25 uH 1 ohm
tube V1 {tube}
B1 --+[E1 90 V]-- gnd
L1.tank.2 -- gnd
L1.tank.1 --[VC1 365p variable]-- gnd
L1.tank.1 --[C1 100p 500 V]-- V1.grid --[R1 100k]-- gnd
V1.cathode -- gnd
B1 -- L1.tick.{cold}
L1.tick.{hot} -- V1.{electrode}
{rest}
"""
PENTODE = "V1.suppressor -- gnd\nB1 --[R2 22k]-- V1.plate --[C2 1n 400 V]-- OUT --[R3 1M]-- gnd"
CONVERTER = "SIG --[R4 1M]-- gnd\nSIG -- V1.grid3\nB1 --[R2 10k]-- V1.plate"
ANODE_GRID = (
    "SIG --[R4 1M]-- gnd\nSIG -- V1.grid4\nB1 --[R2 10k]-- V1.plate\n"
    "B1 --[R3 10k]-- V1.screen --[C3 10n 400 V]-- gnd"
)


@pytest.mark.parametrize(
    ("tube", "electrode", "rest"),
    [
        ("6AU6", "screen", PENTODE),
        ("6BE6", "screen", CONVERTER),
        ("6A8", "grid2", ANODE_GRID),
    ],
)
@pytest.mark.parametrize(("cold", "hot", "fires"), [(1, 2, False), (2, 1, True)])
def test_the_screen_or_second_grid_may_feed_the_coil(
    tube: str, electrode: str, rest: str, cold: int, hot: int, fires: bool,
    review: Callable[[str], Review],
) -> None:  # fmt: skip
    text = SCREEN_FED.format(tube=tube, electrode=electrode, rest=rest, cold=cold, hot=hot)
    assert told(review(text), PHASE) == ([("notice", ("L1.tick", "V1", "L1"))] if fires else [])


PLATE_AND_GRID_ON_ONE_COIL = """transformer L1
    winding tank 50/100 turns 90 uH 2 ohm
tube V1 6C4
B1 --+[E1 150 V]-- gnd
B1 --[L2 10 mH 50 ohm]-- V1.plate --[C2 1n 500 V]-- P
P -- L1.tank.{plate}
L1.tank.{still} -- gnd
L1.tank.1 --[VC1 150p variable]-- L1.tank.2
L1.tank.{grid} --[C1 47p 500 V]-- V1.grid --[R1 47k]-- gnd
V1.cathode -- gnd
"""


@pytest.mark.parametrize(
    ("plate", "still", "grid", "fires"),
    [("2", "50", "1", False), ("1", "50", "2", False), ("50", "1", "2", True)],
)
def test_plate_and_grid_on_one_tapped_coil(
    plate: str, still: str, grid: str, fires: bool, review: Callable[[str], Review]
) -> None:
    """Hartley's has its tap at rest; with an end at rest tap and other end go together."""
    text = PLATE_AND_GRID_ON_ONE_COIL.format(plate=plate, still=still, grid=grid)
    assert bool(told(review(text), PHASE)) is fires


COLPITTS = """tube V1 6C4
B1 --+[E1 150 V]-- gnd
B1 --[L2 10 mH 50 ohm]-- V1.plate --[C2 1n 500 V]-- P
P --[L1 90 uH 2 ohm]-- G
P --[C3 300p 500 V]-- gnd
G --[C4 300p 500 V]-- gnd
G --[C1 47p 500 V]-- V1.grid --[R1 47k]-- gnd
V1.cathode -- gnd
"""


def test_a_coil_with_a_divider_of_capacitors_is_in_phase(review: Callable[[str], Review]) -> None:
    """Colpitts: the middle of the capacitors at rest, the ends of the coil go opposite ways."""
    looked = review(COLPITTS)
    assert told(looked, PHASE) == told(looked, WEAK) == []


def test_a_ladder_behind_a_stage_without_its_bypass(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(WEAK, "wrong"), WEAK)
    assert (found.at, found.state, found.level) == (("C1", "V1A"), "warm", "notice")
    assert found.remedy == "Use 2.2 uF or more for C1"
    assert found.evidence["loop_gain"].value == pytest.approx(0.823, rel=0.02)
    assert found.evidence["frequency"].value == pytest.approx(12.6, rel=0.02)
    assert found.limit.value == 1
    assert told(sample(WEAK, "right"), WEAK) == []


@pytest.mark.parametrize(
    ("written", "instead", "level"),
    [
        # what the remedy asks for is enough
        ("C1 25n 100 V", "C1 2.2 uF 100 V", None),
        ("C1 25n 100 V", "C1 100n 100 V", "notice"),
        ("C1 25n 100 V", "C1 470n 100 V", "advice"),
        ("C1 25n 100 V", "C1 25 uF 100 V", None),
        # something from outside drives the grid as well
        ("N1 --[C3", "signal IN 1 V 1 kHz\nIN --[R9 1M]-- N1 --[C3", None),
        ("V1A.cathode --[C1 25n 100 V]-- gnd\n", "", "notice"),
    ],
)
def test_the_loop_gain_of_a_ladder(
    written: str, instead: str, level: str | None, sample: Callable[[str, str], Review],
    review: Callable[[str], Review],
) -> None:  # fmt: skip
    text = "\n".join(sample(WEAK, "wrong").lines)
    assert written in text
    found = told(review(text.replace(written, instead) + "\n"), WEAK)
    assert [at for at, _ in found] == ([] if level is None else [level])


@pytest.mark.parametrize(
    ("track", "at", "fires"),
    [("100k", 50, False), ("100k", 90, False), ("10k", 10, True), ("10k", 90, True)],
)
def test_a_pot_that_lets_it_start_at_one_end_is_in_order(
    track: str, at: int, fires: bool, sample: Callable[[str, str], Review],
    review: Callable[[str], Review],
) -> None:  # fmt: skip
    """As a load of the plate it is all of its track at one end, and nothing at the other."""
    text = "\n".join(sample(WEAK, "right").lines)
    line = "V1A.plate --[C5 100n 400 V]-- OUT --[R6 1M]-- gnd"
    assert line in text
    loaded = (
        f"V1A.plate --[C5 10 uF 400 V]-- P1.top\nP1.wiper -- gnd\nP1.bottom -- gnd\n"
        f"pot P1 {track} linear at {at} %"
    )
    assert bool(told(review(text.replace(line, loaded) + "\n"), WEAK)) is fires


def test_a_tickler_of_too_few_turns(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """The start needs S M / (C R): the tube's S times 0.4 sqrt(L1 L2) over what the tank loses."""
    found = only(sample(f"{WEAK}/coil", "wrong"), WEAK)
    assert (found.at, found.state, found.level) == (("V1",), "warm", "notice")
    assert found.evidence["loop_gain"].value == pytest.approx(0.287, rel=0.02)
    assert found.remedy == "Give the smaller winding of L1 more turns, or couple it closer"
    assert told(sample(f"{WEAK}/coil", "right"), WEAK) == []


@pytest.mark.parametrize(
    ("tick", "level"), [("1.59 uH", "notice"), ("1.94 uH", "advice"), ("2.6 uH", None)]
)
def test_the_limits_of_a_loop_gain(
    tick: str, level: str | None, sample: Callable[[str, str], Review],
    review: Callable[[str], Review],
) -> None:  # fmt: skip
    """It goes with the mutual inductance, the root of the tickler's own."""
    text = "\n".join(sample(f"{WEAK}/coil", "wrong").lines)
    found = told(review(text.replace("tick 0.2 uH", f"tick {tick}") + "\n"), WEAK)
    assert [at for at, _ in found] == ([] if level is None else [level])


def test_a_bridge_starts_on_its_cold_lamp(sample: Callable[[str, str], Review]) -> None:
    """At its rating the lamp holds the loop just under one; cold it is a tenth, and it starts."""
    assert told(sample("signal.lamp-levels-backwards", "right"), WEAK) == []


def test_an_unsolved_set_is_not_judged(review: Callable[[str], Review], sample) -> None:  # type: ignore[no-untyped-def]
    text = "\n".join(sample(WEAK, "wrong").lines).replace("R6 1M", "R6 ?")
    looked = review(text + "\n")
    assert told(looked, WEAK) == []
    assert [n.at for n in looked.not_judged if n.rule == WEAK] == [("V1A",)]
