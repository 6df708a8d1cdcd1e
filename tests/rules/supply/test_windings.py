"""Windings in step and out of step; insulation; switches; checked by sums and by the solver."""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

OPPOSED, INSULATION = "supply.windings-opposed", "supply.insulation-overstressed"
SWITCH = "supply.switch-over-rating"


def told(looked: Review, rule: str) -> list:
    assert not [n for n in looked.not_judged if n.kind.broken]
    return [f for f in looked.findings if f.rule == rule]


def windings(*lines: str, wires: str) -> str:
    own = "".join(f" winding {line}\n" for line in lines)
    return f"mains 120 V 60 Hz\ntransformer T1\n primary pri 120 V 5 ohm\n{own}{wires}\n"


SIDE = "T1.a.1 -- T1.b.1\nT1.a.2 -- T1.b.2\nT1.a.2 -- gnd\nT1.a.1 --[R1 100 ohm 5 W]-- gnd"


@pytest.mark.parametrize(
    ("first", "second", "left"),
    [
        ("a 6.3 V 0.1 ohm", "b 6.3 V 0.1 ohm", None),
        ("a 6.3 V 0.1 ohm dot 2", "b 6.3 V 0.1 ohm dot 2", None),
        ("a 6.3 V 0.1 ohm", "b 6.3 V 0.1 ohm dot 2", 12.6),
        ("a 6.3 V 0.1 ohm", "b 6.2 V 0.1 ohm", None),  # 0.1 V of 6.3: 1.6 %
        ("a 6.3 V 0.1 ohm", "b 5 V 0.1 ohm", 1.3),
        ("a 6.3 V ct 0.1 ohm", "b 6.3 V ct 0.1 ohm dot 2", 12.6),
    ],
)
def test_side_by_side(
    first: str, second: str, left: float | None, review: Callable[[str], Review]
) -> None:
    found = told(review(windings(first, second, wires=SIDE)), OPPOSED)
    assert [f.evidence["loop_emf"].value for f in found] == pytest.approx([left] if left else [])
    # Around the loop only the copper limits: 2 x 0.1 ohm.
    if left:
        assert found[0].evidence["loop_current"].value == pytest.approx(left / 0.2)
        assert found[0].at == ("T1.a", "T1.b")


@pytest.mark.parametrize(
    ("second", "junction", "far", "total", "found"),
    [
        ("b 120 V 30 ohm", "T1.b.1", "T1.b.2", 240, False),
        ("b 120 V 30 ohm dot 2", "T1.b.1", "T1.b.2", 0, True),
        ("b 120 V 30 ohm", "T1.b.2", "T1.b.1", 0, True),
        ("b 120 V 30 ohm dot 2", "T1.b.2", "T1.b.1", 240, False),
        ("b 60 V ct 60 V 30 ohm dot 2", "T1.b.1", "T1.b.2", 0, True),
        ("b 60 V ct 60 V 30 ohm", "T1.b.1", "T1.b.2", 240, False),
        ("b 60 V ct 60 V 30 ohm dot 2", "T1.b.2", "T1.b.1", 240, False),
        ("b 60 V ct 60 V 30 ohm", "T1.b.2", "T1.b.1", 0, True),
        ("b 40 V 10 ohm", "T1.b.2", "T1.b.1", 80, False),  # bucked on purpose
    ],
)
def test_in_series(
    second: str, junction: str, far: str, total: float, found: bool,
    review: Callable[[str], Review],
) -> None:  # fmt: skip
    wires = f"T1.a.1 -- gnd\nT1.a.2 -- {junction}\n{far} -- OUT\nOUT --[R1 1M 1 W]-- gnd"
    looked = review(windings("a 120 V 30 ohm", second, wires=wires))
    assert bool(told(looked, OPPOSED)) is found
    # The solver takes the dots as the rule does (1 Mohm hardly loads).
    wave = looked.solutions["warm"].wave("OUT")
    assert wave is not None
    assert wave.ac_rms == pytest.approx(total, abs=0.5)


SUM = "T1.a.1 -- T1.c.1\nT1.a.2 -- T1.b.1\nT1.b.2 -- T1.c.2\nT1.b.2 -- gnd"
SUM += "\nT1.a.1 --[R1 100 ohm 5 W]-- gnd"
EQUAL_ONLY = "Join only windings of equal voltage side by side"


