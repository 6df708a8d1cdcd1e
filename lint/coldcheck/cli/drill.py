"""``coldcheck drill``: spot the mistake, then see it explained."""

from __future__ import annotations

import random
import sys
from typing import TYPE_CHECKING

from coldcheck.cli import OK
from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.output import console_text, show, to_file

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Callable, Iterator

    from rich.console import Console

    from coldcheck.teach.exercise import Exercise

SEEDS = 10_000


def run(options: Namespace) -> int:
    """Run a drill, or print its sheet; raises AskedWrongly for a family that does not exist."""
    from coldcheck.teach.exercise import SOURCES, exercises

    _known(options.family)
    if options.count < 1:
        raise AskedWrongly("--count wants a number of drawings, 1 or more")
    seed = random.randrange(SEEDS) if options.seed is None else options.seed
    made = exercises(seed, options.count, options.source or SOURCES, options.family)
    if options.key is None and not options.list:
        return _dialogue(seed, made)
    chosen = list(made)
    if options.key is not None:
        to_file(console_text(lambda c: _key(c, seed, chosen), for_file=True), options.key)
    if options.list:
        show(lambda c: _sheet(c, seed, chosen))
    return OK


def _known(families: list[str]) -> None:
    from coldcheck.teach.exercise import CIRCUITS

    for family in families:
        if family not in CIRCUITS:
            raise AskedWrongly(f"there is no family {family}; there are {', '.join(CIRCUITS)}")


def _dialogue(seed: int, made: Iterator[Exercise]) -> int:
    """Ask at the terminal; without one the answers are read line by line from the input."""
    from rich.console import Console

    from coldcheck.report.review.text import closing
    from coldcheck.report.shared.lines import paragraph
    from coldcheck.teach.lesson import HOW, Lesson

    console = Console()
    paragraph(console, f"Drill {seed}: each drawing has one planted mistake. {HOW}")
    Lesson(console, _reader()).run(made)
    closing(console)
    return OK


def _reader() -> Callable[[str], str | None]:
    def read(question: str) -> str | None:
        sys.stdout.write(question)
        sys.stdout.flush()
        line = sys.stdin.readline() if sys.stdin is not None else ""
        if not sys.stdin or not sys.stdin.isatty():
            sys.stdout.write(line if line.endswith("\n") else f"{line}\n")
        return line or None

    return read


def _sheet(console: Console, seed: int, chosen: list[Exercise]) -> None:
    """The drawings and the choices, without the answers."""
    from coldcheck.report.review.text import closing
    from coldcheck.report.shared.lines import paragraph, say
    from coldcheck.teach.lesson import print_choices, print_drawing

    paragraph(console, f"Drill {seed}: each drawing has one planted mistake. Where, and what?")
    for number, exercise in enumerate(chosen, 1):
        print_drawing(console, number, exercise)
        print_choices(console, exercise)
    say(console)
    closing(console)


def _key(console: Console, seed: int, chosen: list[Exercise]) -> None:
    """The answers, in the order of the sheet."""
    from coldcheck.report.shared.lines import paragraph, say
    from coldcheck.teach.lesson import reveal

    paragraph(console, f"Answers to drill {seed}")
    for number, exercise in enumerate(chosen, 1):
        say(console)
        choice = exercise.choices.index(exercise.finding.rule) + 1
        lines = ", ".join(map(str, sorted(exercise.changed)))
        paragraph(console, f"Exercise {number}: line {lines}, choice {choice}", style="bold")
        reveal(console, exercise)
