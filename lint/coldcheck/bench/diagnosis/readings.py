"""Readings from the bench: ``point, kind, value, state`` a line, or the filled CSV chart.

A header line is optional; ``#`` begins a comment; fields are set apart by commas, semicolons or
tabs. All that is wrong with a text is said at once, each with its line and column.
"""

from __future__ import annotations

import re
from dataclasses import field
from difflib import get_close_matches
from math import inf
from typing import TYPE_CHECKING

from coldcheck.bench.chart.points import point_named
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.values import BadValue, parse_amount
from coldcheck.records import dataclass
from coldcheck.solve.solution import WARM
from coldcheck.solve.states import states_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from coldcheck.circuit.model import Circuit

DC, AC, OHM = "dc", "ac", "ohm"
KINDS = {
    "dc": DC, "dcv": DC, "v dc": DC, "vdc": DC, "v": DC, "volts dc": DC,
    "ac": AC, "acv": AC, "v ac": AC, "vac": AC, "ac rms": AC, "volts ac": AC,
    "ohm": OHM, "ohms": OHM, "r": OHM, "resistance": OHM, "Ω": OHM, "ω": OHM,
}  # fmt: skip
UNITS = {DC: "volt", AC: "volt", OHM: "ohm"}
WHAT = {DC: "volts DC", AC: "volts AC", OHM: "ohms"}
OVERLOAD = frozenset(("ol", "o.l", "o.l.", "inf", "infinite", "open", "∞"))
"""How an ohmmeter says that no path leads there."""

MOST_LINES = 5000
"""Lines a text of readings may have: a long evening takes some hundred."""

MOST_SLIPS = 100
"""Of what is wrong with a text, so much is said before one stops reading."""

COLUMNS = ("point", "kind", "value", "state")
FILLED = {"measured_dc_v": DC, "measured_ac_v_rms": AC, "measured_ohms": OHM}
_EXPONENT = re.compile(r"[-+]?\d+(?:\.\d+)?[eE][-+]?\d{1,2}", re.ASCII)
_FIELD = re.compile(r'\s*(?:"((?:[^"]|"")*)"\s*|([^,;\t]*))(?=[,;\t]|$)')


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading of a point against gnd: ``value`` in volts or ohms (``inf``: no path)."""

    point: str
    net: str
    kind: str
    value: float
    state: str = WARM
    line: int = 0


@dataclass(frozen=True, slots=True)
class Slip:
    """Something wrong with a text of readings."""

    line: int
    column: int
    message: str


@dataclass(slots=True)
class _Texts:
    """One line's fields: name -> (column, text)."""

    line: int
    fields: Mapping[str, tuple[int, str]]

    def __getitem__(self, name: str) -> tuple[int, str]:
        return self.fields.get(name, (1, ""))


