"""A file to a Drawing: every line on its own, then what only the whole file can tell."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.drawing import lines as _lines
from coldcheck.drawing.disguised import disguised
from coldcheck.drawing.model import Drawing, Problem, Span
from coldcheck.drawing.sheet_files import sheet_bytes
from coldcheck.drawing.sheets import expanded
from coldcheck.drawing.statements import StatementReader
from coldcheck.drawing.syntax import parse_line
from coldcheck.drawing.whole import check
from coldcheck.files import reading
from coldcheck.files.places import Refused, TooBig

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.drawing.lines import Line
    from coldcheck.drawing.model import Statement


def read_drawing(path: Path | str) -> Drawing:
    """Read a ``.tube`` file and its sheets. Never raises for what it finds: it is a Problem."""
    path = Path(path)
    file = str(path)
    try:
        data = reading.drawing(path, _lines.MAX_BYTES)
    except TooBig:
        return _too_big(file)
    except Refused as refused:
        return _unreadable(file, refused.found, refused.expected)
    except OSError as error:
        reason = error.strerror or str(error)
        return _unreadable(file, reason[:1].lower() + reason[1:], "a file that can be read")
    return with_sheets(decoded(file, data), path)


def with_sheets(
    drawing: Drawing, path: Path, fetch: Callable[[Path], bytes] = sheet_bytes
) -> Drawing:
    """A drawing whose text was read for the file ``path``, with the sheets it names in it.

    ``fetch`` gives the bytes of another file of the project; see
    :func:`coldcheck.drawing.sheets.expanded`. Never raises for content.
    """
    return expanded(drawing, path, decoded, fetch)


def parse_drawing(text: str, file: str = "<text>") -> Drawing:
    """Read a drawing from its text. Never raises for what it finds.

    No other file is opened: ``sheet`` lines stay as they are, for :func:`with_sheets`.
    """
    if len(text) > _lines.MAX_BYTES:
        return _too_big(file)
    if "\0" in text:
        return _unreadable(file, "a zero byte", "plain text", "this is not a text file")
    lines = _lines.physical_lines(text)
    numbered: list[tuple[Line, Statement]] = []
    problems = list(disguised(file, text, lines))
    for count, line in enumerate(_lines.logical_lines(file, lines)):
        if count >= _lines.MAX_STATEMENTS:
            problems.append(_too_many(line))
            break
        if isinstance(line, Problem):
            problems.append(line)
        else:
            statement = _statement(line, problems)
            if statement is not None:
                numbered.append((line, statement))
    statements = check(numbered, problems)
    problems.sort(key=lambda p: (p.span.line, p.span.column))
    return Drawing(file, lines, tuple(statements), tuple(problems))


def _statement(line: Line, problems: list[Problem]) -> Statement | None:
    tree = parse_line(line)
    if isinstance(tree, Problem):
        problems.append(tree)
        return None
    found: list[Problem] = []
    statement = StatementReader(line, found).read(tree)
    problems.extend(found)
    return statement


def decoded(file: str, data: bytes) -> Drawing:
    """Read a drawing from the bytes of a file; never raises for what it finds."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return _unreadable(file, "text in UTF-16", "text in UTF-8", "save the file as UTF-8")
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        return _not_utf8(file, data, error.start)
    return parse_drawing(text, file)


def _not_utf8(file: str, data: bytes, at: int) -> Drawing:
    before = _lines.physical_lines(data[:at].decode("utf-8"))
    line, column = len(before), len(before[-1]) + 1
    source = _lines.physical_lines(data.decode("utf-8", "replace"))[line - 1]
    problem = Problem(
        Span(file, line, column, column + 1), "drawing.unreadable-file",
        f"a byte that is not UTF-8 (hexadecimal {data[at]:02x})", "text in UTF-8",
        "save the file as UTF-8, or write u for µ and ohm for Ω", source,
    )  # fmt: skip
    return Drawing(file, (), (), (problem,))


def _unreadable(file: str, found: str, expected: str, hint: str = "") -> Drawing:
    problem = Problem(Span(file, 1, 1, 2), "drawing.unreadable-file", found, expected, hint)
    return Drawing(file, (), (), (problem,))


def _too_big(file: str) -> Drawing:
    limit = f"at most {_lines.MAX_BYTES // 1_000_000} MB"
    return _unreadable(file, "a file that is too big", limit, "is this really a drawing?")


def _too_many(line: Line | Problem) -> Problem:
    place = line.span if isinstance(line, Problem) else line.whole()
    return Problem(
        place, "drawing.unreadable-file", f"more than {_lines.MAX_STATEMENTS} statements",
        "a drawing of fewer", "the rest of the file was not read",
    )  # fmt: skip
