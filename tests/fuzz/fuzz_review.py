"""Fuzz target: bytes read as a drawing, reviewed, and put through every report writer.

Run it as README.md beside it says. Without atheris, ``python tests/fuzz/fuzz_review.py FILE...``
puts files through once, which is how a crash that was found is looked at.
"""

from __future__ import annotations

import json
import re
import sys
from contextlib import suppress
from datetime import date
from pathlib import Path
from xml.etree import ElementTree as ET

try:
    import atheris
except ImportError:
    atheris = None  # type: ignore[assignment]

LARGEST = 3_000
"""Bytes of an input; the limits on size have tests of their own."""

_CONTROLS = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")
_COMMAND = re.compile(r"^::(error|warning|notice) [^\r\n]*::[^\r\n]*$")


def one_input(data: bytes) -> None:
    """Read, review, report, and look at what came out."""
    from coldcheck.api import Review
    from coldcheck.drawing.reader import decoded, parse_drawing
    from coldcheck.drawing.tidy import tidied
    from coldcheck.verdict.engine import review_drawing

    drawing = decoded("fuzz.tube", data[:LARGEST])
    review = review_drawing(drawing, date(2026, 1, 1))
    broken = [n for n in review.not_judged if n.kind.broken]
    assert not broken, broken
    look_at_reports(review)
    html = Review(review)._repr_html_()
    assert "<script" not in html
    assert Review(review).text()
    if review.readable:
        text = "\n".join(drawing.lines)
        assert not parse_drawing(tidied(text)).problems


def look_at_reports(review: object) -> None:
    """Every writer, and that nothing of the drawing gets out of its field."""
    from coldcheck.api import Review
    from coldcheck.compare.changes import compare
    from coldcheck.report.pages import comparison
    from coldcheck.report.review import annotations, json_report, junit, sarif, terse
    from coldcheck.report.shared.places import Root
    from coldcheck.verdict.document.build import ruling_of
    from coldcheck.verdict.document.kept import from_json, to_json
    from coldcheck.verdict.ruling import USUAL

    root = Root(Path("/fuzz"), Path("/fuzz"))
    text = Review(review).text()  # type: ignore[arg-type]
    assert not _CONTROLS.search(text), text
    assert json.loads(json_report.render([ruling_of(review)]))  # type: ignore[list-item]
    assert json.loads(sarif.render([ruling_of(review)], root))  # type: ignore[list-item]
    assert not _CONTROLS.search(terse.render([ruling_of(review)]))  # type: ignore[list-item]
    ET.fromstring(junit.render([ruling_of(review)], root))  # type: ignore[list-item]
    for line in annotations.render([ruling_of(review)], root).split("\n")[:-1]:  # type: ignore[list-item]
        assert _COMMAND.match(line), line
        assert not _CONTROLS.search(line), line
    kept = ruling_of(review).document  # type: ignore[arg-type]
    with suppress(UnicodeEncodeError):
        assert from_json(json.loads(json.dumps(to_json(kept)))) == kept
    if review.readable:  # type: ignore[attr-defined]
        found = compare(review, review).at(USUAL)  # type: ignore[arg-type]
        assert found.comparison.same_circuit
        assert not _CONTROLS.search(comparison.markdown(found))
        assert json.loads(comparison.as_json(found))


def main() -> None:
    """Fuzz, or put the files through that are named."""
    files = [Path(a) for a in sys.argv[1:] if not a.startswith("-")]
    if atheris is None or (files and all(f.is_file() for f in files)):
        for file in files:
            one_input(file.read_bytes())
        return
    with atheris.instrument_imports(include=["coldcheck"]):
        one_input(b"B1 --[R1 1k]-- gnd")
    atheris.Setup(sys.argv, one_input)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
