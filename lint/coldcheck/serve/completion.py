"""What can be written next: statement words, leads, pins, types, points, rules.

Looks at the line up to the cursor, which may be half a statement, and takes the names from the
lines that can be read.
"""

from __future__ import annotations

import re
from itertools import islice
from typing import TYPE_CHECKING

from coldcheck.circuit.declare import read_declarations
from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.problems import ProblemLog
from coldcheck.circuit.transistors import transistor_types
from coldcheck.circuit.tubes import RATING_NAMES, accepted_names, tube_type
from coldcheck.circuit.tubes_added import added_tubes
from coldcheck.compare.specs import shown
from coldcheck.drawing.kinds import KIND_WORDS, LETTERS, WORDS, form_by_letters
from coldcheck.drawing.lines import FORMS, without_comment
from coldcheck.drawing.model import TypeLine
from coldcheck.drawing.values import SYMBOLS
from coldcheck.records import dataclass
from coldcheck.serve.words import MEASURES, POINT, words_of
from coldcheck.verdict.added import all_rules

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from coldcheck.circuit.leads import Owner
    from coldcheck.serve.reading import Read
    from coldcheck.verdict.review import Review

STATEMENT, LEAD, PIN, TYPE, PLACE, PART, WORD, UNIT, RULE, STATE = (
    "statement", "lead", "pin", "type", "place", "part", "word", "unit", "rule", "state",
)  # fmt: skip
MOST = 2_000
"""Offers at one place; more are no help to anyone."""

_OWNER = re.compile(r"(?P<owner>(?:[A-Za-z0-9_]+/)*[A-Za-z0-9_]+)(?P<sign>[.:])(?P<lead>[\w.]*)$")
_TYPED = re.compile(r"[^\s\[\]\"<>=+]*$")
_LAYOUTS = ("spst", "spdt", "dpst", "dpdt", "sp3t", "dp3t", "4pdt")


@dataclass(frozen=True, slots=True)
class Offer:
    """One thing that can be written; ``start`` is the column from which it replaces the line."""

    text: str
    kind: str
    start: int
    detail: str = ""


def completion(
    read: Read, review: Review | None, lines: tuple[str, ...], line: int, column: int
) -> tuple[Offer, ...]:
    """The offers at a place of the text as it is now (line and column from 1)."""
    text = lines[line - 1][: column - 1] if line <= len(lines) else ""
    if without_comment(text + "x") != text + "x" or text.count('"') % 2:
        return ()
    names = _Names(read, review, lines, line)
    typed = _TYPED.search(text)
    start = (typed.start() if typed else len(text)) + 1
    inside = text.rfind("[") > text.rfind("]")
    owned = None if inside else _OWNER.search(text)
    if owned:
        return tuple(_leads(names, owned))
    offered = _in_bracket(names, text) if inside else _by_words(names, text[: start - 1].split())
    made = dict.fromkeys(Offer(t, kind, start, detail) for t, kind, detail in offered)
    return tuple(islice(made, MOST))


@dataclass(frozen=True, slots=True)
class _Names:
    """What the text calls things, taken from the lines that can be read."""

    read: Read
    review: Review | None
    lines: tuple[str, ...]
    line: int

    def owners(self) -> Mapping[str, Owner]:
        drawing = self.read.drawing
        project = self.read.settings.types if self.read.settings else {}
        types = {**added_tubes().types, **project}
        return read_declarations(drawing, ProblemLog(drawing), types).owners

    def points(self) -> dict[str, None]:
        """The points somebody named, but for the one being typed."""
        others = (line if n != self.line else "" for n, line in enumerate(self.lines, 1))
        return dict.fromkeys(w.text for w in words_of(others) if w.plain)

    def parts(self) -> dict[str, None]:
        others = (line if n != self.line else "" for n, line in enumerate(self.lines, 1))
        return dict.fromkeys(w.text for w in words_of(others) if w.role == "part")


def _leads(names: _Names, owned: re.Match[str]) -> Iterator[Offer]:
    """The leads of ``V1A.`` and ``T1.ht.``, the pins of ``V3:``."""
    owner = names.owners().get(owned["owner"])
    if owner is None:
        return
    start = owned.start("lead") + 1
    if owned["sign"] == ":":
        for pin, key in owner.pins.items():
            yield Offer(pin, PIN, start, key)
        return
    shown = dict.fromkeys(owner.shown)
    for lead in shown:
        yield Offer(lead, LEAD, start, owner.what)
    for spelled in owner.elsewhere:
        if not shown:
            yield Offer(spelled, LEAD, start, owner.elsewhere[spelled])


