"""Alternating voltages with power on: windings, and what the mains reach without one."""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING

from coldcheck.bench.chart.changed import tied
from coldcheck.bench.chart.points import RAIL_VOLTS, named_points
from coldcheck.bench.instruments.clip import mains_side
from coldcheck.bench.plan.model import AC, Check
from coldcheck.bench.plan.rails import METER, NOUGHT
from coldcheck.circuit.model import GROUND
from coldcheck.solve.cycle.network import HEATER_VOLTS_MAX, plain
from coldcheck.solve.engine import Solver
from coldcheck.solve.solution import WARM, State

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.bench.plan.power import Power, Rung
    from coldcheck.circuit.model import Circuit, Winding

WOUND = "another winding or tap than the drawing's, shorted turns, or another load"


def winding_checks(power: Power, rung: Rung, *, heaters: bool = False) -> Iterator[Check]:
    """Every secondary end to end, or only those of heaters: AC rms."""
    circuit = power.circuit
    for winding in circuit.windings():
        rated = plain(winding.volts, "volt", 0.0)
        if winding.primary or (heaters and rated > HEATER_VOLTS_MAX):
            continue
        note = "loaded" if heaters else "unloaded"
        yield from (
            check
            for ends in _measured(winding, rated)
            if (check := _winding(power, rung, winding, ends, note)) is not None
        )


def _measured(winding: Winding, rated: float) -> Iterator[tuple[int, int]]:
    """The leads to measure between: the halves of a high one by themselves, others end to end."""
    last = len(winding.leads) - 1
    if rated > HEATER_VOLTS_MAX and last == 2:
        yield from ((0, 1), (2, 1))
    else:
        yield (0, last)


def _winding(
    power: Power, rung: Rung, winding: Winding, ends: tuple[int, int], note: str
) -> Check | None:
    (a, at), (b, to) = (winding.leads[k] for k in ends)
    volts = _winding_volts(power, rung, at, to)
    if volts is None:
        return None
    off = hypot(power.circuit.usual.winding_voltage, 2 * METER) * volts
    return Check(
        f"{winding.name}.{a}", f"{winding.name}.{b}", AC, volts, volts - off, volts + off,
        volts - off, volts + off, WOUND, mains=rung.volts, note=note,
    )  # fmt: skip


def _winding_volts(power: Power, rung: Rung, a: str, b: str) -> float | None:
    wave = rung.full.between(a, b)
    if wave is None:
        # nothing holds it with the tubes out: between its ends there is a voltage all the same
        solver = Solver(tied(power.circuit, a))
        solver.solve(State(WARM, WARM))
        found = solver.solve(rung.full.state)
        wave = found.between(a, b) if found.converged else None
    return None if wave is None else wave.ac_rms


def mains_checks(circuit: Circuit, rung: Rung) -> Iterator[Check]:
    """Named points that the mains themselves reach in a set without a transformer: AC rms."""
    side = mains_side(circuit)
    for name, net in named_points(circuit).items():
        wave = rung.full.waves.get(net)
        if GROUND not in side or net not in side or wave is None:
            continue
        volts = wave.ac_rms
        if volts >= RAIL_VOLTS:
            off = 3 * METER * volts + NOUGHT
            why = "the switch or the fuse is open, or line and neutral are exchanged"
            yield Check(
                name, GROUND, AC, volts, volts - off, volts + off, volts - off, volts + off, why,
                mains=rung.volts,
            )  # fmt: skip
