"""The review of a drawing, as a notebook or another program uses it."""

from __future__ import annotations

from dataclasses import field
from html import escape
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from coldcheck.api.given import drawing_of, settings_of
from coldcheck.api.state import state_of
from coldcheck.records import dataclass
from coldcheck.settings.find import find
from coldcheck.verdict.engine import review_drawing, review_file

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    import pandas as pd

    from coldcheck.api.state import State
    from coldcheck.judge.finding import Finding, NotJudged
    from coldcheck.verdict.review import Review as Inner
    from coldcheck.verdict.ruling import Verdict

__all__ = ["Review", "review", "review_text"]

NOTHING: Mapping[str, Any] = MappingProxyType({})


def review(
    path: str | Path, *, today: date | None = None, settings: Mapping[str, Any] | None = None
) -> Review:
    """Review the drawing in a file.

    ``today`` decides which waivers have run out. The project's settings are found upwards from
    the drawing, as by ``coldcheck review``, unless ``settings`` (keys as in ``coldcheck.toml``) are
    given; settings that cannot be used raise ``ValueError``
    (:class:`coldcheck.settings.model.SettingsError`). Never raises for what is drawn: what cannot
    be read gives a review whose verdict is ``unreadable``, with the reasons as findings.
    """
    found = find(Path(path)) if settings is None else settings_of(settings)
    return Review(review_file(Path(path), today, found))


def review_text(
    text: str,
    name: str = "drawing",
    *,
    today: date | None = None,
    sheets: Mapping[str, str] = NOTHING,
    settings: Mapping[str, Any] = NOTHING,
) -> Review:
    """Review a drawing given as text; ``name`` stands for its file in what is reported.

    ``sheets`` are the texts of the sheets it names, by the names it gives them; no file is opened.
    ``settings`` have the keys of ``coldcheck.toml``; none are looked for: a text is in no folder.
    Raises as :func:`review`.
    """
    return Review(review_drawing(drawing_of(text, name, sheets), today, settings_of(settings)))


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
    def states(self) -> Mapping[str, State]:
        """State name -> state; empty for an unreadable drawing."""
        return {name: state_of(s) for name, s in self._inner.solutions.items()}

    @property
    def warm(self) -> State:
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

    def to_frame(self) -> pd.DataFrame:
        """The findings as a pandas data frame, gravest first. ImportError without pandas."""
        from pandas import DataFrame

        heads = ("level", "rule", "at", "state", "message", "remedy", "accepted")
        rows = [
            (f.level, f.rule, ", ".join(f.at), f.state, f.message, f.remedy, f.accepted or "")
            for f in self.findings
        ]
        return DataFrame(rows, columns=list(heads))

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
