"""A divider from the B+ that lifts a heater winding: values that can be bought, worked out."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import net_text
from coldcheck.circuit.preferred import E12, E24
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import ohms, volts, watts
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.heater_lines import HeaterLine
    from coldcheck.circuit.model import Circuit

AMPERES = 1e-3
"""Current of a suggested divider: far above the leakage of the heaters (common practice)."""

CAPACITOR_VOLTS = (16, 25, 35, 50, 63, 100, 160, 200, 250, 350, 400, 450, 500, 630)
"""Working voltages electrolytics are sold in (common practice)."""

WATTS = (0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 10.0)
"""Ratings resistors are sold in; twice the dissipation is bought (common practice)."""

VOLTS_OF_SMALL = 250.0
"""What a resistor below 1 W is asked to hold at most (common practice)."""

SPARE = 1.05
"""What a capacitor to buy is rated above the worst it may see."""

BYPASS_FARADS = 10e-6
QUIET = 0.1
FULL = 0.6
"""A rail has ripple below a tenth of its DC, and at least this share of the highest rail."""


@dataclass(frozen=True, slots=True)
class Divider:
    """A worked divider.

    ``upper_w`` and ``lower_w`` are dissipated in the worst state, ``upper_rating_w`` and
    ``lower_rating_w`` are the ratings to buy. ``gives_v`` is the lift when warm.
    ``bypass_rating_v`` is the working voltage to buy for the capacitor: it stands the rail when
    the lower resistor opens.
    """

    supply: str
    supply_v: float
    upper_ohms: float
    lower_ohms: float
    upper_w: float
    lower_w: float
    upper_rating_w: float
    lower_rating_w: float
    gives_v: float
    bypass_farads: float
    bypass_rating_v: float

    @property
    def text(self) -> str:
        """What to solder."""
        return (
            f"{ohms(self.upper_ohms)} {watts(self.upper_rating_w)} over {ohms(self.lower_ohms)} "
            f"{watts(self.lower_rating_w)} from {self.supply} ({volts(self.supply_v)}) gives "
            f"{volts(self.gives_v)}, with a capacitor of 10 uF {self.bypass_rating_v:g} V across "
            f"the lower one"
        )


def divider_for(
    case: Case, line: HeaterLine, target: float, bounds: Mapping[str, tuple[float, float]]
) -> Divider | None:
    """A divider to about ``target`` volts that keeps within ``bounds`` in every state.

    ``bounds``: state -> lowest and highest lift. ``None`` where no rail is high enough, or where
    a lift in proportion to the rail cannot be right in every state. The load that the divider is
    on the rail, about a milliampere, is not counted.
    """
    rail = _rail(case, line, target)
    if rail is None:
        return None
    levels = {s.state.name: s.waves[rail].dc for s in case.solved() if rail in s.waves}
    levels = {state: v for state, v in levels.items() if state in bounds}
    span = _ratios(levels, bounds)
    if span is None:
        return None
    warm = levels["warm"]
    wanted = min(max(target / warm, span[0]), span[1])
    found = _values(warm, wanted, span)
    return found and _worked(net_text(case.circuit, rail), warm, max(levels.values()), *found)


def _rail(case: Case, line: HeaterLine, target: float) -> str | None:
    """The quietest of the high, steady, reservoir-held points; never one of the line's own."""
    if not case.warm.converged:
        return None
    waves = {n: w for n, w in case.warm.waves.items() if _held(case.circuit, n)}
    quiet = {n: w for n, w in waves.items() if n not in line.nets and w.ac_rms < QUIET * w.dc}
    top = max((w.dc for w in quiet.values()), default=0.0)
    high = [n for n, w in quiet.items() if w.dc >= max(FULL * top, 1.5 * target)]
    return min(
        high, key=lambda n: (round(quiet[n].ac_rms / quiet[n].dc, 4), -quiet[n].dc), default=None
    )


def _held(circuit: Circuit, net: str) -> bool:
    """Whether a source or the plus of a capacitor is on a net, and no grid or cathode."""
    held = any(b.plus == net or (b.kind is PartKind.SOURCE and b.a == net) for b in circuit.at(net))
    return held and not any(
        e in ("cathode", "grid", "f1", "f2") for _, e in circuit.electrodes_at(net)
    )


def _ratios(
    levels: Mapping[str, float], bounds: Mapping[str, tuple[float, float]]
) -> tuple[float, float] | None:
    """The ratios of a divider that keep the lift right in every state; ``None`` without any."""
    low, high = 0.0, 1.0
    for state, (least, most) in bounds.items():
        level = levels.get(state)
        if level is None:
            return None
        if level < 1.0:
            if not least <= 0.0 <= most:
                return None
            continue
        low, high = max(low, least / level), min(high, most / level)
    return (low, high) if low <= high and "warm" in levels else None


def _values(warm: float, ratio: float, span: tuple[float, float]) -> tuple[float, float] | None:
    """The pair of preferred values nearest to the ratio, the upper near a milliampere's."""
    if not 0 < ratio < 1:
        return None
    ideal = warm * (1 - ratio) / AMPERES
    uppers = _near(E12, ideal, 3)
    pairs = [(r, x) for r in uppers for x in _near(E24, r * ratio / (1 - ratio), 2)]
    inside = [p for p in pairs if span[0] <= p[1] / sum(p) <= span[1]]
    return min(inside, key=lambda p: abs(p[1] / sum(p) - ratio), default=None)


def _near(series: Iterable[int], wanted: float, count: int) -> list[float]:
    """The ``count`` values of a series nearest to a number, by ratio."""
    steps = [s * 10.0**e for s, e in product(series, range(-1, 7))]
    return sorted(steps, key=lambda s: max(s / wanted, wanted / s))[:count]


def _worked(supply: str, warm: float, worst: float, upper: float, lower: float) -> Divider:
    share = lower / (upper + lower)
    upper_w, lower_w = (worst * (1 - share)) ** 2 / upper, (worst * share) ** 2 / lower
    return Divider(
        supply=supply,
        supply_v=warm,
        upper_ohms=upper,
        lower_ohms=lower,
        upper_w=upper_w,
        lower_w=lower_w,
        upper_rating_w=_buy(upper_w, worst * (1 - share)),
        lower_rating_w=_buy(lower_w, worst * share),
        gives_v=warm * share,
        bypass_farads=BYPASS_FARADS,
        bypass_rating_v=capacitor_volts(worst),
    )


def _buy(dissipated: float, across: float) -> float:
    least = 1.0 if across > VOLTS_OF_SMALL else 0.0
    return next((w for w in WATTS if w >= max(2 * dissipated, least)), WATTS[-1])


def capacitor_volts(worst: float) -> float:
    """The working voltage to buy for a capacitor that may see ``worst`` volts DC."""
    return float(next((v for v in CAPACITOR_VOLTS if v >= SPARE * worst), CAPACITOR_VOLTS[-1]))
