"""One drawing as a command takes it: read, with its settings, as a circuit; points by name."""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING

from coldcheck.cli import UNREADABLE
from coldcheck.cli.configured import settings_of
from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.output import show
from coldcheck.cli.typed import drawing_of
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from coldcheck.bench.instruments.instruments import Instrument
    from coldcheck.circuit.model import Circuit
    from coldcheck.drawing.model import Drawing
    from coldcheck.settings.model import Settings


@dataclass(frozen=True, slots=True)
class Drawn:
    """A drawing and its settings; ``circuit`` is ``None`` where it could not be read."""

    drawing: Drawing
    settings: Settings
    circuit: Circuit | None


def drawn(file: str) -> Drawn:
    """Read a drawing; raises AskedWrongly for settings that cannot be used."""
    from coldcheck.settings.apply import circuit_of

    (settings,) = settings_of([file])
    drawing = drawing_of(file)
    circuit = None if drawing.problems else circuit_of(drawing, settings)
    return Drawn(drawing, settings, None if circuit is None or circuit.problems else circuit)


def unreadable(found: Drawn) -> int:
    """Report a drawing that could not be read as ``review`` does; its exit status."""
    from coldcheck.report.review import text
    from coldcheck.verdict.document.build import ruling_of
    from coldcheck.verdict.engine import review_drawing

    ruling = ruling_of(review_drawing(found.drawing, None, found.settings))
    show(lambda console: text.render(ruling, console))
    return UNREADABLE


def known_point(circuit: Circuit, wanted: str) -> str:
    """A point, lead or pin as the circuit spells it; an unknown one is asked wrongly."""
    from coldcheck.bench.chart.points import point_named

    found = point_named(circuit, wanted)
    if found is not None:
        return found
    owner, _, pin = wanted.partition(":")
    tube = next((n for n in circuit.tubes if n.casefold() == owner.casefold()), None)
    if pin and tube is not None:
        raise AskedWrongly(f"nothing is on pin {pin} of {tube} in {circuit.drawing.file}")
    folded = {name.casefold(): name for name in circuit.points}
    near = get_close_matches(wanted.casefold(), folded, n=4, cutoff=0.5)
    hint = f"; near it: {', '.join(folded[n] for n in near)}" if near else ""
    raise AskedWrongly(f"there is no point {wanted} in {circuit.drawing.file}{hint}")


def own_instruments(settings: Settings) -> tuple[Instrument, ...]:
    """The instruments of the settings; what is wrong with them is asked wrongly."""
    from coldcheck.bench.instruments.own_instruments import BadInstrument, instruments_of

    try:
        return instruments_of(settings.instruments)
    except BadInstrument as problem:
        raise AskedWrongly(f"{settings.source('instruments')}: {problem}") from problem
