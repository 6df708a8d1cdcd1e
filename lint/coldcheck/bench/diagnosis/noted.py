"""Readings from the bench: ``point, kind, value, state`` a line, or the filled CSV chart.

A header line is optional; ``#`` begins a comment; fields are set apart by commas, semicolons or
tabs, those of a table by what sets its heading apart. All that is wrong with a text is said at
once, each with its line and column.
"""

from __future__ import annotations

from dataclasses import field
from difflib import get_close_matches
from math import inf
from typing import TYPE_CHECKING

from coldcheck.bench.chart.conditions import mark_of
from coldcheck.bench.chart.points import ends_of, point_named
from coldcheck.bench.diagnosis.noted_fields import TwoWays, plain, separators, split, words
from coldcheck.bench.diagnosis.readings import (
    AC,
    AMP,
    BARE,
    DC,
    FREQUENCY,
    KINDS,
    OHM,
    SIGNAL,
    THROUGH,
    UNITS,
    WHAT,
    Place,
    Reading,
    place_across,
    place_between,
)
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.values import BadValue, parse_amount
from coldcheck.records import dataclass
from coldcheck.solve.solution import WARM
from coldcheck.solve.states import states_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from coldcheck.circuit.model import Circuit

OVERLOAD = frozenset(("ol", "0l", "o.l", "o.l.", "0.l", "inf", "infinite", "open", "∞"))
"""How an ohmmeter says that no path leads there."""

MOST_LINES = 5000
"""Lines a text of readings may have: a long evening takes some hundred."""

MOST_SLIPS = 100
"""Of what is wrong with a text, so much is said before one stops reading."""

COLUMNS = ("point", "kind", "value", "state")
FILLED = {"measured_dc_v": DC, "measured_ac_v_rms": AC, "measured_ohms": OHM}
NOTHING = {DC: 0.05, AC: 0.05, OHM: 2.0}
"""Volts and ohms that a pin at gnd may read in a filled chart: leads and contacts."""

OTHER_TEXT = (
    "this chart was made when the drawing had the mark {0}; it has {1} now: what it says that "
    "should be read may be of another circuit"
)
KINDS_SAID = "dc, ac, hum, ohm, mA, Hz or signal"
ACROSS, TO = "across", "to"


@dataclass(frozen=True, slots=True)
class Slip:
    """Something wrong with a text of readings."""

    line: int
    column: int
    message: str


@dataclass(slots=True)
class _Texts:
    """One line's fields: name -> (column, text); ``comma``: no comma sets them apart."""

    line: int
    fields: Mapping[str, tuple[int, str]]
    comma: bool = False

    def __getitem__(self, name: str) -> tuple[int, str]:
        return self.fields.get(name, (1, ""))


