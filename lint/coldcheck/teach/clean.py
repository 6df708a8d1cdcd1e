"""A clean drawing prepared for planting mistakes: its text, circuit, solutions, and edits of it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.circuit import build_circuit
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.paths import dc_graph, has_reference
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing import parse_drawing
from coldcheck.drawing.model import Chain

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.drawing.kinds import PartKind
    from coldcheck.drawing.model import Drawing, Part, Span
    from coldcheck.solve.solution import Solution
    from coldcheck.verdict.review import Review

_SHEET = re.compile(r"^\s*sheet\s", re.MULTILINE)


@dataclass(frozen=True)
class Clean:
    """A drawing without findings, and what a planted mistake needs to know of it.

    Raises ValueError for a review that could not be made: nothing can be planted in it.
    """

    name: str
    drawing: Drawing
    circuit: Circuit
    solutions: Mapping[str, Solution]

    @classmethod
    def of(cls, name: str, text: str, review: Review) -> Clean:
        """From a drawing's text and the review of it."""
        if review.circuit is None or not review.readable:
            raise ValueError(f"{name} could not be read")
        return cls(name, parse_drawing(text, name), review.circuit, review.solutions)

    @property
    def lines(self) -> tuple[str, ...]:
        """The drawing's lines."""
        return self.drawing.lines

    @cached_property
    def links(self) -> Mapping[str, tuple[Chain, int]]:
        """Part name -> the statement it stands in, and its place among the links there."""
        return {
            link.name: (chain, n)
            for chain in self.chains
            for n, link in enumerate(chain.links)
            if link is not None
        }

    @cached_property
    def chains(self) -> tuple[Chain, ...]:
        """The wiring statements on one line each (a continued one is left alone)."""
        return tuple(
            s
            for s in self.drawing.statements
            if isinstance(s, Chain) and not self.lines[s.span.line - 1].rstrip().endswith("--")
        )

    def parts(self, *kinds: PartKind) -> Iterator[tuple[Part, Branch]]:
        """The two-lead parts of these kinds, with the branch each became."""
        for name, (chain, n) in self.links.items():
            part = chain.links[n]
            if part is not None and part.kind in kinds and name in self.circuit.branches:
                yield part, self.circuit.branches[name]

    def inside(self, part: Part) -> str:
        """What is written between a part's brackets."""
        return self.lines[part.span.line - 1][part.span.column - 1 : part.span.end_column - 1]

    def dc(self, net: str, state: str = "warm") -> float | None:
        """Volts DC of a net in a state."""
        solution = self.solutions.get(state)
        wave = solution.wave(net) if solution else None
        return None if wave is None else wave.dc

    # -- edits of the text ----------------------------------------------------------------

    def text(self, lines: list[str]) -> str:
        """The lines as a drawing."""
        return "\n".join(lines) + "\n"

    def replaced(self, span: Span, new: str) -> str:
        """The drawing with the text of a span replaced."""
        lines = list(self.lines)
        old = lines[span.line - 1]
        lines[span.line - 1] = old[: span.column - 1] + new + old[span.end_column - 1 :]
        return self.text(lines)

    def line_replaced(self, number: int, *new: str) -> str:
        """The drawing with one line (from 1) replaced by others, or by none."""
        lines = list(self.lines)
        lines[number - 1 : number] = new
        return self.text(lines)

    def added(self, *new: str) -> str:
        """The drawing with lines at its end."""
        return self.text([*self.lines, *new])

    def part_replaced(self, part: Part, old: str, new: str) -> str | None:
        """The drawing with a text inside a part's brackets replaced, if it is there once."""
        inside = self.inside(part)
        if inside.count(old) != 1:
            return None
        return self.replaced(part.span, inside.replace(old, new))

    def opened(self, name: str) -> str | None:
        """The drawing without a part: its line ends before it and goes on after it."""
        return self._around(name, None)

    def shorted(self, name: str) -> str | None:
        """The drawing with a wire in a part's place."""
        return self._around(name, " -- ")

    def turned(self, name: str) -> str | None:
        """The drawing with a polarised part or a diode the other way round."""
        chain, n = self.links[name]
        part = chain.links[n]
        if part is None:
            return None
        before, inside, after = self._pieces(chain, n) or ("", "", "")
        arrows = {"right": (" <-[", "]-- "), "left": (" --[", "]-> ")}
        pluses = {"left": (" --[", "]+-- "), "right": (" --+[", "]-- ")}
        signs = arrows.get(part.arrow or "") or pluses.get(part.plus or "")
        if not before or signs is None:
            return None
        return self.line_replaced(
            chain.span.line, f"{before.rstrip()}{signs[0]}{inside}{signs[1]}{after.lstrip()}"
        )

    def _around(self, name: str, join: str | None) -> str | None:
        chain, n = self.links[name]
        pieces = self._pieces(chain, n)
        if pieces is None:
            return None
        before, _, after = pieces
        if join is not None:
            return self.line_replaced(chain.span.line, before.rstrip() + join + after.lstrip())
        left = [before] if n > 0 else []
        right = [after] if n < len(chain.links) - 1 else []
        return self.line_replaced(chain.span.line, *left, *right)

    def _pieces(self, chain: Chain, n: int) -> tuple[str, str, str] | None:
        """The line up to the point before a link, the part's text, and from the point after it."""
        left, right, part = chain.points[n], chain.points[n + 1], chain.links[n]
        if left is None or right is None or part is None:
            return None
        line = self.lines[chain.span.line - 1]
        head, tail = line[: left.span.end_column - 1], line[right.span.column - 1 :]
        return head, self.inside(part).strip("[] "), tail

    def without_path(self, text: str, net: str) -> bool:
        """Whether a changed drawing can be read and leaves a point of it without a DC reference."""
        circuit = self._changed(text, net)
        return circuit is not None and not has_reference(
            circuit, circuit.points[net], targets=(GROUND,)
        )

    def unfed(self, text: str, net: str) -> bool:
        """Whether it leaves an electrode without a DC path to a supply, if need be by a tube above.

        A way through gnd does not count.
        """
        circuit = self._changed(text, net)
        return circuit is not None and not _leads(circuit, net, _supplies(circuit), above=True)

    def unreturned(self, text: str, net: str) -> bool:
        """Whether it leaves a cathode without a DC path to gnd and to a tube below it."""
        circuit = self._changed(text, net)
        if circuit is None or has_reference(circuit, circuit.points[net], targets=(GROUND,)):
            return False
        plates = {s.net("plate") for s in circuit.sections() if s.name != net.partition(".")[0]}
        return not _leads(circuit, net, plates)

    def _changed(self, text: str, net: str) -> Circuit | None:
        """The circuit of a changed drawing, where it can be read and has the point."""
        drawing = parse_drawing(text, self.name)
        circuit = build_circuit(drawing) if not drawing.problems else None
        if circuit is None or circuit.problems or net not in circuit.points:
            return None
        return circuit