Offered = tuple[str, str, str]


def _by_words(names: _Names, before: list[str]) -> Iterator[Offered]:
    """By the words that stand before the one being typed."""
    if not before:
        yield from ((word, STATEMENT, form) for word, form in FORMS.items())
        yield from _places(names)
        return
    first, last = before[0], before[-1]
    special = _AFTER.get(first)
    if special is not None:
        yield from special(names, before)
    elif first not in FORMS and (last.endswith(("--", "->", "<-", "+")) or len(before) == 1):
        yield from _places(names)


def _places(names: _Names) -> Iterator[Offered]:
    """Points, landmarks, and what has leads."""
    yield from ((point, PLACE, "a point") for point in names.points())
    yield from ((mark, PLACE, "a landmark") for mark in LANDMARKS)
    for name, owner in names.owners().items():
        if "/" not in name:
            yield name, PART, owner.what


def _tube(names: _Names, before: list[str]) -> Iterator[Offered]:
    if len(before) == 2:
        yield from _types(names)
    elif before[-1] == "heater":
        yield from _windings(names)
    elif "heater" in before and len(before) == 5:
        yield from ((word, WORD, "how the halves are joined") for word in ("series", "parallel"))
    elif len(before) == 3:
        yield "heater", WORD, "the winding that heats it"


def _types(names: _Names) -> Iterator[Offered]:
    """Every type that can be named: the drawing's, the project's, packages', the library's."""
    for statement in names.read.drawing.statements:
        if isinstance(statement, TypeLine) and "/" not in statement.name:
            yield statement.name, TYPE, f"of this drawing, like {statement.like}"
    project = names.read.settings.types if names.read.settings else {}
    for name, kind in {**added_tubes().types, **project}.items():
        yield name, TYPE, kind.description
    for name, main in accepted_names().items():
        kind = tube_type(main)
        also = "" if name == main else f", as {kind.name}"
        yield name, TYPE, f"{kind.description}{also}"


def _windings(names: _Names) -> Iterator[Offered]:
    for winding in names.read.circuit.windings():
        if not winding.primary and "/" not in winding.name:
            yield winding.name, PLACE, shown(winding.volts) or "volts not known"


def _type(names: _Names, before: list[str]) -> Iterator[Offered]:
    if before[-1] == "like":
        yield from _types(names)
    elif len(before) == 2:
        yield "like", WORD, "the type it is made from"
    elif len(before) >= 4:
        yield "heater", WORD, "another heater: 12.6 V 0.15 A"
        yield "base", WORD, 'another base: "octal 8Q"'
        yield "pins", WORD, 'its pins: "1 shield 2 grid ..."'


def _rating(_: _Names, before: list[str]) -> Iterator[Offered]:
    if len(before) == 1:
        yield from ((name, WORD, unit) for name, unit in RATING_NAMES.items())


def _accept(names: _Names, before: list[str]) -> Iterator[Offered]:
    """Rules, those that found something first; then the places they found it at."""
    found = [f for f in names.review.findings if f.accepted is None] if names.review else []
    if len(before) == 1:
        yield from ((f.rule, RULE, f.message) for f in found)
        yield from ((rule.id, RULE, rule.title) for rule in all_rules())
    elif len(before) == 2:
        yield "at", WORD, "the place"
    elif before[-1] == "at":
        here = [f for f in found if f.rule == before[1]]
        yield from ((f.at[0], PLACE, f.message) for f in here if f.at)
        if not here:
            yield from _places(names)
            yield from ((part, PART, "a part") for part in names.parts())
    elif len(before) == 4:
        yield "because", WORD, "the reason, in double quotes"


def _expect(names: _Names, before: list[str]) -> Iterator[Offered]:
    last = before[-1]
    if len(before) == 1:
        yield from ((word, WORD, "what is expected of it") for word in MEASURES)
    if len(before) == 1 or last in (*MEASURES, "-", "to"):
        yield from _places(names)
        yield from ((part, PART, "a part") for part in names.parts() if last in MEASURES)
    elif last == "in":
        solutions = names.review.solutions if names.review else {}
        yield from ((name, STATE, "a state") for name in solutions)
    elif len(before) in (2, 3):
        yield from ((word, WORD, "") for word in ("=", "below", "above", "between"))
    else:
        yield from ((word, WORD, "") for word in ("within", "and", "in"))


