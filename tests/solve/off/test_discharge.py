"""Stored charge: closed forms, published figures and an independent integration."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.drawing.kinds import PartKind
from coldcheck.solve.off.decay import seconds_above
from coldcheck.solve.off.discharge import Discharge
from coldcheck.solve.solution import Solution, State

if TYPE_CHECKING:
    from coldcheck.circuit.model import Circuit


def network(text: str, thrown: frozenset[str] = frozenset()) -> tuple[Discharge, Circuit]:
    circuit = build_circuit(parse_drawing(text, "t"))
    assert circuit.problems == ()
    capacitors = tuple(b for b in circuit.branches.values() if b.kind is PartKind.CAPACITOR)
    unsolved = Solution(State("warm", "warm"), False, math.nan, 0, "not needed", circuit)
    return Discharge.build(circuit, capacitors, thrown, unsolved), circuit


def seconds(text: str, held: dict[str, float], name: str = "C1", thrown: str = "") -> float:
    built, circuit = network(text, frozenset(filter(None, [thrown])))
    return built.seconds(circuit.branches[name], {"C1": 0.0, "C2": 0.0, "C3": 0.0, **held})


@pytest.mark.parametrize(
    ("start", "ohms", "farads", "expected"),
    [
        # t = R C ln(V0 / 60), derived; the third is a published exercise (inputs found).
        (450.0, "220k", "100 uF", 44.3),
        (350.0, "100k", "47 uF", 8.29),
        (385.0, "33k", "470 uF", 28.8),
    ],
)
def test_a_capacitor_and_its_bleeder(start: float, ohms: str, farads: str, expected: float) -> None:
    text = f"A --[C1 {farads}]-- gnd\nA --[R1 {ohms}]-- gnd\n"
    assert seconds(text, {"C1": start}) == pytest.approx(expected, rel=2e-3)
    assert seconds(text, {"C1": -start}) == pytest.approx(expected, rel=2e-3)


def test_below_the_limit_from_the_start_is_no_time_at_all() -> None:
    assert seconds("A --[C1 10 uF]-- gnd\nA --[R1 1M]-- gnd\n", {"C1": 59.0}) == 0.0


def test_without_a_drain_it_never_falls() -> None:
    assert math.isinf(seconds("A --[C1 10 uF]-- gnd\nA --[R1 1M]-- B\n", {"C1": 300.0}))


def test_through_a_choke_and_a_fuse_into_the_bleeder_behind_them() -> None:
    text = (
        "A --[C1 20 uF]-- gnd\nA --[L1 8 H 250 ohm]-- X --[F1 1 A]-- B\n"
        "B --[C2 40 uF]-- gnd\nB --[R1 220k]-- gnd\n"
    )
    # 250 ohm against 220k: both capacitors fall together. 220k * 60 uF * ln(350 / 60).
    by_hand = 220e3 * 60e-6 * math.log(350 / 60)
    assert seconds(text, {"C1": 350.0, "C2": 350.0}) == pytest.approx(by_hand, rel=2e-3)


def test_a_full_capacitor_fills_an_empty_one() -> None:
    text = "A --[C1 10 uF]-- gnd\nA --[R1 100k]-- B\nB --[C2 90 uF]-- gnd\n"
    # They meet at 300 * 10 / 100 = 30 V; the difference dies with R C1 C2 / (C1 + C2) = 0.9 s.
    by_hand = 0.9 * math.log((300 - 30) / (60 - 30))
    assert seconds(text, {"C1": 300.0}) == pytest.approx(by_hand, rel=1e-4)
    assert seconds(text, {"C1": 300.0}, "C2") == 0.0


def test_it_never_falls_where_the_meeting_point_is_above_the_limit() -> None:
    text = "A --[C1 30 uF]-- gnd\nA --[R1 100k]-- B\nB --[C2 70 uF]-- gnd\n"
    assert math.isinf(seconds(text, {"C1": 300.0}))
    assert math.isinf(seconds(text, {"C1": 300.0}, "C2"))


def test_parallel_capacitors_share_their_charge_at_once() -> None:
    text = "A --[C1 10 uF]-- gnd\nA --[C2 30 uF]-- gnd\nA --[R1 100k]-- gnd\n"
    # 10 uF at 400 V beside 30 uF at 0 V is 40 uF at 100 V.
    by_hand = 100e3 * 40e-6 * math.log(100 / 60)
    assert seconds(text, {"C1": 400.0}) == pytest.approx(by_hand, rel=1e-3)


def test_a_thrown_switch_takes_the_bleeder_away() -> None:
    text = "A --[C1 47 uF]-- gnd\nA --[S1 switch]-- B\nB --[R1 100k]-- gnd\n"
    assert seconds(text, {"C1": 300.0}) == pytest.approx(4.7 * math.log(5), rel=1e-3)
    assert math.isinf(seconds(text, {"C1": 300.0}, thrown="S1"))


LADDER = (
    "A --[C1 22 uF]-- gnd\nA --[R1 10k]-- B\nB --[C2 47 uF]-- gnd\nB --[R2 47k]-- C\n"
    "C --[C3 10 uF]-- gnd\nC --[R3 150k]-- gnd\nB --[R4 330k]-- gnd\nA --[R5 100k]-- C\n"
)


def integrated(held: dict[str, float], index: int) -> float:
    """The same ladder by a stiff integrator: last time above 60 V."""
    c = np.diag([22e-6, 47e-6, 10e-6])
    a, b, d, e, f = 1 / 10e3, 1 / 47e3, 1 / 150e3, 1 / 330e3, 1 / 100e3
    g = np.array([[a + f, -a, -f], [-a, a + b + e, -b], [-f, -b, b + d + f]])
    crossing = lambda _t, v: abs(v[index]) - 60  # noqa: E731
    start = [held["C1"], held["C2"], held["C3"]]
    run = solve_ivp(
        lambda _t, v: -np.linalg.solve(c, g @ v),
        (0, 200),
        start,
        method="Radau",
        rtol=1e-9,
        atol=1e-9,
        events=crossing,
    )
    times = run.t_events[0]
    return float(times[-1]) if len(times) else 0.0


@pytest.mark.parametrize(
    "held",
    [
        {"C1": 350.0, "C2": 340.0, "C3": 200.0},
        {"C1": 400.0, "C2": 0.0, "C3": 0.0},
        {"C1": -80.0, "C2": 320.0, "C3": 10.0},
    ],
)
def test_a_ladder_agrees_with_an_integrator(held: dict[str, float]) -> None:
    for index, name in enumerate(("C1", "C2", "C3")):
        found = seconds(LADDER, held, name)
        assert found == pytest.approx(integrated(held, index), rel=1e-4, abs=1e-3), name


def test_the_last_crossing_counts_when_the_voltage_changes_sign() -> None:
    # 200 exp(-t) - 150 exp(-t / 10) starts at 50 V, dips below -60 V and comes back.
    weights, taus = np.array([200.0, -150.0]), np.array([1.0, 10.0])
    t = seconds_above(weights, taus, 60.0)
    assert t == pytest.approx(10 * math.log(150 / 60), rel=1e-3)
