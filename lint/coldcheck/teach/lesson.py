"""The dialogue of a drill: a drawing, where, what, hints, the answer, the score."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, TypeAlias

from coldcheck.records import dataclass
from coldcheck.report.pages.side_by_side import side_by_side
from coldcheck.report.review.findings import print_finding
from coldcheck.report.shared.lines import columns, entries, paragraph, say, show
from coldcheck.report.shared.plain import clean, counted, listed
from coldcheck.teach.exercise import Exercise, written
from coldcheck.teach.puzzle import Puzzle, apart, worded
from coldcheck.verdict.registry import rule_by_id

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from rich.console import Console

Task: TypeAlias = Exercise | Puzzle

WHERE_POINTS, WHAT_POINTS = 3, 3
TRIES = 3
HINT, SHOW, QUIT = "hint", "show", "quit"
WAYS = "hint gives a hint (a point less), show gives the answer, quit ends."
HOW = f"Answer with a part, a lead, a point or a line number. {WAYS}"


class Finished(Exception):  # noqa: N818 - nothing went wrong
    """The pupil wants to stop, or there is no more input."""


@dataclass(slots=True)
class Score:
    """Points so far, of how many."""

    points: int = 0
    of: int = 0
    whole: int = 0
    asked: int = 0

    def add(self, points: int, of: int) -> None:
        """One exercise more."""
        self.points += max(points, 0)
        self.of += of
        self.whole += points == of
        self.asked += 1


@dataclass(slots=True)
class Lesson:
    """One pupil at one console. ``read`` returns a line of input, or ``None`` at its end."""

    console: Console
    read: Callable[[str], str | None]

    def run(self, tasks: Iterable[Task]) -> Score:
        """Go through the exercises; stops early when the pupil does."""
        score = Score()
        try:
            for number, task in enumerate(tasks, 1):
                match task:
                    case Exercise():
                        score.add(self._exercise(number, task), WHERE_POINTS + WHAT_POINTS)
                    case Puzzle():
                        score.add(self._puzzle(number, task), WHAT_POINTS)
        except Finished:
            pass
        say(self.console)
        paragraph(self.console, score_line(score), style="bold")
        return score

    def _exercise(self, number: int, exercise: Exercise) -> int:
        print_task(self.console, number, exercise)
        hints = list(exercise.hints)
        if exercise.degree.told:
            paragraph(self.console, hints.pop(0), 2)
        where = self._asked(
            "Where is the mistake? ", lambda a: is_place(exercise, a), hints, WHERE_POINTS
        )
        print_choices(self.console, exercise)
        what = self._asked("What is it? ", lambda a: is_rule(exercise, a), hints, WHAT_POINTS)
        reveal(self.console, exercise)
        return where + what

    def _puzzle(self, number: int, puzzle: Puzzle) -> int:
        print_task(self.console, number, puzzle)
        print_choices(self.console, puzzle)
        hints = list(puzzle.hints[1 if puzzle.degree.told else 0 :])
        if puzzle.degree.told:
            paragraph(self.console, puzzle.hints[0], 2)
        points = self._asked("Which fault? ", lambda a: is_fault(puzzle, a), hints, WHAT_POINTS)
        reveal(self.console, puzzle)
        return points

    def _asked(
        self, question: str, right: Callable[[str], bool], hints: list[str], points: int
    ) -> int:
        """Ask until it is right, the tries are used up, or the answer is wanted."""
        tries = TRIES
        while tries:
            answer = self._answer(question)
            if answer == SHOW:
                return 0
            if answer == HINT:
                paragraph(self.console, hints.pop(0) if hints else "There are no more hints.", 2)
                points = max(points - 1, 0)
                continue
            if right(answer):
                paragraph(self.console, f"Right: {counted(points, 'point')}.", 2)
                return points
            tries -= 1
            points = max(points - 1, 0)
            left = f"{counted(tries, 'more try').replace('trys', 'tries')}" if tries else "no more"
            paragraph(self.console, f"No; {left}." if tries else "No.", 2)
        return 0

    def _answer(self, question: str) -> str:
        """What was typed; an empty line is no answer and costs nothing."""
        answer = ""
        while not answer:
            given = self.read(question)
            answer = "" if given is None else given.strip().lower()
            if given is None or answer == QUIT:
                raise Finished
        return answer


def is_place(exercise: Exercise, answer: str) -> bool:
    """Whether a part, lead, point or line number is where the mistake is."""
    number = re.fullmatch(r"(?:line )?(\d+)", answer)
    if number:
        return int(number[1]) in exercise.changed
    return answer in exercise.places or answer.split(":")[0] in exercise.places


def is_rule(exercise: Exercise, answer: str) -> bool:
    """Whether the number of a choice, or a rule's name, is the right one."""
    if answer.isdigit():
        chosen = int(answer) - 1
        return chosen in range(len(exercise.choices)) and (
            exercise.choices[chosen] == exercise.finding.rule
        )
    return answer == exercise.finding.rule


