"""Where the signal is taken from a drawing: its speakers and secondaries, its nets named OUT."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from coldcheck.circuit.model import GROUND
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import Expect
from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import branch_ohms

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.circuit.model import Circuit, OutputTransformer
    from coldcheck.solve.solution import State

NAMED_OUT = re.compile(r"OUT(PUT)?([_\d]\w*)?", re.IGNORECASE)
AUDIBLE = 1e-3
"""Volts per volt at the source: a plate with less than this carries no signal worth a line."""


def named_out(point: str) -> bool:
    """Whether a point is called an output, in the drawing or in a sheet of it (``L/OUT``)."""
    return NAMED_OUT.fullmatch(point.rpartition("/")[2]) is not None


@dataclass(frozen=True, slots=True)
class Place:
    """An output: volts from ``a`` to ``b``; ``load`` is a speaker's ohms, else ``None``."""

    name: str
    a: str
    b: str
    load: float | None = None

    @property
    def ends(self) -> dict[str, float]:
        """Weights for its voltage, and for a current driven through it."""
        return {self.a: 1.0, self.b: -1.0}


def places(circuit: Circuit, state: State, strongest: Mapping[str, float]) -> tuple[Place, ...]:
    """The outputs of a drawing.

    Speakers, secondaries without a speaker, nets named ``OUT``; where there is none of these,
    every plate, cathode and expected point that carries signal. ``strongest`` maps a net to the
    most that any source moves it, volts per volt.
    """
    chosen = [*_speakers(circuit, state), *_secondaries(circuit), *_named(circuit)]
    if not chosen:
        chosen = [p for p in _points(circuit) if strongest.get(p.a, 0.0) >= AUDIBLE]
    return tuple({(p.a, p.b): p for p in reversed(chosen)}.values())[::-1]


def _speakers(circuit: Circuit, state: State) -> Iterator[Place]:
    for branch in circuit.branches.values():
        if branch.kind is PartKind.SPEAKER and branch.a != branch.b:
            yield Place(branch.name, branch.a, branch.b, branch_ohms(branch, state))


def _secondaries(circuit: Circuit) -> Iterator[Place]:
    for output in circuit.outputs.values():
        nets = [net for _, net, _ in output.secondary_leads]
        if nets[0] != nets[-1] and not _has_speaker(circuit, nets):
            yield Place(secondary_name(output), *_dotted(output))


def secondary_name(output: OutputTransformer) -> str:
    """What an output transformer's unloaded secondary is called: ``T2.s1-s2``."""
    return f"{output.name}.s1-s2"


def _dotted(output: OutputTransformer) -> tuple[str, str]:
    """The ends of the secondary, the one with the dot first."""
    _, first = output.secondary_parts[0]
    nets = [net for _, net, _ in output.secondary_leads]
    return (nets[0], nets[-1]) if first.a == nets[0] else (nets[-1], nets[0])


def _has_speaker(circuit: Circuit, secondary: list[str]) -> bool:
    nets = {*secondary} - {GROUND}
    return any(b.kind is PartKind.SPEAKER for net in nets for b in circuit.at(net))


def _named(circuit: Circuit) -> Iterator[Place]:
    for net, names in circuit.names.items():
        named = next((n for n in names if named_out(n)), None)
        if named is not None and net != GROUND:
            yield Place(named, net, GROUND)


def _points(circuit: Circuit) -> Iterator[Place]:
    """Plates and cathodes of amplifying sections, then the points the drawing expects of."""
    for section in circuit.sections():
        if section.kind.amplifies:
            for electrode in ("plate", "cathode"):
                net = section.net(electrode)
                if net is not None and net != GROUND:
                    yield Place(f"{section.name}.{electrode}", net, GROUND)
    for statement in circuit.drawing.statements:
        if isinstance(statement, Expect):
            net = circuit.points.get(statement.point.text)
            if net is not None and net != GROUND:
                yield Place(statement.point.text, net, GROUND)
