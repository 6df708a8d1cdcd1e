"""What the interface raises: a name that is not there, a value that is none, a drawing unread."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.circuit.problems import did_you_mean
from coldcheck.report.shared.plain import clean

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from coldcheck.drawing.model import Problem

__all__ = ["BadValueError", "MissingError", "UnreadableError"]

NAMED = 30
"""Names that a message lists before it says how many more there are."""


class MissingError(KeyError):
    """A name that is not there or has no number; the message says which, and what there is."""

    def __str__(self) -> str:
        return str(self.args[0])  # a KeyError would show its text in quotes, escaped


class BadValueError(ValueError):
    """A value that a part cannot have: what was given, what was expected, a likely slip."""


class UnreadableError(ValueError):
    """A drawing that could not be read; ``problems`` has every reason, with its place."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        super().__init__("\n".join(_line(p) for p in problems))
        self.problems = tuple(problems)


def _line(problem: Problem) -> str:
    span, hint = problem.span, f"; {problem.hint}" if problem.hint else ""
    where = f"{span.file}:{span.line}:{span.column}"
    return clean(f"{where}: found {problem.found}; expected {problem.expected}{hint}")


def missing(what: str, name: object, known: Iterable[str]) -> MissingError:
    """``what`` is the kind of thing that ``name`` was taken for: ``a part``, ``a state``."""
    names = list(known)
    if not names:
        return MissingError(f"{name!r} is no name of {what}: there is none")
    near = _in_a_sheet(str(name), names) or did_you_mean(str(name), names)
    shown = ", ".join(names[:NAMED])
    more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
    said = f"{name!r} is no name of {what}" + (f"; {near}" if near else "")
    return MissingError(f"{said}\nthere are: {shown}{more}")


def _in_a_sheet(name: str, names: Iterable[str]) -> str:
    """A hint for a part of a sheet that was asked for without the name of the sheet's use."""
    meant = next((n for n in names if n.rpartition("/")[2].casefold() == name.casefold()), None)
    return f"did you mean {meant}?" if meant else ""