def is_fault(puzzle: Puzzle, answer: str) -> bool:
    """Whether the number of a choice, or a fault as it is called, is the right one."""
    return answer in (str(puzzle.answer), puzzle.fault.name.lower())


def offered(task: Task) -> list[str]:
    """What there is to choose from, in words."""
    match task:
        case Exercise():
            return [rule_by_id(rule).title for rule in task.choices]
        case Puzzle():
            return [fault.name for fault in task.choices]


def lines_of(task: Task) -> Sequence[str]:
    """The lines of the drawing as shown."""
    match task:
        case Exercise():
            return written(task.review.lines)
        case Puzzle():
            return written(task.circuit.drawing.lines)


def print_task(console: Console, number: int, task: Task) -> None:
    """The drawing with its line numbers, and the readings where there are some."""
    say(console)
    say(console, f"Exercise {number}", "bold")
    say(console)
    for n, line in enumerate(lines_of(task), 1):
        say(console, f"{n:4d}  {clean(line)}".rstrip())
    say(console)
    if isinstance(task, Puzzle):
        table = columns("DC to gnd, warm", "sound", "read")
        for reading in task.readings:
            table.add_row(clean(reading.point), worded(reading.sound), worded(reading.read))
        show(console, table)


def print_choices(console: Console, task: Task) -> None:
    """The answers to choose from."""
    rows = ((f"{n}", clean(words)) for n, words in enumerate(offered(task), 1))
    entries(console, rows, 2, 4, label_style="")


def reveal(console: Console, task: Task) -> None:
    """The answer, and what speaks for it."""
    say(console)
    match task:
        case Exercise():
            _reveal_mistake(console, task)
        case Puzzle():
            paragraph(console, f"The answer: {clean(task.fault.name)}.", style="bold")
            for words in against(task):
                paragraph(console, clean(words), 2)


def answer_line(task: Task) -> str:
    """Where it is, and the number of the right choice."""
    match task:
        case Exercise():
            lines = ", ".join(map(str, sorted(task.changed)))
            return f"line {lines}, choice {task.choices.index(task.finding.rule) + 1}"
        case Puzzle():
            return f"choice {task.answer}"


def against(puzzle: Puzzle) -> list[str]:
    """What each wrong answer would show that is not read."""
    told = []
    for fault, row in zip(puzzle.choices, puzzle.others, strict=True):
        spots = [(r, volts) for r, volts in zip(puzzle.readings, row, strict=True)]
        other = [(r, v) for r, v in spots if fault != puzzle.fault and apart(v, r.read)]
        if other:
            reading, volts = max(other, key=lambda pair: _gap(pair[0].read, pair[1]))
            would = f"{reading.point} would have {worded(volts)}, not {worded(reading.read)}"
            told.append(f"With {fault.name} {would}.")
    return told


def _gap(a: float | None, b: float | None) -> float:
    return abs((a or 0.0) - (b or 0.0))


def _reveal_mistake(console: Console, exercise: Exercise) -> None:
    """The finding with its evidence, what was done to the drawing, and the mended lines."""
    paragraph(console, f"The answer: {clean(exercise.story)}", style="bold")
    print_finding(console, exercise.review, exercise.finding)
    say(console)
    left, right = excerpts(exercise)
    side_by_side(console, left, right, ("as shown", "mended"))
    others = {f.rule for f in exercise.review.findings} - {exercise.finding.rule}
    if others:
        paragraph(console, f"The review also names {listed(sorted(others))}.")
    paragraph(console, f"More: coldcheck why {exercise.finding.rule}")


def excerpts(exercise: Exercise, around: int = 1) -> tuple[str, str]:
    """The lines that changed, with a line around them, of both drawings."""
    shown, mended = written(exercise.review.lines), written(exercise.mended.lines)
    first, last = min(exercise.changed), max(exercise.changed)
    start, after = max(first - 1 - around, 0), max(len(shown) - last - around, 0)
    return "\n".join(shown[start : len(shown) - after]), "\n".join(
        mended[start : len(mended) - after]
    )


def score_line(score: Score) -> str:
    """The score in one sentence."""
    if not score.asked:
        return "No exercise was finished."
    done = counted(score.asked, "exercise")
    return (
        f"{score.points} of {score.of} points in {done}; "
        f"{score.whole} without a hint or a wrong answer."
    )