@dataclass(slots=True)
class ReadingsParser:
    """Reads readings for one circuit; ``slips`` collects what is wrong."""

    circuit: Circuit
    slips: list[Slip] = field(default_factory=list)
    _states: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        self._states = tuple(s.name for s in states_of(self.circuit))

    def parse(self, text: str) -> tuple[Reading, ...]:
        """All readings of a text; look at ``slips`` afterwards.

        The same value of the same wire, kind and state is one reading, however often it is there.
        """
        found: dict[tuple[str, str, str, float], Reading] = {}
        columns: Sequence[str] = COLUMNS
        first = True
        for number, line in enumerate(text.removeprefix("\ufeff").splitlines(), 1):
            if number > MOST_LINES or len(self.slips) >= MOST_SLIPS:
                self._stop(number)
                break
            if not line.strip() or line.lstrip().startswith("#"):
                continue
            fields = list(split(line))
            names = [text.strip().casefold() for _, text in fields]
            if first and "point" in names:
                columns, first = names, False
                continue
            first = False
            texts = _Texts(number, dict(zip(columns, fields, strict=False)))
            for reading in self._line(texts, columns):
                key = (reading.net, reading.kind, reading.state, reading.value)
                found.setdefault(key, reading)
        return tuple(found.values())

    def _stop(self, number: int) -> None:
        """Say why nothing is read from this line on."""
        said = f"there are more than {MOST_LINES} lines of readings: give fewer"
        if number <= MOST_LINES:
            said = f"{len(self.slips)} places are wrong up to here: the rest was not read"
        self.slips.append(Slip(number, 1, said))

    def one(self, text: str, line: int = 1) -> Reading | None:
        """One reading typed in: ``V2.cathode dc 13.1``; kind and state may be left out."""
        fields = list(split(text)) if re.search("[,;\t]", text) else list(_words(text))
        if len(fields) > 1 and fields[1][1].casefold() not in KINDS:
            fields.insert(1, (fields[1][0], DC))
        texts = _Texts(line, dict(zip(COLUMNS, fields, strict=False)))
        return next(iter(self._line(texts, COLUMNS)), None)

    def _line(self, texts: _Texts, columns: Sequence[str]) -> Iterator[Reading]:
        filled = [(name, kind) for name, kind in FILLED.items() if name in columns]
        if not filled:
            column, kind = texts["kind"]
            known = KINDS.get(kind.casefold())
            if known is None:
                said = f"{kind!r} is no kind of reading" if kind else "the kind is missing"
                self._slip(texts, column, f"{said}: dc, ac or ohm")
            yield from self._reading(texts, "value", known)
            return
        for name, kind in filled:
            if texts[name][1]:
                yield from self._reading(texts, name, kind)

    def _reading(self, texts: _Texts, name: str, kind: str | None) -> Iterator[Reading]:
        point, state = self._point(texts), self._state(texts)
        value = self._value(texts, name, kind)
        if None not in (point, state, value, kind):
            net = self.circuit.points[str(point)]
            yield Reading(str(point), net, str(kind), float(value or 0.0), str(state), texts.line)

    def _point(self, texts: _Texts) -> str | None:
        column, text = texts["point"]
        wanted = text.removeprefix("'")
        found = point_named(self.circuit, wanted) if wanted else None
        if found is None:
            self._slip(texts, column, self._unknown(wanted))
        elif self.circuit.points[found] == GROUND:
            self._slip(texts, column, f"{wanted} is gnd itself: there is nothing to read there")
            return None
        return found

    def _unknown(self, wanted: str) -> str:
        if not wanted:
            return "the point is missing"
        folded = {name.casefold(): name for name in self.circuit.points}
        near = get_close_matches(wanted.casefold(), folded, n=3, cutoff=0.5)
        hint = f"; near it: {', '.join(folded[n] for n in near)}" if near else ""
        return f"the drawing has no point {wanted}{hint}"

    def _state(self, texts: _Texts) -> str | None:
        column, text = texts["state"]
        wanted = text.removeprefix("'") or WARM
        if wanted in self._states:
            return wanted
        self._slip(texts, column, f"there is no state {wanted}: {', '.join(self._states)}")
        return None

    def _value(self, texts: _Texts, name: str, kind: str | None) -> float | None:
        column, text = texts[name]
        if kind == OHM and text.casefold() in OVERLOAD:
            return inf
        unit = UNITS.get(kind or DC)
        try:
            amount = parse_amount(_plain(text), unit)
        except BadValue as bad:
            said = "the value is missing" if not text else f"{bad.found} is no value"
            self._slip(texts, column, f"{said}: {WHAT[kind or DC]} are wanted")
            return None
        if kind is not None and amount.unit != unit:
            self._slip(texts, column, f"{text!r} is in {amount.unit}s; {WHAT[kind]} are wanted")
            return None
        if kind in (AC, OHM) and amount.number < 0:
            self._slip(texts, column, f"{WHAT[kind]} are never below zero")
            return None
        return amount.number

    def _slip(self, texts: _Texts, column: int, message: str) -> None:
        slip = Slip(texts.line, column, message)
        if slip not in self.slips:
            self.slips.append(slip)


def _plain(text: str) -> str:
    """A number as spreadsheets and loggers write it (``1.066e+06``), without its exponent."""
    return f"{float(text):.12f}" if _EXPONENT.fullmatch(text) else text


def split(line: str) -> Iterator[tuple[int, str]]:
    """The fields of a line with the column each begins in; a field may be in double quotes."""
    at = 0
    while at <= len(line):
        match = _FIELD.match(line, at)
        if match is None:  # text after a closing quote
            end = next((k for k in range(at, len(line)) if line[k] in ",;\t"), len(line))
            yield at + 1, line[at:end].strip()
            at = end + 1
            continue
        quoted, bare = match.groups()
        text = bare if quoted is None else quoted.replace('""', '"')
        lead = len(line[at : match.end()]) - len(line[at : match.end()].lstrip())
        yield at + lead + 1, text.strip()
        at = match.end() + 1


def _words(text: str) -> Iterator[tuple[int, str]]:
    """Point, kind, value typed with blanks; a unit set off by a blank belongs to the value."""
    words = [(m.start() + 1, m.group()) for m in re.finditer(r"\S+", text)]
    head = 2 if len(words) > 1 and words[1][1].casefold() in KINDS else 1
    yield from words[:head]
    if words[head:]:
        yield words[head][0], text[words[head][0] - 1 :].strip()


def parse_readings(circuit: Circuit, text: str) -> tuple[tuple[Reading, ...], tuple[Slip, ...]]:
    """The readings of a text, and everything that is wrong with it in order of its lines."""
    parser = ReadingsParser(circuit)
    found = parser.parse(text)
    return found, tuple(sorted(parser.slips, key=lambda s: (s.line, s.column)))
