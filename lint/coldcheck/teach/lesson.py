"""The dialogue of a drill: a drawing, where, what, hints, the answer, the score."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from coldcheck.records import dataclass
from coldcheck.report.pages.side_by_side import side_by_side
from coldcheck.report.review.findings import print_finding
from coldcheck.report.shared.lines import entries, paragraph, say
from coldcheck.report.shared.plain import clean, counted, listed
from coldcheck.verdict.registry import rule_by_id

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from rich.console import Console

    from coldcheck.teach.exercise import Exercise

WHERE_POINTS, WHAT_POINTS = 3, 3
TRIES = 3
HINT, SHOW, QUIT = "hint", "show", "quit"
HOW = (
    "Answer with a part, a lead, a point or a line number. hint gives a hint (a point less), "
    "show gives the answer, quit ends."
)


class Finished(Exception):  # noqa: N818 - nothing went wrong
    """The pupil wants to stop, or there is no more input."""


@dataclass(slots=True)
class Score:
    """Points so far, of how many."""

    points: int = 0
    of: int = 0
    whole: int = 0
    asked: int = 0

    def add(self, points: int) -> None:
        """One exercise more."""
        self.points += max(points, 0)
        self.of += WHERE_POINTS + WHAT_POINTS
        self.whole += points == WHERE_POINTS + WHAT_POINTS
        self.asked += 1


@dataclass(slots=True)
class Lesson:
    """One pupil at one console. ``read`` returns a line of input, or ``None`` at its end."""

    console: Console
    read: Callable[[str], str | None]

    def run(self, exercises: Iterable[Exercise]) -> Score:
        """Go through the exercises; stops early when the pupil does."""
        score = Score()
        try:
            for number, exercise in enumerate(exercises, 1):
                score.add(self._one(number, exercise))
        except Finished:
            pass
        say(self.console)
        paragraph(self.console, score_line(score), style="bold")
        return score

    def _one(self, number: int, exercise: Exercise) -> int:
        print_drawing(self.console, number, exercise)
        hints = list(exercise.hints)
        where = self._asked(
            "Where is the mistake? ", lambda a: is_place(exercise, a), hints, WHERE_POINTS
        )
        print_choices(self.console, exercise)
        what = self._asked("What is it? ", lambda a: is_rule(exercise, a), hints, WHAT_POINTS)
        reveal(self.console, exercise)
        return where + what

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


def print_drawing(console: Console, number: int, exercise: Exercise) -> None:
    """The drawing with its line numbers."""
    say(console)
    say(console, f"Exercise {number}", "bold")
    say(console)
    for n, line in enumerate(exercise.lines, 1):
        say(console, f"{n:4d}  {clean(line)}".rstrip())
    say(console)


def print_choices(console: Console, exercise: Exercise) -> None:
    """The findings to choose from."""
    rows = ((f"{n}", rule_by_id(r).title) for n, r in enumerate(exercise.choices, 1))
    entries(console, rows, 2, 4, label_style="")


def reveal(console: Console, exercise: Exercise) -> None:
    """The finding with its evidence, what was done to the drawing, and the mended lines."""
    say(console)
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
    shown = [line.rstrip() for line in exercise.lines]
    mended = [line.rstrip() for line in exercise.mended]
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
