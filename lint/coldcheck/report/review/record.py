"""A review as plain data: what every report needs, without the circuit and its solutions.

A record can cross from one process to another and can be kept in a file (as JSON, never as code).
The tables of the text report are made where the solutions are, for one *look* of the console.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from io import StringIO
from typing import TYPE_CHECKING, Any

from rich.console import Console

from coldcheck.drawing.model import Span
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.finding import LEVELS, Finding, NotJudged, Unjudged
from coldcheck.report.review import json_report, text
from coldcheck.report.review.sarif import kind_of
from coldcheck.verdict.review import Review

if TYPE_CHECKING:
    from collections.abc import Mapping

TEXT, JSON = "text", "json"
FORM = "coldcheck.record/3"


@dataclass(frozen=True, slots=True)
class Look:
    """How the console looks for which the tables are made."""

    width: int = 80
    colours: str | None = None
    terminal: bool = False

    @classmethod
    def of(cls, console: Console) -> Look:
        """The look of a console."""
        return cls(console.width, console.color_system, console.is_terminal)

    def console(self) -> Console:
        """A console of this look that writes to nowhere in particular."""
        return Console(
            file=StringIO(),
            width=self.width,
            color_system=self.colours,  # type: ignore[arg-type]
            force_terminal=self.terminal,
        )


@dataclass(frozen=True, slots=True)
class Record:
    """One reviewed drawing.

    review
        The review without circuit, solutions and what was worked out of them.
    tables
        The tables of the text report; empty where no text was wanted.
    document
        The drawing's entry of the JSON report; ``None`` where none was wanted.
    kinds
        Place of a finding -> part, point or object.
    files
        The drawing and what it was made from.
    """

    review: Review
    tables: str
    document: Mapping[str, Any] | None
    kinds: Mapping[str, str]
    files: tuple[str, ...]


def record_of(review: Review, wanted: frozenset[str], look: Look) -> Record:
    """The record of a review; ``wanted`` holds the costly parts to make: text, json."""
    tables = ""
    if TEXT in wanted:
        console = look.console()
        with console.capture() as captured:
            text.tables(review, console)
        tables = captured.get()
    circuit = review.circuit
    drawing = None if circuit is None else circuit.drawing
    light = replace(review, circuit=None, solutions={}, worked=None)
    return Record(
        light,
        tables,
        json_report.drawing(review, review.gate) if JSON in wanted else None,
        {place: kind_of(circuit, place) for f in review.findings for place in f.at},
        (review.file,) if drawing is None else tuple(getattr(drawing, "files", (review.file,))),
    )


def to_json(record: Record) -> dict[str, Any]:
    """The record as JSON values."""
    review = record.review
    return {
        "form": FORM,
        "file": review.file,
        "title": review.title,
        "readable": review.readable,
        "gate": review.gate,
        "lines": list(review.lines),
        "sheets": {name: list(lines) for name, lines in review.sheets.items()},
        "findings": [asdict(f) for f in review.findings],
        "not_judged": [_unjudged(n) for n in review.not_judged],
        "tables": record.tables,
        "document": record.document,
        "kinds": dict(record.kinds),
        "files": list(record.files),
    }


def _unjudged(item: NotJudged) -> dict[str, Any]:
    return {**asdict(item), "kind": item.kind.value}


def from_json(data: Mapping[str, Any]) -> Record:
    """A record from JSON values. Raises KeyError, TypeError or ValueError for anything else."""
    if data["form"] != FORM:
        raise ValueError(f"not a record of form {FORM}")
    review = Review(
        file=_text(data["file"]),
        title=_text(data["title"]),
        circuit=None,
        findings=tuple(map(_finding, data["findings"])),
        not_judged=tuple(map(_not_judged, data["not_judged"])),
        solutions={},
        lines=tuple(map(_text, data["lines"])),
        readable=data["readable"] is True,
        gate=_level(data["gate"]),
        sheets={_text(k): tuple(map(_text, v)) for k, v in dict(data["sheets"]).items()},
    )
    document = data["document"]
    if not (document is None or isinstance(document, dict)):
        raise TypeError("the document is no object")
    kinds = {_text(k): _text(v) for k, v in dict(data["kinds"]).items()}
    files = tuple(map(_text, data["files"]))
    return Record(review, _text(data["tables"]), document, kinds, files)


def _finding(data: Mapping[str, Any]) -> Finding:
    """Field by field, so that nothing but text and numbers comes in."""
    accepted = data["accepted"]
    return Finding(
        rule=_text(data["rule"]),
        level=_level(data["level"]),
        state=_text(data["state"]),
        message=_text(data["message"]),
        remedy=_text(data["remedy"]),
        certainty=_text(data["certainty"]),
        source=_text(data["source"]),
        fingerprint=_text(data["fingerprint"]),
        at=tuple(map(_text, data["at"])),
        path=tuple(map(_text, data["path"])),
        also_in=tuple(map(_text, data["also_in"])),
        span=_span(data["span"]),
        evidence={_text(k): _evidence(v) for k, v in dict(data["evidence"]).items()},
        limit=None if data["limit"] is None else _figure(data["limit"]),
        excess=float(data["excess"]),
        accepted=None if accepted is None else _text(accepted),
    )


def _span(data: Mapping[str, Any]) -> Span:
    numbers = (int(data[name]) for name in ("line", "column", "end_column"))
    return Span(_text(data["file"]), *numbers)


def _evidence(value: object) -> Figure | str:
    return value if isinstance(value, str) else _figure(value)


def _figure(value: object) -> Figure:
    if not isinstance(value, dict):
        raise TypeError("evidence is a figure or a text")
    return figure(float(value["value"]), value["unit"])


def _level(value: object) -> str:
    if value not in LEVELS:
        raise ValueError(f"{value} is no level")
    return _text(value)


def _not_judged(data: Mapping[str, Any]) -> NotJudged:
    return NotJudged(
        _text(data["rule"]),
        tuple(map(_text, data["at"])),
        _text(data["reason"]),
        Unjudged(data["kind"]),
    )


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise TypeError(f"text expected, not {type(value).__name__}")
    return value
