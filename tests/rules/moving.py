"""Thresholds moved to both sides of a figure, and what a rule says then."""

from __future__ import annotations

import sys
import tomllib
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cache
from itertools import permutations
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.anatomy.case import Case
from coldcheck.drawing import parse_drawing
from coldcheck.drawing.units import si
from coldcheck.judge.figure import Figure
from coldcheck.judge.finding import Finding
from coldcheck.judge.threshold import Threshold
from coldcheck.settings.apply import circuit_of
from coldcheck.settings.model import DEFAULTS
from coldcheck.solve import solve_states
from coldcheck.verdict.registry import RULES

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.circuit.model import Circuit
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.solution import Solution

PAIRS = Path(__file__).parents[2] / "samples" / "mistakes"
BESIDE = 0.004
"""A threshold is moved this share below and above a figure."""

UNITS = {"V": "volt", "A": "ampere", "ohm": "ohm", "F": "farad", "H": "henry", "W": "watt"}


@dataclass(frozen=True, slots=True)
class Boundary:
    """A drawing (a pair's, edited) in which a threshold decides, and the figure it does so at.

    Without ``at`` the figure is one of the finding's own evidence or of the drawing.
    """

    rule: str
    drawing: str
    edits: tuple[tuple[str, str], ...] = ()
    add: str = ""
    at: float | None = None

    @property
    def text(self) -> str:
        found = (PAIRS / f"{self.drawing}.tube").read_text("utf-8")
        for old, new in self.edits:
            assert old in found, f"{self.drawing}: {old!r}"
            found = found.replace(old, new)
        return f"{found}{self.add}"


@cache
def boundaries() -> Mapping[str, Boundary]:
    """The table of those the pairs alone do not exercise, by the name of the threshold."""
    text = (Path(__file__).parent / "boundaries.toml").read_text("utf-8")
    return {name: _boundary(**entry) for name, entry in tomllib.loads(text).items()}


def _boundary(
    rule: str,
    drawing: str,
    edits: list[list[str]] | None = None,
    add: str = "",
    at: float | None = None,
) -> Boundary:
    return Boundary(rule, drawing, tuple((a, b) for a, b in edits or ()), add, at)


def thresholds() -> dict[str, tuple[Threshold, tuple[Rule, ...]]]:
    """Every threshold of every rule by its name, and the rules that go by it."""
    found: dict[str, tuple[Threshold, tuple[Rule, ...]]] = {}
    for rule in RULES:
        for one in rule.thresholds:
            known = found.get(one.name, (one, ()))
            assert known[0] is one, f"two thresholds are named {one.name!r}"
            found[one.name] = (one, (*known[1], rule))
    return found


@cache
def holders() -> dict[int, list[tuple[dict[object, object], object]]]:
    """Where each threshold is held: a module's names, or a table of its own."""
    found: dict[int, list[tuple[dict[object, object], object]]] = {}
    modules = [vars(m) for n, m in list(sys.modules.items()) if n.startswith("coldcheck")]
    tables = [v for names in modules for v in names.values() if type(v) is dict]
    for names in {id(t): t for t in (*modules, *tables)}.values():
        for key, value in names.items():
            if isinstance(value, Threshold):
                found.setdefault(id(value), []).append((names, key))
    return found


@contextmanager
def moved(threshold: Threshold, value: float) -> Iterator[None]:
    """The threshold at another value, wherever it is read."""
    places = holders()[id(threshold)]
    for names, key in places:
        names[key] = replace(threshold, value=value)
    try:
        yield
    finally:
        for names, key in places:
            names[key] = threshold


@cache
def solved(text: str) -> tuple[Circuit, Mapping[str, Solution]]:
    """A drawing and all its states; a threshold has no part in either."""
    drawing = parse_drawing(text, "t.tube")
    circuit = circuit_of(drawing, DEFAULTS)
    assert not (*drawing.problems, *circuit.problems), text
    return circuit, solve_states(circuit)


def case_of(text: str) -> Case:
    """With nothing answered before about its circuit: a threshold may have moved since."""
    circuit, solutions = solved(text)
    circuit.kept.clear()
    return Case(circuit, solutions)


def said(rule: Rule, text: str) -> frozenset[object]:
    """What a rule says, without the words: places, level, state and certainty."""
    return frozenset(
        (o.at, o.level, o.state, o.certainty) if isinstance(o, Finding) else o.at
        for o in rule.judge(case_of(text))
    )


def decides(rule: Rule, text: str, threshold: Threshold, at: float) -> bool:
    """Whether the rule says one thing just below a figure and another just above it."""
    below, above = (_said_at(rule, text, threshold, at * (1 + off)) for off in (-BESIDE, BESIDE))
    return None not in (below, above) and below != above


def _said_at(rule: Rule, text: str, threshold: Threshold, value: float) -> frozenset[object] | None:
    """``None`` where a value far from its own leaves no sense in a remedy's arithmetic."""
    with moved(threshold, value):
        try:
            return said(rule, text)
        except (ValueError, ArithmeticError):
            return None


def figures(rule: Rule, text: str, threshold: Threshold) -> list[float]:
    """Figures at which it may decide: of the evidence, and of the parts in the drawing."""
    found = [o for o in rule.judge(case_of(text)) if isinstance(o, Finding)]
    near = [f for o in found for f in _evidence(o, threshold)]
    known = [x for x in (*near, *_drawn(solved(text)[0], threshold.unit)) if x]
    return list(dict.fromkeys(float(f"{x:.6g}") for x in known))


def _evidence(finding: Finding, threshold: Threshold) -> Iterator[float]:
    yield threshold.value * finding.excess
    yield threshold.value / finding.excess
    shown = [f for f in (*finding.evidence.values(), finding.limit) if isinstance(f, Figure)]
    yield from (f.value for f in shown if f.unit == threshold.unit)
    if not threshold.unit:
        pairs = permutations(shown, 2)
        yield from (a.value / b.value for a, b in pairs if a.unit == b.unit and b.value)


def _drawn(circuit: Circuit, unit: str) -> Iterator[float]:
    wanted = UNITS.get(unit)
    if wanted is None:
        return
    for branch in circuit.branches.values():
        part = branch.part
        written = (part.power, part.voltage, part.current) if part is not None else ()
        for value in (branch.value, branch.resistance, *written):
            if value is not None and value.is_compatible_with(wanted):
                yield float(si(value, wanted) or 0.0)
    yield from (si(w.volts, "volt") or 0.0 for w in circuit.windings() if wanted == "volt")
    for tube in circuit.tubes.values():
        yield from (r.value for r in tube.type.ratings.values() if r.unit == wanted)


@dataclass(frozen=True, slots=True)
class Sides:
    """A drawing in which one line, with one figure or another, lies on either side of a limit."""

    boundary: Boundary
    line: str
    below: str
    above: str

    @property
    def texts(self) -> tuple[str, str]:
        text = self.boundary.text
        assert text.count(self.line) == 1, self.line
        return text.replace(self.line, self.below), text.replace(self.line, self.above)


@cache
def sides() -> Mapping[str, Sides]:
    """Drawings a twentieth to both sides of a threshold as it stands, by its name."""
    text = (Path(__file__).parent / "sides.toml").read_text("utf-8")
    found = {}
    for name, entry in tomllib.loads(text).items():
        lines = (entry.pop("line"), entry.pop("below"), entry.pop("above"))
        found[name] = Sides(_boundary(**entry), *lines)
    return found