def _leads(circuit: Circuit, lead: str, targets: set[str | None], *, above: bool = False) -> bool:
    """Whether direct current gets from a lead to one of the targets without passing gnd.

    With ``above`` it may pass the other sections, from cathode to plate and back.
    """
    graph = dc_graph(circuit)
    for section in circuit.sections() if above else ():
        plate = section.net("plate")
        if section.name != lead.partition(".")[0] and plate is not None:
            graph.add_edges_from((plate, n) for n in section.cathode_nets)
    graph.remove_nodes_from([n for n in LANDMARKS if n in graph])
    net = circuit.points[lead]
    return net in graph and bool(nx.node_connected_component(graph, net) & targets)


def _supplies(circuit: Circuit) -> set[str | None]:
    """Rectifiers, sources and windings of more than heater voltage, by their nets."""
    found: set[str | None] = set()
    for section in circuit.sections():
        found |= set(section.cathode_nets) if section.kind is SectionKind.RECTIFIER else set()
    for branch in circuit.branches.values():
        found |= {branch.a, branch.b} if branch.traits.supplies else set()
    return found


def samples(folder: Path) -> tuple[str, ...]:
    """The drawings of a folder to plant mistakes in, by name: those that are one file.

    A mistake in a sheet would be planted in every instance at once.
    """
    found = sorted(folder.glob("*.tube"))
    return tuple(p.stem for p in found if not has_sheets(p.read_text(encoding="utf-8")))


def has_sheets(text: str) -> bool:
    """Whether a drawing brings in others, so that it is not all in its own file."""
    return _SHEET.search(text) is not None
