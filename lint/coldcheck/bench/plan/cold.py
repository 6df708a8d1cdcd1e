"""Resistance checks before power: which shorts each brings to light, proved on the faulty circuit.

A check catches a fault when the reading with it, all tolerances at their worst, does not reach
into the range expected without it, with the meter's own error on both sides. Every fault is
assigned to the check that shows it plainest; a check that shows nothing of its own is left out,
unless it is one that nobody leaves out (the mains plug, the rails).
"""

from __future__ import annotations

from dataclasses import replace
from math import inf, log
from typing import TYPE_CHECKING

from coldcheck.bench.chart.ohmmeter import SETTLED, Ohmmeter, Ohms, pot_ends
from coldcheck.bench.chart.silicon import Silicon
from coldcheck.bench.instruments.clip import mains_side
from coldcheck.bench.plan.model import OHM, Catch, Check
from coldcheck.circuit.model import GROUND
from coldcheck.records import dataclass
from coldcheck.solve.faults.fault import SHORT, Fault, NoSuchPart, altered

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from coldcheck.circuit.model import Circuit
    from coldcheck.circuit.paths import Change

METER_SHARE, METER_OHM = 0.01, 0.5
"""Error of a hand-held ohmmeter and what is left of its leads (memory)."""

INSULATION = 1e6
"""Least insulation of the mains against the metal, ohms: class I, VDE 0701/0702 (memory)."""

LEAKY = 1e5
"""An electrolytic's own leakage reads as this and more once it has formed (common practice)."""

LONGEST_WAIT = 600.0

WHY = "below: a short or a wrong part; above: an open joint or a wrong part"


@dataclass(frozen=True, slots=True)
class Place:
    """Two points to hold an ohmmeter to; ``kept`` whatever they show.

    wire
        Whether it is kept also where the drawing has nothing but wire between the two: what is
        looked for is that wire.
    """

    point: str
    other: str
    kept: bool = False
    wire: bool = False
    note: str = ""


@dataclass(frozen=True, slots=True)
class Found:
    """The reading at a place in the sound circuit.

    plus
        Whether the meter's + lead goes to the first point; else the two are told the other way.
    least
        What the meter may show at least: with the diodes it turns on, or the least insulation.
    diodes
        Those it may turn on in that polarity.
    """

    place: Place
    nets: tuple[str, str]
    ohms: Ohms
    plus: bool
    least: float
    diodes: tuple[str, ...]


class ColdBench:
    """An ohmmeter and its polarity on a circuit with some tubes out."""

    def __init__(self, circuit: Circuit, change: Change) -> None:
        self.circuit, self.change = circuit, change
        self.meter = Ohmmeter(circuit, change)
        self.silicon = Silicon(self.meter)
        self.mains = mains_side(circuit)
        self.pots = pot_ends(circuit, change)

    def found(self, places: Iterable[Place]) -> Iterator[Found]:
        """The readings at the places; two names for one pair of nets are told once."""
        seen = set()
        for place in places:
            nets = self.circuit.points[place.point], self.circuit.points[place.other]
            wired = nets[0] == nets[1]
            key = frozenset((place.point, place.other) if wired else nets)
            if key not in seen and (place.wire or not wired):
                seen.add(key)
                yield self._found(place, nets)

    def _found(self, place: Place, nets: tuple[str, str]) -> Found:
        if nets[0] == nets[1]:
            return Found(place, nets, Ohms(0.0, 0.0, METER_OHM), True, 0.0, ())
        ohms = self.meter.read(*nets)
        if ohms.high < METER_OHM:
            return Found(place, nets, replace(ohms, low=0.0, high=METER_OHM), True, 0.0, ())
        ways = {p: self.silicon.turned_on(*nets, plus_on_point=p) for p in (True, False)}
        charging = self.meter.charging(nets[0]) if nets[1] == GROUND else None
        backwards = charging is not None and bool(charging.backwards)
        plus = not backwards and not (ways[True] and not ways[False])
        least = self._least(nets, ohms)
        if ways[plus]:
            on = [Fault(SHORT, name) for name in ways[plus]]
            conducting = Ohmmeter(altered(self.circuit, on, graph=False), self.change)
            least = min(least, conducting.read(*nets).low)
        return Found(place, nets, ohms, plus, least, ways[plus])

    def _least(self, nets: tuple[str, str], ohms: Ohms) -> float:
        if ohms.low != inf:
            return ohms.low
        return INSULATION if self.mains.intersection(nets) else LEAKY

    def faulty(self, fault: Fault) -> Ohmmeter | None:
        """The ohmmeter on the circuit with a fault; ``None`` for one it cannot have."""
        try:
            return Ohmmeter(altered(self.circuit, [fault], graph=False), self.change)
        except NoSuchPart:
            return None