@pytest.mark.parametrize(
    ("lines", "wires", "left", "remedy"),
    [
        # Two in series beside the third: the sum is even once the right one is turned.
        (("a 5 V 0.1 ohm", "b 5 V 0.1 ohm", "c 10 V 0.2 ohm"), SUM, None, ""),
        (("a 5 V 0.1 ohm", "b 5 V 0.1 ohm", "c 10 V 0.2 ohm dot 2"), SUM, 20, "T1.c"),
        (("a 5 V 0.1 ohm", "b 5 V 0.1 ohm dot 2", "c 10 V 0.2 ohm"), SUM, 10, "T1.b"),
        (("a 5 V 0.1 ohm dot 2", "b 5 V 0.1 ohm", "c 10 V 0.2 ohm"), SUM, 10, "T1.a"),
        # Turned, 6.3 V and 5 V still leave 1.3 V.
        (("a 6.3 V 0.1 ohm", "b 5 V 0.1 ohm dot 2"), SIDE, 11.3, ""),
        (("a 6.3 V 0.1 ohm", "b 5 V 0.1 ohm"), SIDE, 1.3, ""),
        # 5 % of the winding, not of the half of it: 0.63 V.
        (("a 6.3 V ct 6.3 V 0.1 ohm", "b 12 V 0.1 ohm"), SIDE, None, ""),
        (("a 6.3 V ct 6.3 V 0.1 ohm", "b 11.9 V 0.1 ohm"), SIDE, 0.7, ""),
        (("a 6.3 V ct 6.3 V 0.1 ohm", "b 12 V 0.1 ohm dot 2"), SIDE, 24.6, "T1.b"),
    ],
)
def test_the_winding_to_turn(
    lines: tuple[str, ...],
    wires: str,
    left: float | None,
    remedy: str,
    review: Callable[[str], Review],
) -> None:
    found = told(review(windings(*lines, wires=wires)), OPPOSED)
    assert [f.evidence["loop_emf"].value for f in found] == pytest.approx([left] if left else [])
    asked = f"Swap the two leads of {remedy}, so" if remedy else EQUAL_ONLY
    assert all(f.remedy.startswith(asked) for f in found)


def test_two_windings_of_two_transformers_shorted_on_themselves_are_not_side_by_side(
    review: Callable[[str], Review],
) -> None:
    text = windings("a 3.15 V ct 3.15 V 0.1 ohm", wires="").rstrip() + (
        "\ntransformer T2\n primary pri 120 V 5 ohm\n winding b 5 V ct 5 V 0.1 ohm\n"
        "T1.a.1 -- T1.a.2 -- gnd\nT2.b.1 -- T2.b.2 -- gnd\n"
    )
    assert not told(review(text), OPPOSED)


@pytest.mark.parametrize(("ohms", "found"), [("0.95", True), ("1.05", False)])
def test_less_than_an_ohm_makes_a_loop(
    ohms: str, found: bool, review: Callable[[str], Review]
) -> None:
    wires = SIDE.replace("T1.a.1 -- T1.b.1", f"T1.a.1 --[R9 {ohms} ohm 200 W]-- T1.b.1")
    text = windings("a 6.3 V 0.1 ohm", "b 6.3 V 0.1 ohm dot 2", wires=wires)
    assert bool(told(review(text), OPPOSED)) is found


@pytest.mark.parametrize(
    ("volts", "found"),
    [("3.15 V ct 3.15 V", False), ("2.5 V ct 2.5 V", True), ("10 V ct 10 V", True)],
)
def test_windings_of_two_transformers_side_by_side(
    volts: str, found: bool, review: Callable[[str], Review]
) -> None:
    text = windings("a 3.15 V ct 3.15 V 0.1 ohm", wires="").rstrip() + (
        f"\ntransformer T2\n primary pri 120 V 5 ohm\n winding b {volts} 0.1 ohm\n"
    )
    hits = told(review(text + SIDE.replace("T1.b", "T2.b") + "\n"), OPPOSED)
    assert [(f.at, f.remedy) for f in hits] == [(("T1.a", "T2.b"), EQUAL_ONLY)] * found


def test_a_load_at_the_joint_of_two_windings_is_no_mistake(
    review: Callable[[str], Review],
) -> None:
    wires = (
        "T1.a.1 -- gnd\nT1.a.2 -- T1.b.1\nT1.b.2 -- OUT\nOUT --[R1 1M 1 W]-- gnd\n"
        "T1.a.2 --[R9 100k 1 W]-- gnd"
    )
    looked = review(windings("a 120 V 30 ohm", "b 120 V 30 ohm dot 2", wires=wires))
    assert not told(looked, OPPOSED)