@dataclass(slots=True)
class ReadingsParser:
    """Reads readings for one circuit; ``slips`` collects what is wrong.

    ``remark`` is what else is to be known: a chart that was made of another text of the drawing.
    """

    circuit: Circuit
    slips: list[Slip] = field(default_factory=list)
    remark: str = ""
    _states: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        self._states = tuple(s.name for s in states_of(self.circuit))

    def parse(self, text: str) -> tuple[Reading, ...]:
        """All readings of a text; look at ``slips`` afterwards.

        The same value of the same wires, kind and state is one reading, however often it is there.
        """
        found: dict[tuple[str, str, str, str, float], Reading] = {}
        for texts, columns in self._rows(text):
            for reading in self._line(texts, columns):
                place = (reading.net, reading.other)
                key = (*place, reading.kind, reading.state, reading.value)
                found.setdefault(key, reading)
        return tuple(found.values())

    def in_order(self) -> tuple[Slip, ...]:
        """All that is wrong, in order of the lines."""
        return tuple(sorted(self.slips, key=lambda s: (s.line, s.column)))

    def _rows(self, text: str) -> Iterator[tuple[_Texts, Sequence[str]]]:
        """The lines that hold readings, with the columns of the heading above them."""
        columns: Sequence[str] = COLUMNS
        apart, first = "", True
        for number, line in enumerate(text.removeprefix("\ufeff").splitlines(), 1):
            if number > MOST_LINES or len(self.slips) >= MOST_SLIPS:
                self._stop(number)
                return
            if not line.strip() or line.lstrip().startswith("#"):
                continue
            between = apart or separators(line)
            fields = list(split(line, between))
            names = [text.strip().casefold() for _, text in fields]
            if first and "point" in names:
                columns, first = names, False
                apart = between if set(FILLED) & set(names) else ""
                continue
            first = False
            if columns is COLUMNS:
                fields = self._fields(line, fields, between)
            yield _Texts(number, dict(zip(columns, fields, strict=False)), between != ","), columns

    def _fields(
        self, line: str, fields: list[tuple[int, str]], apart: str
    ) -> list[tuple[int, str]]:
        """Of a line without a heading: set apart by blanks, or with a decimal comma in it."""
        alone = len(fields) == 1 or self._place_named(fields[0][1]) is None
        if apart == "," and alone and " " in fields[0][1]:
            return list(_typed(line))
        return self._joined(fields) if apart == "," else fields

    def _joined(self, fields: list[tuple[int, str]]) -> list[tuple[int, str]]:
        """``MID, dc, 11, 9``: the comma of the value is a decimal one."""
        at = COLUMNS.index("state")
        if len(fields) <= at or not fields[at][1].isdecimal() or fields[at][1] in self._states:
            return fields
        column, whole = fields[at - 1]
        return [*fields[: at - 1], (column, f"{whole},{fields[at][1]}"), *fields[at + 1 :]]

    def _stop(self, number: int) -> None:
        """Say why nothing is read from this line on."""
        said = f"there are more than {MOST_LINES} lines of readings: give fewer"
        if number <= MOST_LINES:
            said = f"{len(self.slips)} places are wrong up to here: the rest was not read"
        self.slips.append(Slip(number, 1, said))

    def one(self, text: str, line: int = 1) -> Reading | None:
        """One reading typed in: ``V2.cathode dc 13.1``, ``across R7 46 mV``.

        The kind may be left out: the unit says it, else it is volts DC.
        """
        apart = separators(text)
        fields = self._fields(text, list(split(text, apart)), apart)
        if len(fields) > 1 and fields[1][1].casefold() not in KINDS:
            fields.insert(1, (fields[1][0], _kind_of(fields[0][1], fields[1][1])))
        texts = _Texts(line, dict(zip(COLUMNS, fields, strict=False)))
        return next(iter(self._line(texts, COLUMNS)), None)

    def again(self, reading: Reading, text: str) -> float | None:
        """Another value of a reading, typed by itself."""
        texts = _Texts(1, {"value": (1, text)})
        return self._value(texts, "value", reading.kind)

    def _line(self, texts: _Texts, columns: Sequence[str]) -> Iterator[Reading]:
        filled = [(name, kind) for name, kind in FILLED.items() if name in columns]
        if texts["mark"][1] not in ("", mark_of(self.circuit)):
            self.remark = OTHER_TEXT.format(texts["mark"][1], mark_of(self.circuit))
        if not filled:
            column, kind = texts["kind"]
            known = KINDS.get(kind.casefold())
            if known is None:
                said = f"{kind!r} is no kind of reading" if kind else "the kind is missing"
                self._slip(texts, column, f"{said}: {KINDS_SAID}")
            yield from self._reading(texts, "value", known, BARE.get(kind.casefold(), 1.0))
            return
        for name, kind in filled:
            if texts[name][1]:
                yield from self._filled(texts, name, kind)

    def _filled(self, texts: _Texts, name: str, kind: str) -> Iterator[Reading]:
        """A cell of the chart; nothing at a pin that is at gnd is nothing to tell."""
        place = self._place_named(texts["point"][1].removeprefix("'"))
        if place is None or place.net != GROUND or place.other != GROUND:
            yield from self._reading(texts, name, kind)
            return
        value = self._value(texts, name, kind)
        if value is not None and abs(value) > NOTHING[kind]:
            self._slip(
                texts, texts[name][0],
                f"{place.name} is gnd in the drawing: if it reads {texts[name][1]}, its wire to "
                "gnd is open or the point was another; look there first, and leave the cell empty",
            )  # fmt: skip

    def _reading(
        self, texts: _Texts, name: str, kind: str | None, bare: float = 1.0
    ) -> Iterator[Reading]:
        place, state = self._place(texts, kind), self._state(texts)
        value = self._value(texts, name, kind, bare)
        if place is None or state is None or value is None or kind is None:
            return
        if place.net == GROUND:  # the first tip at gnd: the other way round
            turned = Place(place.name.partition(f" {TO} ")[2], place.other)
            place, value = turned, -value if kind == DC else value
        yield Reading(
            place.name, place.net, kind, value, state, texts.line, place.other, place.across
        )

    # -- where ----------------------------------------------------------------------------

    def _place(self, texts: _Texts, kind: str | None) -> Place | None:
        column, text = texts["point"]
        wanted = text.removeprefix("'")
        found = self._place_named(wanted) if wanted else None
        if found is None:
            self._slip(texts, column, self._unknown(wanted))
            return None
        if found.net == found.other:
            gnd = found.net == GROUND
            one = f"{wanted} is gnd itself" if gnd else f"{wanted}: both are one wire"
            self._slip(texts, column, f"{one}: there is nothing to read there")
            return None
        if kind is not None and (kind == AMP) != found.name.startswith(THROUGH):
            said = "a current is read through a part or electrode, its lead lifted: through R7"
            if kind != AMP:
                said = f"through a part a current is read, in mA, not {WHAT[kind]}"
            self._slip(texts, column, said)
            return None
        return found

    def _place_named(self, wanted: str) -> Place | None:
        """A point, two with ``to`` between, ``across`` or ``through`` a part; whatever its case."""
        head, _, rest = wanted.partition(" ")
        if head.casefold() == ACROSS and rest:
            return place_across(self.circuit, rest.strip())
        if head.casefold() == THROUGH.strip() and rest:
            return self._through(rest.strip())
        one, between, other = wanted.partition(f" {TO} ")
        found = point_named(self.circuit, one.strip())
        if not between:
            return None if found is None else Place(found, self.circuit.points[found])
        second = point_named(self.circuit, other.strip())
        if found is None or second is None:
            return None
        return place_between(self.circuit, found, second)

    def _through(self, wanted: str) -> Place | None:
        """A part, or an electrode of a tube, that a current is read through."""
        found = next((n for n in self._parts() if n.casefold() == wanted.casefold()), None)
        return None if found is None else Place(f"{THROUGH}{found}", found)

    def _unknown(self, wanted: str) -> str:
        if not wanted:
            return "the point is missing"
        if ends_of(self.circuit, wanted) is not None:
            return f"{wanted} is a part: write across {wanted}, or name a point"
        head, _, rest = wanted.partition(" ")
        if head.casefold() in (ACROSS, THROUGH.strip()):
            return f"the drawing has no part {rest} with two ends{_near(rest, self._parts())}"
        missing = [
            p for p in wanted.split(f" {TO} ") if point_named(self.circuit, p.strip()) is None
        ]
        near = _near(missing[0], self.circuit.points)
        return f"the drawing has no point {missing[0]}{near}"

    def _parts(self) -> list[str]:
        return [*self.circuit.branches, *_electrodes(self.circuit)]

    def _state(self, texts: _Texts) -> str | None:
        column, text = texts["state"]
        wanted = text.removeprefix("'") or WARM
        if wanted in self._states:
            return wanted
        self._slip(texts, column, f"there is no state {wanted}: {', '.join(self._states)}")
        return None

    # -- how much -------------------------------------------------------------------------

    def _value(self, texts: _Texts, name: str, kind: str | None, bare: float = 1.0) -> float | None:
        column, text = texts[name]
        if text.casefold() in OVERLOAD:
            return self._overload(texts, column, kind)
        unit = UNITS.get(kind or DC)
        try:
            amount = parse_amount(plain(text, comma=texts.comma), unit)
        except TwoWays as both:
            self._slip(texts, column, str(both))
            return None
        except BadValue as bad:
            said = "the value is missing" if not text else f"{bad.found} is no value"
            self._slip(texts, column, f"{said}: {WHAT[kind or DC]} are wanted")
            return None
        if kind is not None and amount.unit != unit:
            self._slip(texts, column, f"{text!r} is in {amount.unit}s; {WHAT[kind]} are wanted")
            return None
        if kind in (AC, OHM, SIGNAL, FREQUENCY) and amount.number < 0:
            self._slip(texts, column, f"{WHAT[kind]} are never below zero")
            return None
        return amount.number * (1.0 if _has_unit(text) else bare)

    def _overload(self, texts: _Texts, column: int, kind: str | None) -> float | None:
        if kind == OHM:
            return inf
        self._slip(
            texts, column,
            "an overload is no reading of volts or amperes: a higher range, or more than the "
            "meter takes; then do not measure there",
        )  # fmt: skip
        return None

    def _slip(self, texts: _Texts, column: int, message: str) -> None:
        slip = Slip(texts.line, column, message)
        if slip not in self.slips:
            self.slips.append(slip)


