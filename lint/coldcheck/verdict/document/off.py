"""After switch-off: what stays charged, how long, and through what it drains."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.solve.off.discharge import CHARGE_C, CHARGE_V, GUARD_V, SMALL_F, TOUCH_V
from coldcheck.verdict.document.content import (
    CapacitorDown,
    OffTold,
    PointDown,
    PositionTold,
    SlowCapacitor,
    SlowPoint,
)
from coldcheck.verdict.document.digits import rounded

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from coldcheck.solve.off.discharge import Decay
    from coldcheck.solve.off.off_state import NetDecay, OffState, Position

DIFFERS = 1.1
"""A switch is told where a thrown one makes a discharge this many times longer."""

SOON_S = 0.1
"""What is gone before a hand could move is not listed."""


def off_told(off: OffState) -> OffTold:
    """The way down in every position of the switches, and what of it is worth a line."""
    return OffTold(
        TOUCH_V,
        GUARD_V,
        CHARGE_C,
        CHARGE_V,
        SMALL_F,
        off.unsolved,
        off.unvalued,
        tuple(map(_position, off.positions)),
        tuple(_slow(off.positions)),
        tuple(_alive(off.positions)),
    )


def _position(position: Position) -> PositionTold:
    return PositionTold(
        position.thrown,
        tuple(map(_capacitor, position.capacitors)),
        tuple(map(_point, position.nets)),
    )


def _capacitor(decay: Decay) -> CapacitorDown:
    return CapacitorDown(
        capacitor=decay.capacitor.name,
        volts=rounded(abs(decay.volts)),
        joules=rounded(decay.joules, 3),
        seconds=rounded(decay.seconds, 4),
        guard_seconds=rounded(decay.guard_seconds, 4),
        charged_in=decay.charged_in,
        drained_through=decay.drained_by,
        perhaps_drained_through=decay.undrawn,
    )


def _point(net: NetDecay) -> PointDown:
    return PointDown(
        net.net,
        rounded(net.volts),
        rounded(net.seconds, 4),
        rounded(net.guard_seconds, 4),
        net.charged_in,
    )


def _slow(positions: tuple[Position, ...]) -> Iterator[SlowCapacitor]:
    """Each capacitor with no switch thrown, then where a thrown switch makes it slower."""
    for decay in positions[0].capacitors if positions else ():
        if decay.guard_seconds > SOON_S:
            yield SlowCapacitor(_capacitor(decay), "")
        for position in positions[1:]:
            same = {d.capacitor.name: d for d in position.capacitors}
            other = same.get(decay.capacitor.name)
            if other is not None and slower(other.guard_seconds, decay.guard_seconds):
                yield SlowCapacitor(_capacitor(other), ", ".join(position.thrown))


def slower(seconds: float, than: float) -> bool:
    """Whether a time is longer by enough to be told apart."""
    return seconds > than + 0.5 and seconds > DIFFERS * than


def _alive(positions: Iterable[Position]) -> Iterator[SlowPoint]:
    """Each net in the position that keeps it alive longest, the slowest first."""
    worst: dict[str, tuple[NetDecay, str]] = {}
    for position in positions:
        for net in position.nets:
            old = worst.get(net.net)
            if net.seconds > SOON_S and (old is None or slower(net.seconds, old[0].seconds)):
                worst[net.net] = net, ", ".join(position.thrown)
    for net, thrown in sorted(worst.values(), key=lambda w: -w[0].seconds):
        yield SlowPoint(_point(net), thrown)
