"""Drawings as text, read, built and solved: what every prediction of the scorecard goes through."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

from coldcheck.circuit import build_circuit
from coldcheck.circuit.tubes import tube_type
from coldcheck.drawing import parse_drawing
from coldcheck.solve import solve_state

if TYPE_CHECKING:
    from coldcheck.circuit.model import Circuit, Tube
    from coldcheck.circuit.tubes_types import SectionType
    from coldcheck.solve.solution import Solution

Runner = Callable[..., float]
"""``runner(answer, **inputs) -> prediction``; ``answer`` only where a load is stated through it."""

IDEAL = "mains 120 V {hz} Hz\ntransformer T1\n    primary pri 120 V 0.001 ohm\n"
"""A transformer without losses; the windings are added below it."""


@cache
def built(text: str) -> Circuit:
    """The circuit of a drawing that must be free of problems."""
    drawing = parse_drawing(text, "<scorecard>")
    circuit = build_circuit(drawing)
    if drawing.problems or circuit.problems:
        raise ValueError(f"{drawing.problems or circuit.problems}\n{text}")
    return circuit


@cache
def solved(text: str, state: str = "warm") -> Solution:
    """A state of the drawing that must have been reached."""
    return _reached(built(text), state)


def solved_with(text: str, sections: Mapping[str, tuple[SectionType, ...]]) -> Solution:
    """The warm state with other laws for some tubes (tube name -> its sections' types)."""
    circuit = built(text)
    tubes = {n: _with(t, sections[n]) if n in sections else t for n, t in circuit.tubes.items()}
    return _reached(replace(circuit, tubes=tubes), "warm")


def _with(tube: Tube, types: tuple[SectionType, ...]) -> Tube:
    pairs = zip(tube.sections, types, strict=True)
    return replace(
        tube,
        type=replace(tube.type, sections=types),
        sections=tuple(replace(s, type=t) for s, t in pairs),
    )


def _reached(circuit: Circuit, state: str) -> Solution:
    solution = solve_state(circuit, state)
    if not solution.converged:
        raise ValueError(f"not solved: {solution.reason}")
    return solution


def section_of(tube: str) -> str:
    """The first section of V1 as drawings write it: ``V1A`` or ``V1``."""
    return f"V1{tube_type(tube).sections[0].name}"


def third_grid(tube: str) -> str:
    """The line that joins a suppressor with a pin of its own to the cathode."""
    own = ("", "suppressor") in tube_type(tube).pins.values()
    return "V1.suppressor -- V1.cathode\n" if own else ""


def transformer(windings: str, hz: float = 60) -> str:
    """A lossless transformer with those winding lines."""
    lines = "".join(f"    winding {w}\n" for w in windings.split("\n"))
    return IDEAL.format(hz=hz) + lines
