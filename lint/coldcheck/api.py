"""The Python interface: ``coldcheck.review(path)`` and what it returns.

Small on purpose, and kept: names here do not change within a major version. Voltages are volts to
gnd unless a name says otherwise. In a notebook a :class:`Review` and a :class:`Voltages` show
themselves as tables.
"""

from __future__ import annotations

from dataclasses import field
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from datetime import date

    from coldcheck.judge.finding import Finding, NotJudged
    from coldcheck.solve.solution import Solution
    from coldcheck.verdict.review import Review as Inner
    from coldcheck.verdict.ruling import Verdict

__all__ = ["Reading", "Review", "Voltages", "review", "review_text"]


def review(path: str | Path, *, today: date | None = None) -> Review:
    """Review the drawing in a file.

    ``today`` decides which waivers have run out. The project's settings are found upwards from
    the drawing, as by ``coldcheck review``; settings that cannot be used raise ``ValueError``
    (:class:`coldcheck.settings.model.SettingsError`). Never raises for what is drawn: what cannot
    be read gives a review whose verdict is ``unreadable``, with the reasons as findings.
    """
    from coldcheck.settings.find import find
    from coldcheck.verdict.engine import review_file

    return Review(review_file(Path(path), today, find(Path(path))))


def review_text(text: str, name: str = "drawing", *, today: date | None = None) -> Review:
    """Review a drawing given as text; ``name`` stands for its file in what is reported.

    No settings are looked for: a text is in no folder.
    """
    from coldcheck.drawing import parse_drawing
    from coldcheck.verdict.engine import review_drawing

    return Review(review_drawing(parse_drawing(text, name), today))


@dataclass(frozen=True, slots=True)
class Reading:
    """A voltage to gnd over one mains cycle: mean, rms of the rest, lowest and highest instant."""

    dc: float
    ac_rms: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Voltages:
    """The voltages of one state.

    solved
        Whether the state was solved; when it was not there are no numbers, and ``reason`` says why.
    """

    state: str
    solved: bool
    reason: str
    _inner: Solution = field(repr=False)

    def __getitem__(self, point: str) -> Reading:
        """The reading of a point, lead or net; KeyError where there is none or no number."""
        wave = self._inner.wave(point)
        if wave is None:
            raise KeyError(point)
        return Reading(wave.dc, wave.ac_rms, wave.low, wave.high)

    def __iter__(self) -> Iterator[str]:
        """The points and leads that have a number."""
        circuit = self._inner.circuit
        return (p for p, net in circuit.points.items() if net in self._inner.waves)

    def __len__(self) -> int:
        return sum(1 for _ in self)

    def between(self, a: str, b: str) -> Reading:
        """What is between two points, ``a`` measured from ``b``; KeyError without a number."""
        wave = self._inner.between(a, b)
        if wave is None:
            raise KeyError((a, b))
        return Reading(wave.dc, wave.ac_rms, wave.low, wave.high)

    def _repr_html_(self) -> str:
        if not self.solved:
            return f"<p>{escape(self.state)}: not solved: {escape(self.reason)}</p>"
        cells = ((point, self[point]) for point in self)
        rows = "".join(
            f"<tr><td>{escape(p)}</td><td>{r.dc:.2f}</td><td>{r.ac_rms:.3f}</td>"
            f"<td>{r.low:.2f}</td><td>{r.high:.2f}</td></tr>"
            for p, r in cells
        )
        head = "".join(f"<th>{h}</th>" for h in ("point", "V DC", "V AC rms", "lowest", "highest"))
        return (
            f"<table><caption>{escape(self.state)}, volts to gnd</caption>"
            f"<thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"
        )


@dataclass(frozen=True, slots=True)
class Review:
    """What the review of one drawing found."""

    _inner: Inner = field(repr=False)

    @property
    def file(self) -> str:
        """The drawing's file, as it was named."""
        return self._inner.file

    @property
    def title(self) -> str:
        """The drawing's title; empty where it has none."""
        return self._inner.title

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Everything found, gravest first, accepted findings among them (``finding.accepted``)."""
        return self._inner.findings

    @property
    def not_judged(self) -> tuple[NotJudged, ...]:
        """What could not be decided, and why. An empty list of findings says nothing about it."""
        return self._inner.not_judged

    def verdict(self, gate: str | None = None) -> Verdict:
        """``let through``, ``held``, ``undecided`` or ``unreadable``.

        Without a gate the settings' holds, ``notice`` where they name none; ValueError for a gate
        that is no level. A :class:`Verdict` equals its own word, and refuses to be compared with
        the words it had before.
        """
        from coldcheck.judge.finding import LEVELS

        if gate is not None and gate not in LEVELS:
            raise ValueError(f"the gate is one of {', '.join(LEVELS)}, not {gate!r}")
        return self._inner.verdict(gate)

    @property
    def states(self) -> Mapping[str, Voltages]:
        """State name -> voltages; empty for an unreadable drawing."""
        return {
            name: Voltages(name, s.converged, s.reason, s)
            for name, s in self._inner.solutions.items()
        }

    @property
    def warm(self) -> Voltages:
        """The nominal state; KeyError for an unreadable drawing."""
        return self.states["warm"]

    def text(self, width: int = 100) -> str:
        """The whole report as plain text, ``width`` columns wide."""
        from io import StringIO

        from rich.console import Console

        from coldcheck.report.review.text import render
        from coldcheck.verdict.document.build import ruling_of

        console = Console(file=StringIO(), width=width, color_system=None, force_terminal=False)
        with console.capture() as captured:
            render(ruling_of(self._inner), console)
        return captured.get()

    def json(self) -> str:
        """The report as JSON, schema ``coldcheck.report/2``."""
        from coldcheck.report.review.json_report import render
        from coldcheck.verdict.document.build import ruling_of

        return render([ruling_of(self._inner)])

    def _repr_html_(self) -> str:
        from coldcheck.report.review.text import CAUTION, verdict_line
        from coldcheck.verdict.document.build import ruling_of

        rows = "".join(
            f"<tr><td><b>{escape(f.level.upper())}</b></td><td>{escape(', '.join(f.at))}</td>"
            f"<td>{escape(f.message)}<br><i>{escape(f.remedy)}</i></td>"
            f"<td><code>{escape(f.rule)}</code></td></tr>"
            for f in self.findings
            if f.accepted is None
        )
        unjudged = "".join(
            f"<li><code>{escape(n.rule)}</code> {escape(', '.join(n.at))}: {escape(n.reason)}</li>"
            for n in self.not_judged
        )
        return (
            f"<h4>{escape(self.title or self.file)}</h4>"
            f"<p><b>{escape(verdict_line(ruling_of(self._inner)))}</b></p>"
            f"<table>{rows}</table>"
            + (f"<p>Not judged</p><ul>{unjudged}</ul>" if unjudged else "")
            + f"<p><small>{escape(CAUTION)}</small></p>"
        )
