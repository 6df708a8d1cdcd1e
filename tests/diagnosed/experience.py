"""What fails in tube sets, as repairers tell it, and how often; not taken from the suspects' list.

Facts (never the words) from pages of repairers: leaking coupling capacitors, cathode electrolytics
open or low, an output transformer's primary open, corroded switches, tired output tubes
(valveradio.co.uk/page5.htm); screen resistors burnt by a tube that shorted, bias that fails, plate
loads that open, windings open or shorted (analogbros.com/tech/articles/goodgobad.html and
geofex.com/ampdbug/pwrtubes.htm, which adds grid resistors that have drifted and tracks burnt
across sockets); dried electrolytics of the supply before all, output transformers least
(ampworks.co.uk/articles/fault-finding-in-guitar-amps). Shares and sizes: from memory. The list was
written by one who knew the suspects, since nobody else was at hand: it is not blind. What no
suspect is (a rail that leaks into a grid) is in it too; a plate's wire chafed to the metal was, and
a track from a plate to its own cathode, until the study made suspects of them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tests.diagnosed.integrated import Wrong

from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.solve.warmup import small

if TYPE_CHECKING:
    from collections.abc import Iterator
    from random import Random

    from coldcheck.circuit.model import Circuit

HIGH, LOW = frozenset(("high", "open", "swap")), frozenset(("low", "short", "swap"))
LEAKS, DRY = frozenset(("leak", "short")), frozenset(("capacity",))
TIRED = frozenset(("weak", "dead"))
NOWHERE: frozenset[str] = frozenset()
RAIL_V = 60.0


@dataclass(frozen=True)
class True_:  # noqa: N801 - the truth of a trial
    """A fault of a copy: what is wrong, of which part, and what kinds of suspects say so."""

    name: str
    part: str
    kinds: frozenset[str]
    wrong: Wrong


def drawn(circuit: Circuit, volts: dict[str, float], random: Random) -> True_:
    """One of them."""
    kinds: dict[str, list] = {}
    for kind, how_often, make in _all(circuit, volts):
        kinds.setdefault(kind, [how_often, []])[1].append(make)
    names = list(kinds)
    kind = random.choices(names, [kinds[n][0] for n in names])[0]
    return random.choice(kinds[kind][1])(random)


def between(random: Random, low: float, high: float) -> float:
    """Even in the logarithm."""
    return math.exp(random.uniform(math.log(low), math.log(high)))


def _all(circuit: Circuit, volts: dict[str, float]) -> Iterator[tuple]:
    yield from _capacitors(circuit, volts)
    yield from _resistors(circuit)
    yield from _tubes(circuit, volts)
    yield from _iron(circuit)
    for b in circuit.branches.values():
        if b.kind is PartKind.FUSE or b.kind is PartKind.SWITCH:
            yield "bad contact", 4, _sized(b.name, {"resistance"}, "into", 10.0, 2e3)
        if b.kind is PartKind.DIODE and volts.get(b.a, 0) != 0:
            yield "diode open", 2, _cut(b.name, {"open", "backwards"})


def _electrodes(circuit: Circuit, name: str) -> dict[str, str]:
    return {s.electrodes[name]: s.name for s in circuit.sections() if name in s.electrodes}


def _capacitors(circuit: Circuit, volts: dict[str, float]) -> Iterator[tuple]:
    cathodes = _electrodes(circuit, "cathode")
    for b in circuit.branches.values():
        if b.kind is not PartKind.CAPACITOR:
            continue
        across = abs(volts.get(b.a, 0.0) - volts.get(b.b, 0.0))
        if b.plus is None:
            if "gnd" not in (b.a, b.b):
                yield "coupling leaks", 14, _sized(b.name, LEAKS, "across", 3e5, 6e7)
        elif b.a in cathodes or b.b in cathodes:
            yield "bypass leaks", 4, _sized(b.name, LEAKS, "across", 60.0, 2e3)
            yield "bypass dried", 3, _sized(b.name, DRY, "times", 0.02, 0.3)
        elif across > RAIL_V:
            yield "filter dried", 10, _sized(b.name, DRY, "times", 0.02, 0.35)
            yield "filter leaks", 4, _sized(b.name, LEAKS, "across", 2e3, 6e4)
        else:
            yield "bias capacitor leaks", 3, _sized(b.name, LEAKS, "across", 5e2, 3e4)


def _resistors(circuit: Circuit) -> Iterator[tuple]:
    plates, screens = _electrodes(circuit, "plate"), _electrodes(circuit, "screen")
    cathodes, grids = _electrodes(circuit, "cathode"), _electrodes(circuit, "grid")
    for b in circuit.branches.values():
        if b.kind is not PartKind.RESISTOR or b.a == b.b:
            continue
        ends = {b.a, b.b}
        yield "wrong one fitted", 4, _step(b.name)
        if ends & set(screens):
            yield "screen resistor burnt", 8, _sized(b.name, HIGH, "times", 1.6, 1e4)
        elif ends & set(plates):
            yield "plate load", 8, _sized(b.name, HIGH, "times", 1.5, 100.0)
            yield "plate load open", 3, _cut(b.name, HIGH)
        elif ends & set(cathodes):
            yield "cathode resistor", 5, _sized(b.name, HIGH, "times", 1.5, 300.0)
        elif ends & set(grids):
            yield "grid resistor", 4, _sized(b.name, HIGH, "times", 2.0, 100.0)
        else:
            yield "supply resistor", 7, _sized(b.name, HIGH, "times", 1.4, 1e3)


def _tubes(circuit: Circuit, volts: dict[str, float]) -> Iterator[tuple]:
    for tube in circuit.tubes.values():
        name = tube.name
        if {s.kind for s in tube.sections} == {SectionKind.RECTIFIER}:
            yield "rectifier tired", 4, _sized(name, TIRED, "emission", 0.1, 0.5)
            continue
        often = 3 if small(tube) else 9
        kind = "small tube tired" if small(tube) else "output tube tired"
        yield kind, often, _sized(name, TIRED, "emission", 0.08, 0.6)
        yield "tube dead", 3, _sized(name, TIRED, "emission", 1e-9, 2e-9)
        for s in tube.sections:
            if "grid" not in s.electrodes or s.electrodes["grid"] == "gnd":
                continue
            if not small(tube):
                yield "gassy", 4, _sized(s.name, {"gassy"}, "gas", 3e-6, 6e-5)
                pair = (s.electrodes["plate"], s.electrodes["grid"])
                yield "track across socket", 3, _joined(s.name, {"touch"}, pair, 1e6, 4e7)
            heater = tube.heater.nets[0] if tube.heater and tube.heater.nets else None
            cathode = s.cathode_nets[0]
            if heater and heater != cathode and cathode != "gnd":
                pair = (heater, cathode)
                yield "heater to cathode", 3, _joined(s.name, {"heater-cathode"}, pair, 1e3, 3e5)
            plate, rail = s.electrodes["plate"], max(volts, key=lambda n: volts[n])
            yield "chafed wire", 2, _joined(s.name, {"insulation"}, (plate, "gnd"), 3e4, 1e6)
            yield "into a grid", 1, _joined(s.name, NOWHERE, (rail, s.electrodes["grid"]), 1e6, 3e7)
            if cathode not in ("gnd", plate):
                yield "plate to cathode", 2, _joined(s.name, {"touch"}, (plate, cathode), 3e4, 1e6)


def _iron(circuit: Circuit) -> Iterator[tuple]:
    for output in circuit.outputs.values():
        for _, b in output.primary_parts:
            yield "output winding open", 2, _cut(b.name, {"open"})
    for t in circuit.transformers.values():
        for w in t.secondaries:
            if w.volts is not None and float(w.volts.m_as("volt")) > RAIL_V:
                for b in w.branches:
                    yield "shorted turns", 1, _sized(b.name, {"turns"}, "turns", 0.6, 0.9)


def _sized(part, kinds, how, low, high):
    def make(random):
        size = between(random, low, high)
        return True_(
            f"{part} {how} {size:.3g}", part, frozenset(kinds), Wrong(**{how: {part: size}})
        )

    return make


def _joined(part, kinds, nets, low, high):
    def make(random):
        ohms = between(random, low, high)
        name = f"{nets[0]} to {nets[1]} {ohms:.3g}"
        return True_(name, part, frozenset(kinds), Wrong(between={nets: ohms}))

    return make


def _cut(part, kinds):
    return lambda _: True_(f"{part} open", part, frozenset(kinds), Wrong(cut={part}))


def _step(part):
    def make(random):
        size = random.choice((0.1, 0.15, 0.22, 0.33, 0.47, 2.2, 3.3, 4.7, 10.0))
        kinds = HIGH if size > 1 else LOW
        return True_(f"{part} times {size:g}", part, kinds, Wrong(times={part: size}))

    return make