def cold_checks(
    circuit: Circuit, change: Change, places: Iterable[Place], faults: Sequence[Fault]
) -> tuple[tuple[Check, ...], tuple[Fault, ...]]:
    """The checks with what each catches, and the faults that none of them catches."""
    bench = ColdBench(circuit, change)
    found = list(bench.found(places))
    caught: dict[int, list[tuple[float, Catch]]] = {}
    unseen = []
    for fault in faults:
        best = _best(bench, found, fault)
        if best is None:
            unseen.append(fault)
        else:
            number, margin, catch = best
            caught.setdefault(number, []).append((margin, catch))
    checks = tuple(
        _check(bench, each, caught.get(k, []))
        for k, each in enumerate(found)
        if each.place.kept or k in caught
    )
    return checks, tuple(unseen)


def apart(least: float, most: float, low: float, high: float) -> float:
    """How far two readings are apart, as a ratio above 1; 0 where they may be mistaken.

    ``least`` and ``most`` are the ends of the sound one, ``low`` and ``high`` of the other, ohms.
    """
    if (1 + METER_SHARE) * high + METER_OHM < (1 - METER_SHARE) * least - METER_OHM:
        return (least + METER_OHM) / (high + METER_OHM)
    if (1 - METER_SHARE) * low - METER_OHM > (1 + METER_SHARE) * most + METER_OHM:
        return (low + METER_OHM) / (most + METER_OHM)
    return 0.0


def _best(
    bench: ColdBench, found: Sequence[Found], fault: Fault
) -> tuple[int, float, Catch] | None:
    """The check that shows a fault plainest. A diode may hide what reads too high."""
    meter = bench.faulty(fault)
    if meter is None:
        return None
    best: tuple[int, float, Catch] | None = None
    for number, each in enumerate(found):
        ohms = meter.read(*each.nets)
        margin = apart(each.least, each.ohms.high, ohms.low, ohms.high)
        if each.diodes and ohms.low > each.ohms.high:
            continue
        if margin and (best is None or margin > 1.0001 * best[1]):
            best = number, margin, Catch(fault, ohms.low, ohms.high)
    return best


def _check(bench: ColdBench, found: Found, caught: Sequence[tuple[float, Catch]]) -> Check:
    ohms = found.ohms
    below = max((1 - METER_SHARE) * found.least - METER_OHM, 0.0)
    above = None if ohms.high == inf else (1 + METER_SHARE) * ohms.high + METER_OHM
    points = found.place.point, found.place.other
    return Check(
        *(points if found.plus else points[::-1]),
        OHM,
        ohms.nominal,
        found.least,
        ohms.high,
        below or None,
        above,
        WHY,
        catches=tuple(c for _, c in sorted(caught, key=lambda pair: -pair[0])),
        note="; ".join(_notes(bench, found)),
    )


def _notes(bench: ColdBench, found: Found) -> Iterator[str]:
    if found.place.note:
        yield found.place.note
    if found.ohms.nominal is None:
        yield "a part on the way has no value in the drawing"
    if found.diodes and found.least < found.ohms.low:
        yield f"lower if the meter turns on {', '.join(found.diodes)}"
    yield from _turns(bench, found)
    net, other = found.nets
    charging = bench.meter.charging(net) if other == GROUND != net else None
    if charging is not None:
        seconds = charging.seconds * log(1 / SETTLED)
        if seconds > LONGEST_WAIT:
            yield f"climbs without end as it charges {', '.join(charging.names)}"
        elif seconds >= 1:
            yield f"settles in some {seconds:.0f} s"


def _turns(bench: ColdBench, found: Found) -> Iterator[str]:
    """The pots that move the reading by more than its range."""
    nominal = found.ohms.nominal
    for name, (low, high) in bench.pots.items():
        ends = [m.nominal.ohms(*found.nets) for m in (low, high)]
        if nominal is None or inf in ends or nominal == inf:
            continue
        if min(ends) < found.ohms.low or max(ends) > found.ohms.high:
            yield f"with {name} set as drawn"
