"""``coldcheck ladder``: the potentials of a circuit, height is volts; states side by side."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli import OK
from coldcheck.cli.drawn import drawn, unreadable
from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.output import console_text, to_file, to_stdout
from coldcheck.files.places import where

if TYPE_CHECKING:
    from argparse import Namespace

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit


def run(options: Namespace) -> int:
    """Print or write the ladder; a drawing that cannot be read has none."""
    from coldcheck.bench.ladder.ladder import ladder
    from coldcheck.report.ladder import svg
    from coldcheck.report.ladder import text as ladder_text

    if options.output is not None and where(Path(options.output)) == where(Path(options.file)):
        raise AskedWrongly(f"the ladder would overwrite the drawing {options.file}")
    drawing = drawn(options.file)
    if drawing.circuit is None:
        return unreadable(drawing)
    found = ladder(_case(drawing.circuit, options.state), options.state)
    if options.report == "svg":
        text = svg.render(found)
    else:
        text = console_text(
            lambda console: ladder_text.render(found, console), for_file=options.output is not None
        )
    to_stdout(text) if options.output is None else to_file(text, options.output)
    return OK


def _case(circuit: Circuit, asked: list[str]) -> Case:
    """Every state, solved; raises AskedWrongly for a state the circuit does not have."""
    from coldcheck.anatomy.case import Case
    from coldcheck.solve import solve_states
    from coldcheck.solve.states import states_of

    known = [s.name for s in states_of(circuit)]
    for name in asked:
        if name not in known:
            raise AskedWrongly(f"there is no state {name}; the drawing has {', '.join(known)}")
    return Case(circuit, solve_states(circuit))
