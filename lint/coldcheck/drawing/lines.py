"""Text to logical lines: comments off, continuations joined, every offset traceable."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from coldcheck.drawing.model import Problem, Span
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator

MAX_BYTES = 2_000_000
MAX_LINE = 2_000
MAX_JOINED = 20_000
MAX_STATEMENTS = 20_000

# Every word that begins a statement, with the form a hint shows for it.
FORMS = {
    "drawing": 'drawing "Name of the drawing"',
    "mains": "mains 120 V 60 Hz tolerance 10 %",
    "transformer": "transformer T1",
    "primary": "primary pri 120 V 4.1 ohm",
    "winding": "winding warm 6.3 V ct 2.5 A",
    "tube": "tube V1 12AX7 heater T1.warm",
    "output": "output T2 5k : 8 ohm 210 ohm",
    "reverb": "reverb TK1 8 ohm 0.8 ohm : 2k2 200 ohm",
    "pot": "pot P1 500k at 50 %",
    "switch": "switch S1 spdt at 1",
    "relay": "relay K1 dpdt 12 V 250 ohm",
    "bridge": "bridge BR1 400 V 4 A",
    "optocoupler": "optocoupler OC1 led 20 mA cell 10M 500 ohm",
    "thyristor": "thyristor SCR1 400 V 4 A gate 10 mA",
    "triac": "triac TR1 600 V 4 A gate 35 mA",
    "vibrator": "vibrator VB1 6 V 115 Hz",
    "ballast": "ballast BAL1 40 V 300 mA : 9 V 300 mA",
    "plug": "plug PL1",
    "connector": "connector P1 8",
    "transistor": "transistor Q1 IRF840 heatsink 4 K/W",
    "regulator": "regulator U1 LM317 heatsink 10 K/W",
    "jack": "jack J1",
    "signal": "signal IN 0.4 V 1 kHz",
    "type": "type MY6V6 like 6V6GT",
    "rating": "rating plate-voltage 400 V",
    "expect": "expect V2.cathode = 12.5 V within 10 %",
    "accept": 'accept RULE at V2 because "reason" until 2027-06-30',
    "sheet": 'sheet "channel.tube" as L joining B1, IN = IN_L',
}
KEYWORDS = frozenset(FORMS)


@dataclass(frozen=True, slots=True)
class Line:
    """One statement's text, joined from one or more physical lines.

    ``starts[i]`` is the offset in ``text`` where physical line ``numbers[i]`` begins (at its
    column 1); ``sources[i]`` is that line as it stands in the file.
    """

    file: str
    text: str
    starts: tuple[int, ...]
    numbers: tuple[int, ...]
    sources: tuple[str, ...]

    def _piece(self, offset: int) -> int:
        return max(i for i, start in enumerate(self.starts) if start <= max(offset, 0))

    def span(self, start: int, end: int) -> Span:
        """Return the place of ``text[start:end]``, cut at the end of its first physical line."""
        piece = self._piece(start)
        column = start - self.starts[piece] + 1
        limit = len(self.sources[piece]) + 1
        end_column = min(end - self.starts[piece] + 1, max(limit, column + 1))
        return Span(self.file, self.numbers[piece], column, max(end_column, column + 1))

    def whole(self) -> Span:
        """Return the span of the statement without its indent (first physical line)."""
        start = len(self.text) - len(self.text.lstrip())
        return self.span(start, len(self.text.rstrip()))

    def problem(
        self, rule: str, start: int, end: int, found: str, expected: str, hint: str = ""
    ) -> Problem:
        """Return a problem at ``text[start:end]``."""
        source = self.sources[self._piece(start)]
        return Problem(self.span(start, end), rule, found, expected, hint, source)


NUMBERED = re.compile(r"(?<=\s)#\d{1,4}(?=[\s\]])[^\[\]#]*\]")
"""The number of a lamp where a bracket may have one: the bracket closes behind it."""


def physical_lines(text: str) -> tuple[str, ...]:
    """Split at LF, CRLF or CR only, so that numbers agree with what an editor shows."""
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    return tuple(text.split("\n"))


def without_comment(line: str) -> str:
    """Return the line up to the ``#`` that begins its comment, right-stripped.

    One inside double quotes does not, nor one that begins the number of a lamp in a bracket.
    """
    if "#" not in line:
        return line.rstrip()
    quoted = within = False
    for index, char in enumerate(line):
        if char == '"':
            quoted = not quoted
        elif char in "[]" and not quoted:
            within = char == "["
        elif char == "#" and not quoted and not (within and NUMBERED.match(line, index)):
            return line[:index].rstrip()
    return line.rstrip()


def logical_lines(file: str, lines: tuple[str, ...]) -> Iterator[Line | Problem]:
    """Yield each statement's line, or a problem where a line is too long to be read."""
    index = 0
    while index < len(lines):
        stop, pieces = _gather(lines, index)
        index = stop
        if pieces:
            yield _joined(file, lines, pieces)


def _gather(lines: tuple[str, ...], index: int) -> tuple[int, list[tuple[int, str]]]:
    """Collect one statement's physical lines: (next index, [(line index, text), ...])."""
    first = _readable(lines[index])
    if not first.strip():
        return index + 1, []
    pieces = [(index, first)]
    size = len(first)
    index += 1
    while _goes_on(pieces[-1][1]) and index < len(lines) and size <= MAX_JOINED:
        text = _readable(lines[index])
        if not text.strip():
            if not lines[index].strip():
                break
            index += 1  # a line that is only a comment may stand between
            continue
        if text.split(None, 1)[0] in KEYWORDS:
            break
        pieces.append((index, text))
        size += len(text) + 1
        index += 1
    return index, pieces


def _goes_on(text: str) -> bool:
    # Two hyphens inside quotes that are not closed are no wire.
    return text.endswith("--") and text.count('"') % 2 == 0


def _readable(line: str) -> str:
    # A monster line is not worth scanning; _joined reports it from its length alone.
    return without_comment(line) if len(line) <= MAX_LINE else line[:MAX_LINE] + "."


def _joined(file: str, lines: tuple[str, ...], pieces: list[tuple[int, str]]) -> Line | Problem:
    for index, _ in pieces:
        if len(lines[index]) > MAX_LINE:
            return too_long(file, index, lines[index], MAX_LINE, "a line")
    starts, offset = [], 0
    for _, text in pieces:
        starts.append(offset)
        offset += len(text) + 1
    if offset > MAX_JOINED:
        return too_long(file, pieces[0][0], lines[pieces[0][0]], MAX_JOINED, "a continued line")
    return Line(
        file,
        "\n".join(text for _, text in pieces),
        tuple(starts),
        tuple(index + 1 for index, _ in pieces),
        tuple(lines[index] for index, _ in pieces),
    )


def too_long(file: str, index: int, line: str, limit: int, what: str) -> Problem:
    """Return the problem for a line beyond the limit; the source line is shortened."""
    return Problem(
        Span(file, index + 1, 1, 2),
        "drawing.syntax",
        f"{what} of more than {limit} characters",
        f"at most {limit}",
        "is this really a drawing? write one wire to a line",
        line[:80],
    )
