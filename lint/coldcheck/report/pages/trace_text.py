"""One point's DC paths as text: what joins it to its reference, step by step."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from rich.text import Text

from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.paths import branch_ohms, hangs_on, references, resistance
from coldcheck.drawing.units import engineering
from coldcheck.report.shared.lines import columns, entries, paragraph, say, show
from coldcheck.report.shared.numbers import volts
from coldcheck.report.shared.plain import clean, counted, listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from rich.console import Console

    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.circuit.paths import DcPath
    from coldcheck.solve.solution import Solution

_MOST = 16


def render(circuit: Circuit, point: str, warm: Solution, console: Console) -> None:
    """Print the trace of a point that the circuit has; ``warm`` may be a state not solved."""
    net = circuit.points.get(point, point)
    paths = references(circuit, net, limit=_MOST)
    if not paths:
        paths = references(circuit, net, targets=LANDMARKS, limit=_MOST)
    say(console, f"{clean(point)} in {clean(circuit.drawing.file)}", "bold")
    entries(console, _facts(circuit, point, net, warm, paths), 2, 12)
    for number, path in enumerate(paths, 1):
        _path(console, number, path, warm)
    if len(paths) == _MOST:
        say(console)
        paragraph(console, f"These are the {_MOST} shortest paths; there may be more.", 2)
    if any(path.branches for path in paths):
        say(console)
        paragraph(console, "Warm state; a current is positive where it flows away from the point.")


def _facts(
    circuit: Circuit, point: str, net: str, warm: Solution, paths: tuple[DcPath, ...]
) -> Iterator[tuple[str, str]]:
    others = [n for n in circuit.names.get(net, ()) if n != point]
    if others:
        yield "same wire", clean(listed(others))
    yield "voltage", _voltage(warm, net)
    yield "resistance", _resistance(circuit, net)
    yield "DC paths", _counted(net, paths)
    if paths and paths[0].branches:
        yield "hangs on", _hangs(circuit, net, paths[0].nets[-1])


def _voltage(warm: Solution, net: str) -> str:
    if not warm.converged:
        return f"no number: the warm state was not solved ({clean(warm.reason)})"
    wave = warm.waves.get(net)
    if wave is None:
        reason = warm.why_lost(net) or "it could not be worked out"
        return f"no number: {clean(reason)}"
    alternating = f", AC {volts(wave.ac_rms)} V rms" if wave.ac_rms >= 5e-3 else ""
    return f"{volts(wave.dc)} V DC to gnd, warm{alternating}"


def _resistance(circuit: Circuit, net: str) -> str:
    if GROUND not in circuit.graph:
        return "the drawing has no gnd to measure from"
    ohms = resistance(circuit, net)
    if ohms is None:
        return "unknown: a part on the way has no value"
    if ohms == inf:
        return "an ohmmeter finds no way to gnd, power off"
    return f"{engineering(ohms, 'ohm')} to gnd by ohmmeter, power off, capacitors settled"


def _counted(net: str, paths: tuple[DcPath, ...]) -> str:
    if not paths:
        return "none: only tubes, semiconductors or capacitors join it to anything with a reference"
    if not paths[0].branches:
        return f"it is {clean(net)} itself"
    ends = dict.fromkeys(p.nets[-1] for p in paths)
    return f"{counted(len(paths), 'path')} to {clean(listed(ends))}"


def _hangs(circuit: Circuit, net: str, end: str) -> str:
    """The single parts: with one of them open, no DC path is left."""
    single = hangs_on(circuit, net, target=end)
    if not single:
        return f"no single part: any one may open and a path to {clean(end)} is left"
    names = listed(dict.fromkeys(clean(b.owner) for b in single))
    one = "it opens" if len(single) == 1 else "any of them opens"
    return f"{names}: if {one}, no DC path to {clean(end)} is left"


def _path(console: Console, number: int, path: DcPath, warm: Solution) -> None:
    """A path as a table: the part, its resistance, the current in it, the point reached."""
    if not path.branches:
        return
    total = "a value on it is unknown" if path.ohms is None else engineering(path.ohms, "ohm")
    say(console)
    say(console, f"Path {number} to {clean(path.nets[-1])}: {total}", "bold")
    table = columns("through", "", "DC current", "to", "DC volts")
    table.columns[3].justify = "left"
    for here, branch, there in zip(path.nets, path.branches, path.nets[1:], strict=False):
        wave = warm.waves.get(there) if warm.converged else None
        row = (
            branch.name,
            _ohms(branch),
            _current(warm, branch, here),
            there,
            volts(wave.dc if wave is not None else None),
        )
        table.add_row(*(Text(clean(cell)) for cell in row))
    show(console, table)


def _ohms(branch: Branch) -> str:
    ohms = branch_ohms(branch)
    return "?" if ohms is None else engineering(ohms, "ohm")


def _current(warm: Solution, branch: Branch, start: str) -> str:
    """The warm DC current along the path: positive when it flows away from the point."""
    wave = warm.current(branch.name) if warm.converged else None
    if wave is None:
        return "–"
    along = wave.dc if branch.a == start else -wave.dc
    return "0 A" if abs(along) < 1e-9 else engineering(along, "A")
