"""``coldcheck drill``: spot the mistake, then see it explained."""

from __future__ import annotations

import random
import sys
from typing import TYPE_CHECKING

from coldcheck.cli import OK
from coldcheck.cli.configured import settings_of
from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.output import console_text, show, to_file, to_stdout
from coldcheck.cli.typed import drawing_of

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Callable, Iterator, Sequence

    from rich.console import Console

    from coldcheck.teach.choices import Degree
    from coldcheck.teach.lesson import Task

SEEDS = 10_000
PLANTED = "each drawing has one planted mistake"


def run(options: Namespace) -> int:
    """Run a drill, or write its sheets; raises AskedWrongly for what there is not."""
    _refuse(options)
    seed = random.randrange(SEEDS) if options.seed is None else options.seed
    tasks = _tasks(options, seed)
    if options.report == "html":
        return _pages(options, seed, list(tasks))
    if options.key is None and not options.list:
        return _dialogue(options, seed, tasks)
    chosen = _some(list(tasks))
    if options.key is not None:
        to_file(console_text(lambda c: _key(c, seed, chosen), for_file=True), options.key)
    if options.list:
        show(lambda c: _sheet(c, seed, chosen))
    return OK


def _refuse(options: Namespace) -> None:
    """Raise AskedWrongly for what does not go together or is not there."""
    _known(options.family)
    if options.count < 1:
        raise AskedWrongly("--count wants a number of drawings, 1 or more")
    if options.output is not None and options.report != "html":
        raise AskedWrongly("--output goes with --report html")
    if options.readings and (options.family or options.source):
        raise AskedWrongly("--readings takes whole sets: --family and --source go without it")
    if options.of is not None and options.source:
        raise AskedWrongly("--of and --source exclude each other")


def _tasks(options: Namespace, seed: int) -> Iterator[Task]:
    """What was asked for, made one after the other."""
    from coldcheck.teach.choices import Degree

    degree = Degree(options.degree)
    if options.of is not None:
        return _own(options, seed, degree)
    if options.readings:
        from coldcheck.teach.puzzle import puzzles

        return puzzles(seed, options.count, degree)
    from coldcheck.teach.making import exercises

    return exercises(seed, options.count, options.source or (), options.family, degree)


def _own(options: Namespace, seed: int, degree: Degree) -> Iterator[Task]:
    """Exercises of one's own drawing. Raises AskedWrongly for one of which there can be none."""
    from coldcheck.teach.choices import Ground
    from coldcheck.teach.making import exercises_of
    from coldcheck.teach.neutral import bare
    from coldcheck.teach.puzzle import Bench, puzzles_of

    (settings,) = settings_of([options.of])
    text = bare(_text(options.of), promises=False)
    try:
        if options.readings:
            bench = Bench.of(text, options.of, settings)
            return puzzles_of(bench, seed, options.count, degree)
        ground = Ground.of(options.of, text, settings)
    except ValueError as problem:
        raise AskedWrongly(f"{problem}; see coldcheck review") from problem
    return exercises_of(ground, seed, options.count, options.family, degree, settings)


def _text(file: str) -> str:
    """The lines of a drawing. Raises AskedWrongly for one with sheets."""
    from coldcheck.teach.clean import has_sheets

    text = "\n".join(drawing_of(file).lines) + "\n"
    if has_sheets(text):
        raise AskedWrongly(f"{file} has sheets: a mistake in one would be in all that use it")
    return text


def _some(chosen: list[Task]) -> list[Task]:
    """What was made, unless it is nothing."""
    if not chosen:
        raise AskedWrongly("there is no exercise of that kind")
    return chosen


def _pages(options: Namespace, seed: int, chosen: Sequence[Task]) -> int:
    """The sheets to print; the key behind them, or in a file of its own."""
    from coldcheck.teach import sheet

    _some(list(chosen))
    if options.key is not None:
        to_file(sheet.render_key(f"Drill {seed}", chosen), options.key)
    text = sheet.render(f"Drill {seed}", chosen, key=options.key is None)
    to_stdout(text) if options.output is None else to_file(text, options.output)
    return OK


def _known(families: list[str]) -> None:
    from coldcheck.teach.exercise import CIRCUITS

    for family in families:
        if family not in CIRCUITS:
            raise AskedWrongly(f"there is no family {family}; there are {', '.join(CIRCUITS)}")


def _dialogue(options: Namespace, seed: int, made: Iterator[Task]) -> int:
    """Ask at the terminal; without one the answers are read line by line from the input."""
    from rich.console import Console

    from coldcheck.report.review.text import closing
    from coldcheck.report.shared.lines import paragraph
    from coldcheck.teach.lesson import HOW, WAYS, Lesson

    console = Console()
    what, how = ("one part has failed", WAYS) if options.readings else (PLANTED, HOW)
    paragraph(console, f"Drill {seed}: {what}. {how}")
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


def _sheet(console: Console, seed: int, chosen: list[Task]) -> None:
    """The drawings and the choices, without the answers."""
    from coldcheck.report.review.text import closing
    from coldcheck.report.shared.lines import paragraph, say
    from coldcheck.teach.lesson import print_choices, print_task

    paragraph(console, f"Drill {seed}")
    for number, task in enumerate(chosen, 1):
        print_task(console, number, task)
        print_choices(console, task)
    say(console)
    closing(console)


def _key(console: Console, seed: int, chosen: list[Task]) -> None:
    """The answers, in the order of the sheet."""
    from coldcheck.report.shared.lines import paragraph, say
    from coldcheck.teach.lesson import answer_line, reveal

    paragraph(console, f"Answers to drill {seed}")
    for number, task in enumerate(chosen, 1):
        say(console)
        paragraph(console, f"Exercise {number}: {answer_line(task)}", style="bold")
        reveal(console, task)
