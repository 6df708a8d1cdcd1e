"""Relays follow their coils, in states and in faults; late ones keep the supply away."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.solve import solve_states
from coldcheck.solve.faults.fault import OPEN, THROWN, Fault
from coldcheck.solve.faults.solver import FaultSolver
from coldcheck.solve.off.off_state import off_state

if TYPE_CHECKING:
    from coldcheck.solve.solution import Solution

LOAD = "B --+[E2 100 V]-- gnd\nB -- K1.common\nK1.no --[R1 1k]-- gnd\nK1.nc --[R2 3k]-- gnd\n"


def fed(volts: float, more: str = "") -> str:
    return (
        f"relay K1 spdt 12 V 250 ohm {more}\nC --+[E1 {volts} V]-- gnd\nC --[S1 switch]-- D\n"
        + ("D -- K1.coil.1\nK1.coil.2 -- gnd\n" + LOAD)
    )


def states(text: str) -> dict[str, Solution]:
    return solve_states(build_circuit(parse_drawing(text)))


def amps(solution: Solution) -> tuple[float, float]:
    found = [solution.current(name) for name in ("R1", "R2")]
    return found[0].dc, found[1].dc  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("volts", "more", "pulled"),
    [
        # IEC 61810-1, class 1 (from memory): in at 80 %, a DC coil out at 5 %, one of AC at 15 %.
        (12.0, "", True), (9.7, "released", True), (9.5, "released", False), (9.5, "", True),
        (0.7, "", True), (0.5, "", False), (12.0, "released", True),
    ],
)  # fmt: skip
def test_a_coil_says_where_its_contacts_are(volts: float, more: str, pulled: bool) -> None:
    got = amps(states(fed(volts, more))["warm"])
    assert got == pytest.approx((0.1, 0.0) if pulled else (0.0, 100 / 3e3), abs=1e-5)


def test_a_coil_for_ac_lets_go_at_fifteen_hundredths() -> None:
    text = fed(1.5).replace("12 V 250", "12 Vac 250")
    assert amps(states(text)["warm"])[1] > 0.03
    assert amps(states(fed(1.5))["warm"])[1] < 1e-5


def test_a_switch_that_takes_its_coil_lets_it_go() -> None:
    found = states(fed(12.0))
    assert found["standby S1"].state.thrown == {"S1", "K1"}
    assert amps(found["standby S1"]) == pytest.approx((0.0, 100 / 3e3), abs=1e-5)
    assert found["standby K1"].state.thrown == {"K1"}
    assert amps(found["standby K1"]) == amps(found["standby S1"])


def test_one_relay_brings_the_next() -> None:
    text = (
        fed(12.0)
        + "relay K2 spst 100 V 10 kohm\nK1.no -- K2.coil.1\nK2.coil.2 -- gnd\n"
        + ("B -- K2.common\nK2.no --[R3 5k]-- gnd\n")
    )
    found = states(text)
    assert found["warm"].current("R3").dc == pytest.approx(0.02, rel=1e-3)  # type: ignore[union-attr]
    assert found["standby S1"].state.thrown == {"S1", "K1", "K2"}


def test_a_buzzer_has_no_steady_state() -> None:
    text = "relay K1 spdt 12 V 250 ohm\nC --+[E1 12 V]-- gnd\nC -- K1.common\nK1.nc -- K1.coil.1\n"
    warm = states(text + "K1.coil.2 -- gnd\nK1.nc --[R1 1k]-- gnd\n")["warm"]
    assert not warm.converged
    assert "buzzer" in warm.reason


def test_a_fault_that_takes_the_coil_lets_it_go() -> None:
    solver = FaultSolver(build_circuit(parse_drawing(fed(12.0))))
    for fault in (Fault(OPEN, "K1.coil"), Fault(THROWN, "S1"), Fault(THROWN, "K1")):
        for found in (solver.solve(fault), *solver.solve_all([fault])):
            assert found.state.name == f"failed {fault.name}"
            assert amps(found) == pytest.approx((0.0, 100 / 3e3), abs=1e-5)
    stays = solver.solve(Fault(OPEN, "R1"))
    assert stays.state.thrown == frozenset()


LATE = (
    "mains 120 V 60 Hz\ntransformer T1\n primary pri 120 V 4 ohm\n winding ht 250 V 200 ohm\n"
    " winding warm 6.3 V 2 A\ntube V1 6V6GT heater T1.warm\nT1.warm.2 -- gnd -- T1.ht.2\n"
    "relay K1 spst 6.3 V 10 ohm {}\nT1.warm.1 -- K1.coil.1\nK1.coil.2 -- gnd\n"
    "T1.ht.1 --[D1 1N4007]-> K1.common\nK1.no --[R1 1k 20 W]-- B1\nB1 --+[C1 40 uF 450 V]-- gnd\n"
    "B1 -- V1.plate\nB1 --[R2 1k 2 W]-- V1.screen\nV1.grid --[R3 470k]-- gnd\n"
    "V1.cathode --[R4 270 ohm 5 W]-- gnd\n"
)


def test_a_late_supply_is_not_there_while_the_tubes_warm_up() -> None:
    """250 V rms charges an unloaded capacitor to 250 times the root of 2 at once; late, to none."""
    at_once, late = states(LATE.format("delay 5 s")), states(LATE.format("delay 45 s"))
    assert at_once["cold"].waves["B1"].dc == pytest.approx(250 * 2**0.5, rel=0.05)
    assert abs(late["cold"].waves["B1"].dc) < 1.0
    assert late["warm"].waves["B1"].dc == pytest.approx(at_once["warm"].waves["B1"].dc)
    assert abs(late["standby K1"].waves["B1"].dc) < 1.0


def test_off_a_relay_is_at_rest() -> None:
    """A bleeder on a contact that breaks drains once the set is off, one that makes does not."""
    text = (
        "relay K1 spdt 12 V 250 ohm\nC --+[E1 12 V]-- gnd\nC -- K1.coil.1\nK1.coil.2 -- gnd\n"
        "B --+[E2 400 V]-- gnd\nB --[D1 1N4007]-> X --+[C1 47 uF 500 V]-- gnd\nX -- K1.common\n"
        "K1.{} --[R1 100k 5 W]-- gnd\n"
    )
    seconds = {}
    for end in ("no", "nc"):
        circuit = build_circuit(parse_drawing(text.format(end)))
        (slow,) = off_state(circuit, solve_states(circuit)).positions[0].capacitors
        seconds[end] = slow.seconds
    # 47 uF over 100 kohm from 400 V to 60 V: 4.7 s times ln(400 / 60), the diode's drop apart.
    assert seconds["nc"] == pytest.approx(4.7 * 1.897, rel=0.02)
    assert seconds["no"] > 1000 * seconds["nc"]


def test_an_ohmmeter_sees_a_relay_at_rest() -> None:
    """Power off, the contact that breaks is closed: 3k there, and 1k no more."""
    from coldcheck.bench.chart.ohmmeter import Ohmmeter

    circuit = build_circuit(parse_drawing(fed(12.0).replace("B --+[E2 100 V]-- gnd\n", "")))
    assert Ohmmeter(circuit).read(circuit.points["B"]).nominal == pytest.approx(3e3)