def test_a_tap_between_two_windings_is_no_mistake(review: Callable[[str], Review]) -> None:
    wires = (
        "T1.a.1 --[D1 1N4007]-> OUT\nT1.a.2 -- T1.b.1\nT1.b.1 -- gnd\n"
        "T1.b.2 --[D2 1N4007]-> OUT\nOUT --[R1 10k 10 W]-- gnd"
    )
    looked = review(windings("a 120 V 30 ohm", "b 120 V 30 ohm dot 2", wires=wires))
    assert not told(looked, OPPOSED)


def test_opposed_pairs(sample: Callable[[str, str], Review], only: Callable[..., object]) -> None:
    found = only(sample(OPPOSED, "wrong"), OPPOSED)
    assert found.evidence["loop_emf"].value == pytest.approx(12.6)
    assert found.evidence["loop_current"].value == pytest.approx(42)  # 12.6 V over 0.3 ohm
    series = only(sample(f"{OPPOSED}/series", "wrong"), OPPOSED)
    assert (series.at, series.evidence["left"].value) == (("T1.a", "T1.b"), 0.0)


LIFTED = """transformer T1
 primary pri 120 V
 winding a 100 V {insulation}
mains 120 V 60 Hz
T1.a.2 -- LOW
LOW --+[E1 200 V]-- gnd
T1.a.1 --[R1 1M 1 W]-- LOW
"""


@pytest.mark.parametrize(("stands", "over"), [(300, True), (340, True), (360, False)])
def test_insulation_sees_dc_and_peak(
    stands: int, over: bool, review: Callable[[str], Review]
) -> None:
    # 200 V DC and the peak of 100 V, at high line a tenth more: 200 + 155.6 = 355.6 V.
    found = told(review(LIFTED.format(insulation=f"insulation {stands} V")), INSULATION)
    assert bool(found) is over
    if over:
        most = 200 + 1.1 * 100 * sqrt(2)
        assert found[0].evidence["peak"].value == pytest.approx(most, rel=2e-3)
        assert (found[0].at, found[0].state) == (("T1.a",), "high line")


def test_insulation_of_a_choke(review: Callable[[str], Review]) -> None:
    text = "B1 --+[E1 400 V]-- gnd\nB1 --[L1 10 H 200 ohm{}]-- B2 --[R1 40k 10 W]-- gnd\n"
    (found,) = told(review(text.format(" insulation 350 V")), INSULATION)
    assert (found.at, found.evidence["peak"].value) == (("L1",), pytest.approx(400))
    assert not told(review(text.format(" insulation 500 V")), INSULATION)
    assert not told(review(text.format("")), INSULATION)


def test_insulation_pair(sample: Callable[[str, str], Review], only: Callable[..., object]) -> None:
    looked = sample(INSULATION, "wrong")
    found = only(looked, INSULATION)
    assert (found.level, found.at) == ("notice", ("T1.ht",))
    # Tap and end of the winding move together: peak of the end = peak of 300 V on top of the tap.
    high = looked.solutions["high line"]
    end, tap = high.wave("T1.ht.1"), high.wave("T1.ht.ct")
    assert end is not None
    assert tap is not None
    assert found.evidence["peak"].value == pytest.approx(end.peak)
    assert (end - tap).peak == pytest.approx(1.1 * 300 * sqrt(2), rel=0.06)
    # The choke itself carries the tap's ripple, and what it stands is not said.
    assert ("L1",) in [n.at for n in looked.not_judged if n.rule == INSULATION]


BREAKS = (
    "B1 --+[E1 {volts} V]-- gnd\nB1 --[S1 switch standby {rating}]-- B2\nB2 --[R1 1k 200 W]-- gnd\n"
)


@pytest.mark.parametrize(
    ("volts", "rating", "over"),
    [
        (300, "500 V 2 A", None),
        (300, "250 V 2 A", "V"),
        (300, "250 Vac 3 A", "V"),
        (24, "250 Vac 3 A", None),
        (300, "500 V 0.2 A", "A"),  # 300 V over 1 kohm: 0.3 A
        (300, "500 V 0.3 A", None),
    ],
)
def test_what_a_switch_breaks(
    volts: int, rating: str, over: str | None, review: Callable[[str], Review]
) -> None:
    found = told(review(BREAKS.format(volts=volts, rating=rating)), SWITCH)
    assert [f.limit.unit for f in found] == ([over] if over else [])
    if over == "V":
        assert found[0].evidence["dc"].value == pytest.approx(volts, rel=1e-3)
        assert found[0].state == "standby S1"


