"""What a change of a rule cannot touch is worked out once: circuits, states, other rules."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.drawing import reader
from coldcheck.verdict import engine
from coldcheck.verdict.added import NOTHING
from coldcheck.verdict.running import run_rules

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from coldcheck.anatomy.case import Case
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule

PACKAGE = "coldcheck.rules."


def kept(made: Callable) -> Callable:
    """The same answer for the same objects; they are held, so that an identity stays what it is."""
    answers: dict[tuple[object, ...], tuple[object, tuple[object, ...]]] = {}

    def asked(*args: object) -> object:
        key = tuple(a if isinstance(a, str | Path) else id(a) for a in args)
        if key not in answers:
            answers[key] = (made(*args), args)
        return answers[key][0]

    return asked


class Outcomes:
    """What rules say of a case; asked again only of those that use the ``changed`` module."""

    def __init__(self) -> None:
        self.changed: str | None = None
        self._said: dict[tuple[str, int], tuple[list[Outcome], Case]] = {}

    def run(
        self,
        case: Case,
        rules: Iterable[Rule],
        packages: Mapping[str, str] = NOTHING.packages,
    ) -> list[Outcome]:
        return [o for rule in rules for o in self._of(case, rule, packages)]

    def _of(self, case: Case, rule: Rule, packages: Mapping[str, str]) -> list[Outcome]:
        key = (rule.id, id(case))
        if key in self._said and not self._touched(rule):
            return self._said[key][0]
        if self.changed is not None:  # answers that rules share may be the changed module's
            case.kept.clear()
            case.circuit.kept.clear()
        said = run_rules(case, [rule], packages)
        if self.changed is None:
            self._said[key] = (said, case)
        return said

    def _touched(self, rule: Rule) -> bool:
        name = rule.judge.__module__
        return not name.startswith(PACKAGE) or self.changed in uses(name)


@cache
def uses(name: str) -> frozenset[str]:
    """A module of the rules, and those of them that it imports, also by way of others."""
    found, todo = {name}, [name]
    while todo:
        for other in _imports(todo.pop()) - found:
            found.add(other)
            todo.append(other)
    return frozenset(found)


def _imports(name: str) -> set[str]:
    path = Path(engine.__file__).parents[1].joinpath(*name.split(".")[1:]).with_suffix(".py")
    if not path.exists():
        return set()
    froms = [
        n for n in ast.walk(ast.parse(path.read_text("utf-8"))) if isinstance(n, ast.ImportFrom)
    ]
    whole = {n.module for n in froms if n.module}
    parts = {f"{n.module}.{a.name}" for n in froms for a in n.names}
    return {m for m in whole | parts if m.startswith(PACKAGE)}


def keep() -> Outcomes:
    """Have reviews ask only once for what a change of a rule cannot touch."""
    outcomes = Outcomes()
    reader.parse_drawing = kept(reader.parse_drawing)
    reader.read_drawing = kept(reader.read_drawing)
    engine.circuit_of = kept(engine.circuit_of)
    engine.solve_states = kept(engine.solve_states)
    engine.Case = kept(engine.Case)
    engine.run_rules = outcomes.run
    return outcomes
