"""A data file of the user's own: checked, and its law fitted."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.circuit.sockets import pins_of_base
from coldcheck.circuit.tubes import Sourced, load_type
from coldcheck.records import dataclass
from coldcheck.solve.tubes.fit import lacking, refitted

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.circuit.tubes import TubeType
    from coldcheck.circuit.tubes_types import SectionType

MU_OFF, WATTS_OVER = 0.15, 1.15
"""How far mu may be from gm rp, and a point above its rating, before it is remarked on."""


@dataclass(frozen=True, slots=True)
class Fitted:
    """The file with its law written anew, the type in it, and what does not fit together."""

    text: str
    kind: TubeType
    remarks: tuple[str, ...]


def fitted(text: str, origin: str) -> Fitted:
    """Check and fit a file; raises DataProblem with what keeps it from being read."""
    whole = refitted(text, origin)
    kind = load_type(whole, origin)
    return Fitted(whole, kind, tuple(remarks(kind)))


def remarks(kind: TubeType) -> Iterator[str]:
    """Everything that does not fit together, and what each section's law would need."""
    yield from _open(kind)
    yield from _pins(kind)
    yield from _heaters(kind)
    for section in kind.sections:
        for number, point in enumerate(kind.points_of(section.name), 1):
            where = f"point {number}{f' of {section.name}' if section.name else ''}"
            yield from (f"{where}: {text}" for text in _point(kind, section, point))
    yield from (f"no law: {key}: {reason}" for key, reason in lacking(kind))


def _open(kind: TubeType) -> Iterator[str]:
    """What a new file has a question mark for and nobody answered."""
    if kind.base == "?":
        yield "base: still ?"
    if any(sheet.source == "?" for sheet in kind.sources.values()):
        yield "sources: still ?: say where the numbers are from"


def _pins(kind: TubeType) -> Iterator[str]:
    if not kind.pins_known:
        yield "pins: not given: a drawing has to name the electrodes"
        return
    count = pins_of_base(kind.base)
    missing = [str(n) for n in range(1, count + 1) if str(n) not in kind.pins]
    beyond = [p for p in kind.pins if p.isdigit() and count and int(p) > count]
    if missing:
        yield f"pins: {kind.base} has {count} pins; not given: {', '.join(missing)}"
    if beyond:
        yield f"pins: {kind.base} has {count} pins, not {', '.join(beyond)}"


def _heaters(kind: TubeType) -> Iterator[str]:
    watts = [way.volts.value * way.amps.value for way in kind.heaters]
    if watts and max(watts) > 1.03 * min(watts):
        told = " and ".join(f"{w:.3g} W" for w in watts)
        yield f"heater: one heater wired in two ways takes {told}"


def _point(
    kind: TubeType, section: SectionType, point: Mapping[str, Sourced | str]
) -> Iterator[str]:
    figure = {k: v.value for k, v in point.items() if isinstance(v, Sourced)}
    mu, gm, rp = (
        figure.get(n) for n in ("amplification-factor", "transconductance", "plate-resistance")
    )
    if mu and gm and rp and abs(gm * rp / mu - 1) > MU_OFF:
        product = f"transconductance times plate resistance {gm * rp:.3g}"
        yield f"amplification factor {mu:g}, but {product}"
    if section.kind.amplifies:
        yield from _beyond(kind, section, figure)


def _beyond(kind: TubeType, section: SectionType, figure: Mapping[str, float]) -> Iterator[str]:
    """Volts and watts of a point that are more than the tube's rating."""
    for electrode in ("plate", "screen"):
        volts = figure.get(f"{electrode}-voltage")
        amps = figure.get(f"{electrode}-current")
        most = kind.rating(f"{electrode}-voltage", section.name)
        if volts is not None and most is not None and volts > most.value:
            yield f"{electrode} at {volts:g} V, rated {most.value:g} V"
        most = kind.rating(f"{electrode}-dissipation", section.name)
        if volts is not None and amps is not None and most is not None:
            watts = volts * amps
            if watts > WATTS_OVER * most.value:
                yield f"{electrode} takes {watts:.3g} W, rated {most.value:g} W"
