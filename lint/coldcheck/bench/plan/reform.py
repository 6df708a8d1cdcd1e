"""Forming old electrolytics again before the set itself puts its voltage on them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.bench.plan.model import Caution, Step
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering
from coldcheck.solve.cycle.network import plain
from coldcheck.solve.off.discharge import TOUCH_V

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.solve.solution import Solution

LEAK, LEAST_A = 0.03, 1e-4
"""Amperes a farad and volt at which one is done: three times what IEC 60384-4 lets a new one leak,
0.01 CV (memory); and a tenth of a milliampere at least."""

SHORTED_W = 5.0
"""Watts in the resistor when the capacitor is a short; its rating is twice that."""

STEPS = (0.25, 0.5, 0.75, 1.0)
VALUES = (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)
HOURS = 4


def reform_step(circuit: Circuit, solutions: Iterable[Solution]) -> Step | None:
    """One capacitor after the other; ``None`` where none stands more than 60 V."""
    known = [s for s in solutions if s.converged]
    found = [(b, _highest(b, known)) for b in circuit.branches.values() if _electrolytic(b)]
    old = [(b, volts) for b, volts in found if volts > TOUCH_V]
    if not old:
        return None
    return Step(
        "reform",
        "Old electrolytics only: form them again first",
        False,
        (
            Caution(
                "danger",
                "A bench supply of this voltage kills as the set does: clip on with it off, one "
                "hand, and drain the capacitor before you take the clips off.",
            ),
        ),
        tuple(_orders(old)),
    )


def _electrolytic(branch: Branch) -> bool:
    return branch.kind is PartKind.CAPACITOR and branch.plus is not None and branch.a != branch.b


def _highest(branch: Branch, solutions: Sequence[Solution]) -> float:
    plus = branch.plus or branch.a
    waves = (s.between(plus, branch.other(plus)) for s in solutions)
    return max((w.high for w in waves if w is not None), default=0.0)


def _orders(old: list[tuple[Branch, float]]) -> Iterator[str]:
    yield (
        "Only where they are old or the set has lain for a year. One by one, its + lead lifted "
        "from the circuit, from a bench supply with a current limit, + to +, through the resistor "
        "named; eyes protected. At each voltage wait until no more than the volts named "
        "stand across the resistor, then go on to the next."
    )
    for branch, volts in old:
        yield _one(branch, volts)
    yield (
        f"One that does not get there in {HOURS} hours, or gets warm to the hand with the supply "
        "off: replace it. Drain each through the same resistor before its lead goes back."
    )


def _one(branch: Branch, volts: float) -> str:
    ohms = series_resistor(volts)
    amps = done_at(plain(branch.value, "farad", 0.0), volts)
    steps = ", ".join(f"{share * volts:.0f}" for share in STEPS)
    rated = plain(branch.part.voltage if branch.part else None, "volt", 0.0)
    most = f", rated {rated:.0f} V" if rated else ""
    return (
        f"{branch.name}{most}: {steps} V through {engineering(ohms, 'ohm')}, "
        f"{2 * SHORTED_W:.0f} W, until {amps * ohms:.2g} V or less stand across it "
        f"({engineering(amps, 'A')})."
    )


def series_resistor(volts: float) -> float:
    """Ohms, of the series E12, that a shorted capacitor heats with no more than ``SHORTED_W``."""
    least, decade = volts**2 / SHORTED_W, 1.0
    while True:
        for value in VALUES:
            if value * decade >= least * (1 - 1e-9):
                return value * decade
        decade *= 10


def done_at(farads: float, volts: float) -> float:
    """Amperes of leakage at which a capacitor is formed."""
    return max(LEAK * farads * volts, LEAST_A)
