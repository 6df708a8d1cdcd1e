"""Mistakes in heaters and what feeds them."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.model import TubeLine, WindingLine
from coldcheck.drawing.units import magnitude
from coldcheck.teach.plant import Planted

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from coldcheck.circuit.model import Winding
    from coldcheck.teach.clean import Clean


SAME = 0.02
"""Rated heater voltages that differ by less are one."""


def heated(clean: Clean) -> Iterator[tuple[Winding, tuple[str, ...]]]:
    """The heater windings, each with the tubes on it."""
    for winding in clean.circuit.windings():
        on = tuple(
            t.name
            for t in clean.circuit.tubes.values()
            if t.heater is not None and t.heater.winding == winding.name
        )
        if on:
            yield winding, on


def indirect(clean: Clean) -> Iterator[tuple[Winding, tuple[str, ...]]]:
    """Those of tubes whose heater is not their cathode."""
    for winding, on in heated(clean):
        if not any(clean.circuit.tubes[t].directly_heated for t in on):
            yield winding, on


def lines_of(clean: Clean) -> Iterator[tuple[str, WindingLine]]:
    """The winding statements by full name; a winding is named after the transformer above it."""
    owner = ""
    for statement in clean.drawing.statements:
        if type(statement).__name__ == "TransformerLine":
            owner = getattr(statement, "name", "")
        if isinstance(statement, WindingLine):
            yield f"{owner}.{statement.name}", statement


def reference_left_out(clean: Clean) -> Iterator[Planted]:
    """The line that ties a heater winding to gnd or to its lift is left out."""
    for winding, on in indirect(clean):
        lead = f"{winding.name}.1"
        for chain in clean.chains:
            if not any(p is not None and p.text.startswith(winding.name) for p in chain.points):
                continue
            text = clean.line_replaced(chain.span.line)
            if clean.without_path(text, lead):
                what = f"nothing ties heater winding {winding.name} to a reference any more"
                yield Planted((winding.name,), text, what, ("heater.no-reference",), on)


def tied_twice(clean: Clean) -> Iterator[Planted]:
    """One end of a winding whose tap is tied already goes to gnd as well."""
    for winding, on in indirect(clean):
        tap = f"{winding.name}.ct"
        if clean.circuit.points.get(tap) == "gnd":
            text = clean.added(f"{winding.name}.1 -- gnd")
            what = f"{winding.name} is on gnd with its tap and with one end: half of it is shorted"
            yield Planted(
                (winding.name, tap),
                text,
                what,
                ("heater.two-references", "supply.winding-shorted"),
                (f"{winding.name}.1", *on),
            )


def on_rectifier_winding(clean: Clean) -> Iterator[Planted]:
    """A tube's heater is drawn on the rectifier's filament winding."""
    filaments = [
        w.name for w, on in heated(clean) if any(_rectifier(clean, t) for t in on) and len(on) == 1
    ]
    for line in (s for s in clean.drawing.statements if isinstance(s, TubeLine)):
        if line.heater is None or _rectifier(clean, line.name):
            continue
        for filament in filaments:
            text = clean.replaced(line.heater.span, filament)
            what = f"the heater of {line.name} hangs on {filament}, the rectifier's filament"
            rules = ("heater.shares-rectifier-filament", "heater.wrong-voltage")
            yield Planted((line.name,), text, what, rules, (filament,))


def _rectifier(clean: Clean, tube: str) -> bool:
    found = clean.circuit.tubes[tube]
    return found.directly_heated and all(s.kind is SectionKind.RECTIFIER for s in found.sections)


def winding_too_small(clean: Clean) -> Iterator[Planted]:
    """The current rating of a heater winding is half of what its tubes draw."""
    wanted = {w.name: (w, on) for w, on in heated(clean)}
    for name, line in lines_of(clean):
        if name not in wanted:
            continue
        _, on = wanted[name]
        drawn = sum(_amps(clean, t) for t in on)
        text = _current_replaced(clean, line, drawn / 2)
        if text:
            what = f"{name} may give {drawn / 2:.2g} A, its tubes draw {drawn:.3g} A"
            yield Planted((name,), text, what, ("heater.winding-overload",), on)


def _amps(clean: Clean, tube: str) -> float:
    heater = clean.circuit.tubes[tube].heater
    return 0.0 if heater is None else magnitude(heater.amps, "ampere")


def _current_replaced(clean: Clean, line: WindingLine, amps: float) -> str | None:
    source = clean.lines[line.span.line - 1]
    code, mark, remark = source.partition("#")
    new, count = re.subn(r"\b[\d.]+\s*m?A\b", f"{amps:.2g} A", code)
    return clean.line_replaced(line.span.line, new + mark + remark) if count == 1 else None


def wrong_volts(clean: Clean) -> Iterator[Planted]:
    """A heater winding has twice its voltage (12.6 V for 6.3 V)."""
    wanted = {w.name: on for w, on in heated(clean)}
    for name, line in lines_of(clean):
        if name in wanted and len(line.voltages) == 1:
            volts = magnitude(line.voltages[0], "volt")
            source = clean.lines[line.span.line - 1]
            new, count = re.subn(rf"\b{volts:g}\s*V\b", f"{2 * volts:g} V", source, count=1)
            if count and not _suits(clean, wanted[name], 2 * volts):
                what = f"{name} is drawn with {2 * volts:g} V, its tubes are for {volts:g} V"
                text = clean.line_replaced(line.span.line, new)
                yield Planted((name,), text, what, ("heater.wrong-voltage",), wanted[name])


def _suits(clean: Clean, tubes: Iterable[str], volts: float) -> bool:
    """Whether every tube can be wired for so much: a 12AX7 takes 12.6 V as well as 6.3 V."""
    ways = [[w.volts.value for w in clean.circuit.tubes[t].type.heaters] for t in tubes]
    return all(any(abs(v / volts - 1) < SAME for v in each) for each in ways)


KINDS: Mapping[str, Callable[[Clean], Iterable[Planted]]] = {
    "heater reference left out": reference_left_out,
    "heater winding tied twice": tied_twice,
    "heater on the rectifier's winding": on_rectifier_winding,
    "heater winding too small": winding_too_small,
    "heater winding of twice the voltage": wrong_volts,
}
