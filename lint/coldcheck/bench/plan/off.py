"""What stays charged after switch-off, from any state of the plan, and how to get rid of it."""

from __future__ import annotations

from math import inf, log
from typing import TYPE_CHECKING

from coldcheck.bench.chart.points import shown_name
from coldcheck.bench.plan.model import Charge
from coldcheck.drawing.kinds import PartKind
from coldcheck.solve.cycle.network import plain
from coldcheck.solve.off.discharge import TOUCH_V
from coldcheck.solve.off.off_state import off_state
from coldcheck.solve.solution import HIGH

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.off.discharge import Decay
    from coldcheck.solve.solution import Solution

ELECTROLYTIC, FILM = 0.20, 0.10
"""Tolerance of a capacitor that states none (common practice)."""

SOON_S = 0.1
DISCHARGE_OHM = (1e3, 2.2e3, 4.7e3, 1e4, 2.2e4)
DISCHARGE_AMPS = 0.1
"""Most the resistor of a discharge lead should draw at first (common practice)."""


def charges_of(circuit: Circuit, solutions: Mapping[str, Solution]) -> tuple[Charge, ...]:
    """Every capacitor above 60 V after switch-off in the worst state and switch position."""
    off = off_state(circuit, solutions)
    worst: dict[str, Decay] = {}
    for position in off.positions:
        for decay in position.capacitors:
            old = worst.get(decay.capacitor.name)
            later = old is None or decay.seconds > 1.02 * old.seconds + SOON_S
            if abs(decay.volts) > TOUCH_V and decay.seconds > SOON_S and later:
                worst[decay.capacitor.name] = decay
    return tuple(_charge(circuit, d) for d in sorted(worst.values(), key=lambda d: -d.seconds))


def unknown_charges(circuit: Circuit, solutions: Iterable[Solution]) -> tuple[str, ...]:
    """Capacitors that nothing can be said of: no value, or no voltage in any solved state."""
    solved = [s for s in solutions if s.converged]
    return tuple(
        b.name
        for b in circuit.branches.values()
        if b.kind is PartKind.CAPACITOR
        and b.a != b.b
        and (b.value is None or not any(s.between(b.a, b.b) for s in solved))
        and plain(b.part.voltage if b.part else None, "volt", inf) >= TOUCH_V
    )


def _charge(circuit: Circuit, decay: Decay) -> Charge:
    branch = decay.capacitor
    plus = branch.plus or (branch.a if decay.volts >= 0 else branch.b)
    low, high = _range(circuit, decay)
    return Charge(
        branch.name,
        shown_name(circuit, plus),
        shown_name(circuit, branch.other(plus)),
        abs(decay.volts),
        decay.joules,
        decay.seconds,
        low,
        high,
        decay.drained_by if decay.seconds != inf else (),
        decay.charged_in,
        decay.thrown,
        decay.undrawn,
    )


def _range(circuit: Circuit, decay: Decay) -> tuple[float, float]:
    """R and C at either end together, from a mains voltage at either end: t = RC ln(V / 60)."""
    if decay.seconds == inf:
        return inf, inf
    volts, part = abs(decay.volts), decay.capacitor.part
    stated = part.tolerance if part else None
    usual = ELECTROLYTIC if decay.capacitor.plus else FILM
    farads, ohms = (usual if stated is None else stated), circuit.usual.resistor
    tau = decay.seconds / log(volts / TOUCH_V)
    ends = []
    for sign in (-1, 1):
        off = circuit.mains_tolerance if sign < 0 or decay.charged_in != HIGH else 0.0
        start = volts * (1 + sign * off)
        ends.append((1 + sign * farads) * (1 + sign * ohms) * tau * log(max(start / TOUCH_V, 1.0)))
    return ends[0], ends[1]


def slowest(charges: Iterable[Charge]) -> Charge | None:
    """The one to wait for."""
    return max(charges, key=lambda c: c.high, default=None)


def discharge_resistor(circuit: Circuit, charges: Sequence[Charge]) -> tuple[float, float] | None:
    """Ohms of a discharge lead for what is charged, and seconds to hold it on; ``None`` if naught.

    Seconds: five time constants of everything charged in parallel.
    """
    if not charges:
        return None
    volts = max(c.volts for c in charges)
    ohms = next((r for r in DISCHARGE_OHM if volts / r <= DISCHARGE_AMPS), DISCHARGE_OHM[-1])
    farads = sum(plain(circuit.branches[c.capacitor].value, "farad", 0.0) for c in charges)
    return ohms, 5 * ohms * farads