def _switch(_: _Names, before: list[str]) -> Iterator[Offered]:
    if len(before) == 2:
        yield from ((word, WORD, "poles and throws") for word in _LAYOUTS)
    elif before[-1] != "at":
        yield "at", WORD, "the position in operation"


def _relay(_: _Names, before: list[str]) -> Iterator[Offered]:
    if len(before) == 2:
        yield from ((word, WORD, "poles and throws") for word in ("spst", "spdt", "dpdt", "4pdt"))
    else:
        yield from ((word, WORD, "") for word in ("contacts", "delay", "released"))


def _transistor(names: _Names, before: list[str]) -> Iterator[Offered]:
    if len(before) == 2:
        for line in names.read.drawing.statements:
            if isinstance(line, TypeLine) and "/" not in line.name:
                yield line.name, TYPE, f"of this drawing, like {line.like}"
        wanted = before[0] == "regulator"
        types = transistor_types().items()
        for name, kind in ((n, k) for n, k in types if k.family.regulates is wanted):
            yield name, TYPE, f"{kind.family.value}, {kind.case}"
    elif len(before) == 3:
        yield "heatsink", WORD, "the thermal resistance of its heat sink: 4 K/W"


def _words(*given: str) -> Callable[[_Names, list[str]], Iterator[Offered]]:
    def offered(_: _Names, before: list[str]) -> Iterator[Offered]:
        if len(before) >= 2:
            yield from ((word, WORD, "") for word in given if word not in before)

    return offered


_AFTER: Mapping[str, Callable[[_Names, list[str]], Iterator[Offered]]] = {
    "tube": _tube,
    "type": _type,
    "rating": _rating,
    "accept": _accept,
    "expect": _expect,
    "switch": _switch,
    "relay": _relay,
    "signal": lambda names, before: _places(names) if len(before) == 1 else iter(()),
    "pot": _words("at", "log", "linear", "reverse-log", "tap", "ganged"),
    "transistor": _transistor,
    "regulator": _transistor,
    "optocoupler": _words("led", "neon", "lamp", "cell"),
    "thyristor": _words("gate", "C106B", "C106D", "C106M", "BT151"),
    "triac": _words("gate", "BT136"),
    "vibrator": _words("synchronous"),
    "connector": _words("plugged", "unplugged"),
    "bridge": _words("silicon", "selenium", "schottky", "fast"),
    "jack": _words("plugged", "unplugged"),
    "mains": _words("tolerance"),
    "transformer": _words("coupling", "gapped", "ungapped"),
    "winding": _words("ct", "dot", "insulation", "impedance"),
    "primary": _words("ct", "dot", "insulation", "impedance"),
    "output": _words("ct", "taps", "gapped", "ungapped", "dot"),
    "sheet": _words("as", "joining"),
}


def _in_bracket(names: _Names, text: str) -> Iterator[Offered]:
    """The next free name of each letter; after the name the words and units of the kind."""
    fields = text[text.rfind("[") + 1 :]
    before = fields[: len(fields) - len(fields.split(" ")[-1])].split()
    if not before:
        yield from _free_names(names)
        return
    if before[-1][:1].isdigit():
        form = form_by_letters(before[0])
        units = [form.main, *form.fields] if form is not None else list(SYMBOLS)
        yield from ((SYMBOLS[u], UNIT, u) for u in units if u is not None)
    yield from ((word, WORD, f"a {kind.value}") for word, kind in KIND_WORDS.items())
    yield from ((word, WORD, "") for word in sorted(WORDS - set(KIND_WORDS)))


def _free_names(names: _Names) -> Iterator[Offered]:
    taken = {*names.parts(), *words_named(names.lines)}
    for letters, kind in LETTERS.items():
        if any(re.fullmatch(rf"{letters}\d+", t) for t in taken) or len(letters) == 1:
            yield next_free(letters, taken), PART, f"the next free {kind.value}"
    for name, owner in names.owners().items():
        if owner.tube and "/" not in name:
            yield name, PART, f"the heater of {name}"


def words_named(lines: Iterable[str]) -> set[str]:
    """Every name a text uses, whatever for."""
    return {w.full for w in words_of(lines) if w.role != POINT or w.plain}


def next_free(letters: str, taken: Iterable[str]) -> str:
    """``R11`` where R10 is the last of the text."""
    numbers = [int(m[1]) for t in taken if (m := re.fullmatch(rf"{letters}(\d+)", t))]
    return f"{letters}{max(numbers, default=0) + 1}"