def test_a_switch_without_a_rating_is_mentioned(review: Callable[[str], Review]) -> None:
    looked = review(BREAKS.format(volts=300, rating=""))
    assert not told(looked, SWITCH)
    assert ("S1",) in [n.at for n in looked.not_judged if n.rule == SWITCH]


def test_a_declared_switch_has_the_same_limits(review: Callable[[str], Review]) -> None:
    text = (
        "switch S1 spst 250 Vac 3 A\nB1 --+[E1 300 V]-- gnd\nB1 -- S1.common\n"
        "S1.1 --[R1 1k 200 W]-- gnd\n"
    )
    (found,) = told(review(text), SWITCH)
    assert (found.at, found.limit.value) == (("S1",), 30.0)


@pytest.mark.parametrize(("rating", "over"), [("125 Vac 3 A", True), ("250 Vac 3 A", False)])
def test_a_mains_switch_against_the_mains(
    rating: str, over: bool, review: Callable[[str], Review]
) -> None:
    text = (
        "mains 230 V 50 Hz\ntransformer T1\n primary pri 230 V 40 ohm\n winding w 6.3 V 1 A\n"
        f"line --[F1 fuse 0.2 A]-- A --[S1 switch {rating}]-- T1.pri.1\nT1.pri.2 -- neutral\n"
        "T1.w.2 -- gnd\nT1.w.1 --[R1 10 ohm 10 W]-- gnd\n"
    )
    found = told(review(text), SWITCH)
    assert [f.evidence["mains"].value for f in found] == ([230.0] if over else [])


def test_switch_pair(sample: Callable[[str, str], Review], only: Callable[..., object]) -> None:
    found = only(sample(SWITCH, "wrong"), SWITCH)
    # With the load off, the first capacitor stands at the peak of the winding: 250 V x 1.414.
    assert found.evidence["dc"].value == pytest.approx(250 * sqrt(2), rel=0.05)
    assert (found.level, found.state, found.limit.value) == ("notice", "standby S1", 30.0)


@pytest.mark.parametrize(("volts", "said"), [(950, False), (1050, True)])
def test_a_kilovolt_wants_its_insulation_written(
    volts: int, said: bool, review: Callable[[str], Review]
) -> None:
    text = f"B1 --+[E1 {volts} V]-- gnd\nB1 --[L1 10 H 200 ohm]-- B2 --[R1 100k 20 W]-- gnd\n"
    looked = review(text)
    assert (("L1",) in [n.at for n in looked.not_judged if n.rule == INSULATION]) is said


@pytest.mark.parametrize(
    ("winding", "wires", "said"),
    [
        ("120 V ct 120 V", "T1.a.ct --+[E1 80 V]-- gnd\n", [("T1.a",)]),
        ("20 V ct 20 V", "T1.a.ct --+[E1 80 V]-- gnd\n", []),  # no high-voltage winding
        ("120 V ct 120 V", "T1.a.ct -- gnd\n", []),
        # A choke from gnd to a rectifier's negative end, and one that only leads to a resistor.
        (
            "120 V",
            "T1.a.1 --[D1 1N4007]-> B1\nT1.a.2 -- B1\nB1 --+[E1 80 V]-- gnd\n"
            "NEG --[D2 1N4007]-> T1.a.1\nNEG --[L1 10 H 200 ohm]-- gnd\n"
            "NEG --[R9 100k 1 W]-- X --+[E2 90 V]-- gnd\n",
            [("L1",)],
        ),
        # 90 V over 1k and the choke's 9k: 81 V at its end, which neither is a winding's.
        (
            "120 V",
            "T1.a.2 -- gnd\nX --[L1 10 H 9 kohm]-- gnd\nX --[R9 1k]-- Y --+[E2 90 V]-- gnd\n",
            [],
        ),
    ],
)
def test_what_is_lifted_off_gnd(
    winding: str, wires: str, said: list[tuple[str, ...]], review: Callable[[str], Review]
) -> None:
    head = f"mains 120 V 60 Hz\ntransformer T1\n primary pri 120 V\n winding a {winding}\n"
    looked = review(head + wires)
    assert looked.readable
    assert [n.at for n in looked.not_judged if n.rule == INSULATION] == said
