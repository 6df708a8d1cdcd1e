"""A drill on paper: a page an exercise with picture and questions, the key on its own page."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.compare.changes import compare
from coldcheck.compare.pictured import pictured
from coldcheck.picture.board import TangleError
from coldcheck.picture.draw import picture_of
from coldcheck.picture.only import around
from coldcheck.picture.volts import volts_of
from coldcheck.report.pages.lesson_page import LINES_STYLE, beside
from coldcheck.report.picture import pair, svg
from coldcheck.report.shared.blocks import Section, Table
from coldcheck.report.shared.html_blocks import STYLE, heading, labels, whole
from coldcheck.report.shared.html_page import page, text
from coldcheck.report.shared.places import sentence
from coldcheck.report.shared.plain import listed
from coldcheck.solve import solve_state
from coldcheck.teach.exercise import Exercise
from coldcheck.teach.lesson import against, answer_line, excerpts, lines_of, offered
from coldcheck.teach.puzzle import Puzzle, worded
from coldcheck.verdict.registry import rule_by_id

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from coldcheck.circuit.model import Circuit
    from coldcheck.teach.lesson import Task

_STYLE = """
.task { break-before: page; }
.task:first-of-type { break-before: auto; }
ol.choices { list-style: none; padding: 0; }
ol.choices li { margin: .4rem 0; break-inside: avoid; }
.box { display: inline-block; width: .9em; height: .9em; border: 1px solid #000;
       margin-right: .6em; vertical-align: -.1em; }
.answer { border-bottom: 1px solid #000; margin: .4rem 0 1rem; padding-top: 1.4rem;
          max-width: 40rem; }
ol.text { columns: 2; column-gap: 2rem; font: .8rem/1.35 "Liberation Mono", monospace;
          padding-left: 2.4rem; }
ol.text li { white-space: pre-wrap; overflow-wrap: anywhere; }
@media (max-width: 40rem) { ol.text { columns: 1; } }
@media print {
  @page { size: A4 portrait; margin: 14mm; }
  h1 { display: none; }
  .sheet svg { max-height: 120mm; }
  .drawn-task.large { break-before: auto; }
  ol.text { break-inside: avoid; }
  .key figure:not(.large) svg { max-height: 80mm; }
  ol.text { font-size: 7pt; }
}
"""


def render(title: str, tasks: Sequence[Task], *, key: bool = True) -> str:
    """The sheets and, where it is wanted, the key behind them; all from drawings is escaped."""
    body = [
        line for n, task in enumerate(tasks, 1) for line in _task(f"{title}, exercise {n}", task)
    ]
    body += _keys(title, tasks) if key else ()
    return _whole(title, body)


def render_key(title: str, tasks: Sequence[Task]) -> str:
    """The key alone."""
    return _whole(title, list(_keys(title, tasks)))


def _whole(title: str, body: Sequence[str]) -> str:
    style = "".join((STYLE, pair.STYLE, LINES_STYLE, _STYLE))
    return page(text(title), style, (f"<main><h1>{text(title)}</h1>", *body, "</main>"))


def _task(head: str, task: Task) -> Iterator[str]:
    yield '<section class="task">'
    yield from _picture(head, task)
    match task:
        case Exercise():
            yield from _questions(task)
        case Puzzle():
            yield from whole(_readings(task), 3)
            yield "<p>One part has failed. Which fault is it?</p>"
            yield from _choices(task)
    yield '<ol class="text">'
    yield from (f"<li>{text(line)}</li>" for line in lines_of(task))
    yield "</ol></section>"


def _questions(task: Exercise) -> Iterator[str]:
    yield "<p>The drawing has one mistake. Where is it? Name a part, a lead, a point or a line.</p>"
    if task.degree.told:
        yield f"<p>{text(task.hints[0])}</p>"
    yield '<div class="answer"></div><p>What is it?</p>'
    yield from _choices(task)


def _choices(task: Task) -> Iterator[str]:
    yield '<ol class="choices">'
    for n, words in enumerate(offered(task), 1):
        yield f'<li><span class="box"></span>{n}  {text(words)}</li>'
    yield "</ol>"


def _readings(puzzle: Puzzle) -> Section:
    heads = ("point", "sound", "read")
    rows = tuple((r.point, worded(r.sound), worded(r.read)) for r in puzzle.readings)
    return Section("DC to gnd, warm", (Table(heads, rows),))


def _picture(head: str, task: Task) -> Iterator[str]:
    """The circuit, with volts where the degree gives them away; a large one on a sheet lying."""
    circuit = task.review.circuit if isinstance(task, Exercise) else task.circuit
    assert circuit is not None
    volts = _volts(circuit) if isinstance(task, Exercise) and task.degree.told else {}
    try:
        drawn = picture_of(circuit, volts, "volts to gnd, warm" if volts else "")
    except TangleError:
        yield heading(head, 2)
        return
    large = " large" if svg.extent(drawn)[0] > pair.WIDEST else ""
    yield f'<div class="drawn-task{large}">{heading(head, 2)}'
    yield (
        f'<div class="sheet" tabindex="0" role="region" aria-label="{text(head)}">'
        f"{svg.inline(replace(drawn, title=''))}</div>"
    )
    yield f"<p>{text(drawn.state)}</p></div>" if drawn.state else "</div>"


def _volts(circuit: Circuit) -> Mapping[str, str]:
    solution = solve_state(circuit, "warm")
    return volts_of(solution.waves) if solution.converged else {}


def _keys(title: str, tasks: Sequence[Task]) -> Iterator[str]:
    yield f'<section class="task key">{heading(f"{title}: answers", 2)}'
    for number, task in enumerate(tasks, 1):
        match task:
            case Exercise():
                yield from _mistake_told(number, task)
            case Puzzle():
                yield from _fault_told(number, task)
    yield "</section>"


def _mistake_told(number: int, task: Exercise) -> Iterator[str]:
    yield heading(f"Exercise {number}: {answer_line(task)}", 3)
    yield f"<p>{text(task.story)}</p>"
    yield from labels(
        [
            (task.finding.rule, sentence(task.finding)),
            ("remedy", task.finding.remedy),
            ("why", rule_by_id(task.finding.rule).why),
            ("counts as right", listed(sorted(task.places))),
        ]
    )
    rule = task.finding.rule
    sides = pictured(compare(task.review, task.mended), lambda f: f.rule == rule)
    if sides is not None:
        yield from pair.two(
            pair.figure(words, replace(around(side.picture, side.changed), title=""), side.changed)
            for words, side in zip((f"{number}, as shown", f"{number}, mended"), sides, strict=True)
        )
    yield from beside(*excerpts(task), ("as shown", "mended"))


def _fault_told(number: int, task: Puzzle) -> Iterator[str]:
    yield heading(f"Exercise {number}: {answer_line(task)}, {task.fault.name}", 3)
    yield from (f"<p>{text(words)}</p>" for words in against(task))
