"""A drawing and its settings become a circuit."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.circuit import build_circuit
from coldcheck.circuit.latches import latches
from coldcheck.circuit.limits import too_large
from coldcheck.circuit.tubes_added import added_tubes
from coldcheck.drawing.model import Mains
from coldcheck.drawing.wording import listed
from coldcheck.settings.model import DEFAULTS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Circuit, CoilSet
    from coldcheck.drawing.model import Drawing
    from coldcheck.settings.model import Settings


def circuit_of(drawing: Drawing, settings: Settings = DEFAULTS) -> Circuit:
    """The circuit of a drawing, built with the project's tube data, mains and tolerances.

    The project's own types go before those that other packages bring. A circuit that is too
    large to be worked out has problems that say so.
    """
    types = {**added_tubes().types, **settings.types}
    circuit = build_circuit(drawing, types, settings.usual)
    beyond = too_large(circuit)
    if beyond:
        return replace(circuit, problems=(*circuit.problems, *beyond))
    volts, hertz = settings.mains_voltage, settings.mains_frequency
    if circuit.mains is not None or volts is None or hertz is None:
        return circuit
    on_the_mains = [*circuit.transformers, *(n for n in ("line",) if n in circuit.points)]
    if not on_the_mains:
        return circuit
    return replace(circuit, mains=Mains(volts, hertz, None, circuit.span(on_the_mains[0])))


def assumed(circuit: Circuit, settings: Settings) -> Iterator[str]:
    """What is put in place of something the drawing does not say, as sentences.

    From the settings, and from the types that its own are like.
    """
    yield from dict.fromkeys(t.type.like for t in circuit.tubes.values() if t.type.like)
    yield from _unsized(circuit)
    yield from (
        f"{one.name} and {other.name} hold each other in one of two states: worked out with "
        f"{other.name} conducting and {one.name} cut off"
        for one, other in latches(circuit)
    )
    drawn = any(isinstance(s, Mains) for s in circuit.drawing.statements)
    if circuit.mains is not None and not drawn:
        volts = float(circuit.mains.voltage.m_as("volt"))
        hertz = float(circuit.mains.frequency.m_as("hertz"))
        yield (
            f"the drawing has no mains line: {volts:g} V {hertz:g} Hz are taken from the settings "
            f"({settings.source('mains.voltage')})"
        )


def _unsized(circuit: Circuit) -> Iterator[str]:
    """What is taken for windings whose size is written ``?``."""
    for winding in circuit.windings():
        if winding.taken and winding.volts is not None:
            whose = "the mains" if winding.primary else "the heaters on it"
            volts = float(winding.volts.m_as("volt"))
            yield (
                f"the volts of {winding.name} are not written: {volts:g} V are taken, those of "
                f"{whose}"
            )
    for coil_set in circuit.coil_sets.values():
        yield from _unsized_coils(coil_set)


def _unsized_coils(coil_set: CoilSet) -> Iterator[str]:
    if coil_set.springs:
        yield (
            f"what the springs of {coil_set.name} hand on is not worked out: signals are those "
            "without it"
        )
        return
    bare = [c for c in coil_set.coils if c.unsized]
    if bare:
        names = listed(c.name for c in bare)
        kind = "with iron" if coil_set.iron else "for radio frequencies, as no iron is written"
        wire = [c.name for c in bare if c.resistance is None]
        ohms = f"; the ohms of its wire are usual ones ({listed(wire)})" if wire else ""
        yield f"the size of {names} is not written: {coil_set.name} is taken as one {kind}{ohms}"
