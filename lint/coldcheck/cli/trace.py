"""``coldcheck trace``: every DC path from a point to its references."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.cli import OK
from coldcheck.cli.drawn import drawn, known_point, unreadable
from coldcheck.cli.output import show

if TYPE_CHECKING:
    from argparse import Namespace

    from coldcheck.circuit.model import Circuit


def run(options: Namespace) -> int:
    """Print the trace; an unreadable drawing is reported as ``review`` reports it."""
    found = drawn(options.file)
    if found.circuit is None:
        return unreadable(found)
    _trace(found.circuit, known_point(found.circuit, options.point))
    return OK


def _trace(circuit: Circuit, point: str) -> None:
    from coldcheck.report.pages import trace_text
    from coldcheck.solve import solve_state

    warm = solve_state(circuit)
    show(lambda console: trace_text.render(circuit, point, warm, console))
