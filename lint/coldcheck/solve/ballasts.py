"""Barretters: how many ohms each comes to, so that its current is the one it holds.

An iron wire in hydrogen gets hotter, and its resistance higher, as soon as more flows: between the
two ends of its range the current hardly changes. Its heat lasts much longer than a cycle, so within
one it is a plain resistance: volts over amperes, both rms. Outside its range it is taken to keep
the resistance it has at that end.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.solve.setting import Ballast

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.solve.cycle.starts import Steady
    from coldcheck.solve.cycle.steady import Cycle
    from coldcheck.solve.setting import Setting

CLOSE = 1e-5
"""A share of its resistance within which one has come to rest."""
MOST_STEPS = 12


def moved(
    circuit: Circuit, cycle: Cycle, answer: Steady, setting: Setting
) -> Mapping[str, Ballast]:
    """The barretters of a circuit as the answer leaves them; the same where nothing moves."""
    return {**setting.ballasts, **dict(_moved(circuit, cycle, answer, setting))}


def _moved(
    circuit: Circuit, cycle: Cycle, answer: Steady, setting: Setting
) -> Iterator[tuple[str, Ballast]]:
    for branch in circuit.branches.values():
        ends, known = ends_of(branch), setting.ballasts.get(branch.name)
        if ends is None or (known is not None and known.steps == MOST_STEPS):
            continue
        ohms = ends[0] if known is None else known.ohms
        amps = _rms(branch, cycle, answer) / ohms
        wanted = float(np.clip(_wanted(ohms, amps, known, held_a(branch)), *ends))
        if abs(wanted - ohms) > CLOSE * ohms:
            steps = 0 if known is None else known.steps
            yield branch.name, Ballast(wanted, (ohms, amps), steps + 1)


def _wanted(ohms: float, amps: float, known: Ballast | None, held: float) -> float:
    """The ohms with which it would hold: by the two last answers, what it is fed through."""
    if known is None or abs(known.before[1] - amps) < 1e-9:
        return ohms * amps / held
    before, flowed = known.before
    inside = (amps * ohms - flowed * before) / (flowed - amps)
    return amps * (ohms + inside) / held - inside if inside > 0 else ohms * amps / held


def ends_of(branch: Branch) -> tuple[float, float] | None:
    """Ohms at both ends of a barretter's range; ``None`` for anything that holds no current."""
    if branch.kind is not PartKind.BARRETTER or branch.part is None:
        return None
    low, high = si(branch.part.value, "volt"), si(branch.part.voltage, "volt")
    held = held_a(branch)
    return (low / held, high / held) if low and high and held else None


def held_a(branch: Branch) -> float:
    """The current a barretter holds, amperes; 0 where it is not written."""
    return 0.0 if branch.part is None else si(branch.part.current, "ampere") or 0.0


def _rms(branch: Branch, cycle: Cycle, answer: Steady) -> float:
    """Volts rms across a branch."""
    rows = [cycle.network.nets.get(net) for net in (branch.a, branch.b)]
    high, low = (0.0 if row is None else answer.unknowns[row] for row in rows)
    return float(np.sqrt(np.mean(np.square(np.asarray(high) - np.asarray(low)))))
