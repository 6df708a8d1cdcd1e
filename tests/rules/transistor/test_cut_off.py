"""Transistors that are fed, driven and off; clamps of gates the wrong way round."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

CLAMP, CUT = "transistor.gate-clamp-reversed", "transistor.cut-off"
FOLLOWER = (
    "B1 --+[E1 30 V 1 A]-- gnd\ntransistor Q1 {type} heatsink 5 K/W\nB1 -- Q1.drain\n"
    "B1 --[R1 {above}]-- G --[R2 {below}]-- gnd\nsignal IN 1 V 1 kHz\n"
    "IN --[C1 470 nF 100 V film]-- G\nG --[R3 220 ohm]-- Q1.gate\n"
    "Q1.source --[R4 100 ohm 10 W]-- gnd\n{more}\n"
)
BIPOLAR = (
    "B1 --+[E1 {volts} V 1 A]-- gnd\ntransistor Q1 {type} heatsink 5 K/W\nB1 -- Q1.collector\n"
    "B1 --[R1 10k 1 W]-- G --[R2 {below}]-- gnd\nG -- Q1.base\n"
    "Q1.emitter --[R4 1k 10 W]-- gnd\n{more}\n"
)


def told(looked: Review, rule: str) -> list[Finding]:
    assert looked.readable
    return [f for f in looked.findings if f.rule == rule]


def follower(more: str = "", kind: str = "IRF510", above: str = "150k", below: str = "220k") -> str:
    return FOLLOWER.format(more=more, type=kind, above=above, below=below)


def bipolar(more: str = "", kind: str = "MJE340", below: str = "10k", volts: int = 30) -> str:
    return BIPOLAR.format(more=more, type=kind, below=below, volts=volts)


@pytest.mark.parametrize(
    ("more", "at"),
    [
        ("Q1.gate --[Z1 zener 12 V]-> Q1.source", "Z1"),
        ("Q1.source --[Z1 zener 12 V]-> Q1.gate", None),
        # Ahead of the gate's own resistor, which carries nothing, it holds the gate as well.
        ("G --[Z1 zener 12 V]-> Q1.source", "Z1"),
        ("Q1.gate --[D1 1N4148]-> Q1.source", "D1"),
        ("Q1.source --[D1 1N4148]-> Q1.gate", None),
        # Two back to back, and one whose way to the source is a supply's.
        ("Q1.gate --[Z1 zener 12 V]-> M <-[Z2 zener 12 V]-- Q1.source", None),
        ("Q1.gate --[R9 1M]-- B1\nB1 --[D1 1N4007]-> Q1.source", None),
    ],
)
def test_which_way_a_clamp_conducts(
    more: str, at: str | None, review: Callable[[str], Review]
) -> None:
    hits = told(review(follower(more)), CLAMP)
    assert [(f.at, f.level) for f in hits] == ([((at, "Q1"), "notice")] if at else [])


@pytest.mark.parametrize(
    ("way", "found"), [("[Z1 zener 12 V]-> Q1.gate", True), ("[Z1 zener 12 V]-- Q1.gate", False)]
)
def test_of_a_p_channel_type_it_is_the_other_way(
    way: str, found: bool, review: Callable[[str], Review]
) -> None:
    clamp = f"Q1.source --{way}" if found else "Q1.gate --[Z1 zener 12 V]-> Q1.source"
    text = (
        "B1 --+[E1 30 V 1 A]-- gnd\ntransistor Q1 IRF9610\nB1 -- Q1.source\n"
        f"Q1.drain --[R1 1k 2 W]-- gnd\nB1 --[R2 10k]-- Q1.gate --[R3 22k]-- gnd\n{clamp}\n"
    )
    assert bool(told(review(text), CLAMP)) is found


def test_a_depletion_type_works_on_the_other_side(review: Callable[[str], Review]) -> None:
    clamp = "Q1.gate --[Z1 zener 12 V]-> Q1.source"
    assert not told(review(follower(clamp, "DN2540")), CLAMP)


def test_a_gate_held_down_is_the_cause(review: Callable[[str], Review]) -> None:
    """12 V less 0.5 of a diode that carries 0.1 mA; the current left is only that of leaks."""
    looked = review(follower("Q1.gate --[Z1 zener 12 V]-> Q1.source"))
    assert not told(looked, CUT)
    (cause,) = told(looked, CLAMP)
    assert "transistor.cut-off" in str(cause.evidence)


@pytest.mark.parametrize(
    ("below", "found"),
    # IRF510: 2 to 4 V (memory), 3 V in the middle. 30 V x 2.2 / 152.2 is 0.43 V; 220k: 17.8 V.
    [("2k2", True), ("220k", False), ("22k", False)],
)
def test_a_divider_that_leaves_too_little(
    below: str, found: bool, review: Callable[[str], Review]
) -> None:
    hits = told(review(follower(below=below)), CUT)
    assert [(f.at, f.level, f.state) for f in hits] == [(("Q1",), "notice", "warm")] * found
    for f in hits:
        assert f.evidence["steering"].value == pytest.approx(30 * 2.2 / 152.2, rel=1e-3)
        assert f.evidence["across"].value == pytest.approx(30, rel=1e-3)
        assert "2 V to 4 V" in f.message


@pytest.mark.parametrize(("below", "found"), [("470k", False), ("47 ohm", True)])
def test_a_filter_transistor_with_a_decoupled_reference(
    below: str, found: bool, review: Callable[[str], Review]
) -> None:
    """The reference's capacitor does not make a supply of it: 320 V x 47 / 47047 are 0.32 V."""
    text = (
        "transistor Q1 IRF840 heatsink 10 K/W\nB0 --+[E1 320 V 0.2 A]-- gnd\nB0 -- Q1.drain\n"
        f"B0 --[R1 47k 5 W]-- REF --[R2 {below} 1 W]-- gnd\nREF --+[C2 22 uF 450 V]-- gnd\n"
        "REF --[R3 1k]-- Q1.gate\nQ1.source -- B1 --+[C3 10 uF 450 V]-- gnd\n"
        "Q1.source --[Z1 zener 12 V]-> Q1.gate\nB1 --[R4 47k 3 W]-- gnd\n"
    )
    assert bool(told(review(text), CUT)) is found


