"""``coldcheck trace``: every DC path from a point to its references."""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING

from coldcheck.cli import OK, UNREADABLE
from coldcheck.cli.configured import settings_of
from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.output import show

if TYPE_CHECKING:
    from argparse import Namespace

    from coldcheck.circuit.model import Circuit
    from coldcheck.drawing.model import Drawing
    from coldcheck.settings.model import Settings


def run(options: Namespace) -> int:
    """Print the trace; an unreadable drawing is reported as ``review`` reports it."""
    from coldcheck.drawing import read_drawing
    from coldcheck.settings.apply import circuit_of

    (settings,) = settings_of([options.file])
    drawing = read_drawing(options.file)
    circuit = None if drawing.problems else circuit_of(drawing, settings)
    if circuit is None or circuit.problems:
        return _unreadable(drawing, settings)
    _trace(circuit, _known(circuit, options.point))
    return OK


def _trace(circuit: Circuit, point: str) -> None:
    from coldcheck.report import trace_text
    from coldcheck.solve import solve_state

    warm = solve_state(circuit)
    show(lambda console: trace_text.render(circuit, point, warm, console))


def _unreadable(drawing: Drawing, settings: Settings) -> int:
    from coldcheck.report import text
    from coldcheck.rules.engine import review_drawing

    review = review_drawing(drawing, None, settings)
    show(lambda console: text.render(review, console))
    return UNREADABLE


def _known(circuit: Circuit, wanted: str) -> str:
    """The point as the circuit spells it; an unknown one is asked wrongly."""
    if wanted in circuit.points:
        return wanted
    folded = {name.casefold(): name for name in circuit.points}
    pin = _pin(circuit, wanted.casefold())
    if pin is not None or wanted.casefold() in folded:
        return pin or folded[wanted.casefold()]
    near = get_close_matches(wanted.casefold(), folded, n=4, cutoff=0.5)
    hint = f"; near it: {', '.join(folded[n] for n in near)}" if near else ""
    raise AskedWrongly(f"there is no point {wanted} in {circuit.drawing.file}{hint}")


def _pin(circuit: Circuit, wanted: str) -> str | None:
    """The electrode on a socket pin (``V2:8``), also one the drawing does not write by number."""
    tube_name, _, pin = wanted.partition(":")
    tubes = {name.casefold(): tube for name, tube in circuit.tubes.items()}
    tube = tubes.get(tube_name)
    if tube is None or pin not in tube.type.pins:
        return None
    section, electrode = tube.type.pins[pin]
    lead = f"{tube.name}{section}.{electrode}"
    return lead if lead in circuit.points else None