def _has_unit(text: str) -> bool:
    """Whether letters of a unit follow the figure: ``46 mV``, not ``46`` or ``4.6e1``."""
    return any(c.isalpha() and c not in "eE" for c in text)


def _near(wanted: str, names: Iterator[str] | Sequence[str] | Mapping[str, str]) -> str:
    folded = {name.casefold(): name for name in names}
    near = get_close_matches(wanted.casefold(), folded, n=3, cutoff=0.5)
    return f"; near it: {', '.join(folded[n] for n in near)}" if near else ""


def _electrodes(circuit: Circuit) -> Iterator[str]:
    """The electrodes that a current is worked out for."""
    for section in circuit.sections():
        for electrode in ("plate", "screen", "cathode"):
            if electrode in section.electrodes:
                yield f"{section.name}.{electrode}"


def _kind_of(place: str, value: str) -> str:
    """The kind that the unit of a typed value says; volts DC where it says none."""
    try:
        unit = parse_amount(plain(value, comma=True), "volt").unit
    except BadValue:
        unit = "volt"
    if value.casefold() in OVERLOAD or unit == "ohm":
        return OHM
    if unit == "hertz":
        return "hz"
    return "ma" if unit == "ampere" or place.casefold().startswith(THROUGH) else DC


def _typed(text: str) -> Iterator[tuple[int, str]]:
    """Place, kind, value typed with blanks; a unit set off by a blank belongs to the value."""
    found = words(text)
    taken = _place_words([w.casefold() for _, w in found])
    head = found[:taken]
    if not head:
        return
    place = " ".join(w for _, w in head)
    yield head[0][0], place
    rest = found[taken:]
    if rest and rest[0][1].casefold() in KINDS:
        yield rest.pop(0)
    else:
        value = text[rest[0][0] - 1 :].strip() if rest else ""
        yield (rest[0][0] if rest else len(text) + 1), _kind_of(place, value)
    if rest:
        yield rest[0][0], text[rest[0][0] - 1 :].strip()


def _place_words(said: list[str]) -> int:
    """How many words say where."""
    if said[:1] and said[0] in (ACROSS, THROUGH.strip()):
        return 3 if said[2:3] == ["heater"] else 2
    return 3 if said[1:2] == [TO] else 1


def parse_readings(circuit: Circuit, text: str) -> tuple[tuple[Reading, ...], tuple[Slip, ...]]:
    """The readings of a text, and everything that is wrong with it in order of its lines."""
    parser = ReadingsParser(circuit)
    return parser.parse(text), parser.in_order()