@pytest.mark.parametrize(
    ("text", "found"),
    [
        # A bipolar pass transistor: the base at 30 V x 0.1 / 10.1 = 0.3 V.
        (bipolar(below="100 ohm"), True),
        (bipolar(), False),
        # Less than 5 V is no supply.
        (bipolar(below="1 ohm", volts=4), False),
        # Something else holds the output up: 30 V x 0.1 / 1.1 = 2.7 V.
        (follower("B1 --[R9 1k 1 W]-- Q1.source", below="2k2"), False),
        (follower("B1 --[R9 8k2 1 W]-- Q1.source", below="2k2"), True),
        # Nothing that would turn it on is there, or a switch has that in hand.
        (follower(above="150k", below="2k2").replace("B1 --[R1 150k]-- G", "G"), False),
        (follower().replace("-- G --[R2 220k]", "-- G --[S1 switch closed]-- gnd\nG --[R2 220k]"),
         False),
        # A pair of both polarities may be of class B.
        (bipolar("transistor Q2 MJE350\nQ2.emitter -- Q1.emitter\nQ2.collector -- gnd\n"
                 "Q2.base -- G", below="100 ohm"), False),
        # What switches may be off: its load is at the collector, and nothing gives it a signal.
        (bipolar(below="100 ohm").replace("B1 -- Q1.c", "B1 --[R8 1k]-- Q1.c")
         .replace("Q1.emitter --[R4 1k 10 W]--", "Q1.emitter --"), False),
        (bipolar("signal IN 1 V\nIN --[C1 1 uF 50 V film]-- G", below="100 ohm")
         .replace("B1 -- Q1.c", "B1 --[R8 1k]-- Q1.c"), True),
    ],
)  # fmt: skip
def test_what_is_to_carry_something(
    text: str, found: bool, review: Callable[[str], Review]
) -> None:
    assert bool(told(review(text), CUT)) is found
