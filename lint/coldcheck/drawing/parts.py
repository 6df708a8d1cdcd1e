"""The bracket: fields to a Part, its polarity and arrow checked against its kind."""

from __future__ import annotations

import re
from dataclasses import field, replace
from typing import TYPE_CHECKING, Any

from coldcheck.drawing import kinds
from coldcheck.drawing.amounts import Refused
from coldcheck.drawing.model import Part, Problem
from coldcheck.drawing.unsaid import unsaid_name, unsaid_word
from coldcheck.drawing.values import (
    QUANTITIES,
    SYMBOLS,
    Amount,
    BadValue,
    Lacks,
    is_ohms,
    is_unit,
    looks_like_code,
    parse_amount,
    slip,
    unit_hint,
)
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Sequence

    from lark import Token

    from coldcheck.drawing.kinds import Form
    from coldcheck.drawing.lines import Line
    from coldcheck.drawing.unsaid import Unsaid

MAX_FIELDS = 24
_LAMP = re.compile(r"#?[0-9]{1,4}")
_BALLASTS = (kinds.PartKind.RESISTOR, kinds.PartKind.BARRETTER)
_TYPE = re.compile(r"[0-9]?[A-Za-z]{1,5}[0-9]{1,5}[A-Za-z0-9/-]*")


@dataclass(slots=True)
class _Fields:
    """What has been read of one bracket so far."""

    form: Form | None
    name: str
    values: dict[str, Any] = field(default_factory=dict)
    words: list[str] = field(default_factory=list)
    main: Amount | None = None
    unknown: bool = False
    ac: bool = False
    guessed: bool = False
    """Its kind was taken from the dimension of its value."""


class PartReader:
    """Reads the tokens of one bracket on one line; problems collect in ``problems``."""

    def __init__(self, line: Line, problems: list[Problem]) -> None:
        self.line = line
        self.problems = problems

    def read(
        self, name: Token, tokens: Sequence[Token], plus: str | None, arrow: str | None
    ) -> Part | None:
        """Return the part, or ``None`` after adding at least one problem."""
        if len(tokens) > MAX_FIELDS:
            self._add(
                "drawing.syntax", name, name, f"{name} with {len(tokens)} words and numbers",
                f"at most {MAX_FIELDS} in a bracket", "is a closing bracket ] missing?",
            )  # fmt: skip
            return None
        if self._unsaid(name, tokens):
            return None
        return self._read(_Fields(self._kind(name, tokens), str(name)), name, tokens, plus, arrow)

    def block(self, name: Token, tokens: Sequence[Token]) -> Part | None:
        """Return the diode that each of a bridge block's four is, or ``None`` after a problem."""
        got = _Fields(kinds.FORMS[kinds.PartKind.DIODE], str(name))
        return self._read(got, name, tokens, None, "right")

    def inner(self, name: str, tokens: Sequence[Token], form: Form, arrow: str | None) -> Part:
        """Return a part of a compound by its fields, ``name`` being its own. Raises Refused."""
        before = len(self.problems)
        for token in tokens:
            if known := unsaid_word(token, name):
                self._not_supported(token, known)
            elif kinds.KIND_WORDS.get(str(token).lower(), form.kind) is not form.kind:
                self._add("drawing.bad-value", token, token, f'"{token}"', form.article)
        wrong = len(self.problems) > before
        part = None if wrong else self._read(_Fields(form, name), tokens[0], tokens, None, arrow)
        if part is None:
            raise Refused
        return replace(part, span=self.line.span(_start(tokens[0]), _end(tokens[-1])))

    def _read(
        self,
        got: _Fields,
        name: Token,
        tokens: Sequence[Token],
        plus: str | None,
        arrow: str | None,
    ) -> Part | None:
        before = len(self.problems)
        index = 0
        while index < len(tokens):
            index = self._field(got, tokens, index)
        form = got.form
        if len(self.problems) > before:
            return None
        if form is None:
            self._no_kind(name, got.name)
            return None
        self._called(got, form, tokens)
        self._check(got, form, name, plus, arrow)
        if len(self.problems) > before:
            return None
        return self._part(got, form, name, tokens, plus, arrow)

    def _part(
        self,
        got: _Fields,
        form: Form,
        name: Token,
        tokens: Sequence[Token],
        plus: str | None,
        arrow: str | None,
    ) -> Part:
        end = _end(tokens[-1] if tokens else name)
        return Part(
            name=got.name,
            kind=form.kind,
            span=self.line.span(_start(name), end),
            value=got.main.quantity if got.main else None,
            voltage_is_ac=got.ac,
            open="open" in got.words,
            plus=plus,
            arrow=arrow,
            unknown=frozenset({"value"}) if got.unknown else frozenset(),
            words=tuple(got.words),
            **got.values,
        )

    def _unsaid(self, name: Token, tokens: Sequence[Token]) -> bool:
        """Refuse a part that the language has no word for, before it is read as another."""
        for token in tokens:
            if known := unsaid_word(token, str(name)):
                self._not_supported(token, known)
                return True
        if known := unsaid_name(name, tokens):
            self._not_supported(name, known)
        return known is not None

    def _called(self, got: _Fields, form: Form, tokens: Sequence[Token]) -> None:
        """Refuse a word that may name the part where nothing but its value says what it is.

        No list of what there is in the trade can be whole; a buzzer of 250 ohm is no resistor.
        """
        strange = (
            t for t in tokens if str(t).lower() in got.words and str(t).lower() not in kinds.WORDS
        )
        token = next(strange, None) if got.guessed else None
        if token is not None:
            hint = f"where it is {form.article}, say so: [{got.name} {form.kind.value} ...]"
            self._add("drawing.not-supported", token, token, f'"{token}", which may name a part',
                      "a part that the language knows", hint)  # fmt: skip

    def _not_supported(self, token: Token, known: Unsaid) -> None:
        self._add("drawing.not-supported", token, token, f'"{token}", {known.called}',
                  "a part that the language knows", known.instead)  # fmt: skip

    def _kind(self, name: Token, tokens: Sequence[Token]) -> Form | None:
        for token in tokens:
            word = str(token).lower()
            if word in kinds.KIND_WORDS and not kinds.is_note(word, name):
                return kinds.FORMS[kinds.KIND_WORDS[str(token).lower()]]
        return kinds.form_by_letters(str(name))

    # -- one field -------------------------------------------------------------------------

    def _field(self, got: _Fields, tokens: Sequence[Token], index: int) -> int:
        """Read the field that begins at ``tokens[index]``; return the index after it."""
        token = tokens[index]
        text = str(token)
        if text.lower() == "insulation":
            return self._insulation(got, tokens, index)
        if got.form is not None and got.form.numbered and self._numbered(tokens, index):
            self._set(got, "type", f"#{text.removeprefix('#')}", token, token)
            return index + 1
        if token.type == "NUMBER" or looks_like_code(text):
            stop = _value_stop(tokens, index)
            self._value(got, tokens[index:stop])
            return stop
        self._word(got, token, text)
        return index + 1

    @staticmethod
    def _numbered(tokens: Sequence[Token], index: int) -> bool:
        """Whether a bare number, or one behind the sign, stands here: 47 and no unit behind it."""
        alone = _value_stop(tokens, index) == index + 1
        return alone and _LAMP.fullmatch(tokens[index]) is not None

    def _insulation(self, got: _Fields, tokens: Sequence[Token], index: int) -> int:
        """Read ``insulation 500 V``: what the winding stands against its core."""
        token, start = tokens[index], index + 1
        if got.form is None or not got.form.insulated:
            self._add("drawing.syntax", token, token, '"insulation"',
                      "insulation only of a choke, or of a winding of a transformer")  # fmt: skip
        if start >= len(tokens) or tokens[start].type != "NUMBER":
            expected = "a voltage after it: insulation 500 V"
            self._add("drawing.bad-value", token, token, '"insulation" alone', expected)
            return start
        stop = _value_stop(tokens, start)
        text = " ".join(tokens[start:stop])
        try:
            amount = parse_amount(text, None)
        except BadValue as bad:
            self._add(bad.rule, tokens[start], tokens[stop - 1], bad.found, bad.expected, bad.hint)
            return stop
        if amount.unit != "volt" or amount.number <= 0:
            self._add("drawing.wrong-unit", tokens[start], tokens[stop - 1], f'"{text}"',
                      QUANTITIES["volt"])  # fmt: skip
        else:
            self._set(got, "insulation", amount.quantity, token, tokens[stop - 1])
        return stop

    def _word(self, got: _Fields, token: Token, text: str) -> None:
        word = text.lower()
        typed = got.form is not None and got.form.typed
        safe = kinds.safety_class(text)
        if safe is not None:
            self._set(got, "safety_class", safe, token, token)
        elif word == "tap":
            hint = "draw a tapped choke as two chokes in series"
            if got.form is not None and got.form.kind in _BALLASTS:
                hint = (
                    "it has a line of its own, a section on each side of the tap: ballast BAL1 "
                    "40 V 300 mA : 9 V 300 mA, or 135 ohm 15 W : 25 ohm"
                )
            self._add("drawing.not-supported", token, token, '"tap"', "a part with two leads", hint)
        elif word in kinds.KIND_WORDS or word in kinds.WORDS:
            if typed and word in kinds.DIODE_STUFF:
                got.values.setdefault("type", word)
            named = kinds.KIND_WORDS.get(word)
            if named is None or named.value != word or kinds.is_note(word, got.name):
                got.words.append(word)
        elif typed and _TYPE.fullmatch(text):
            self._set(got, "type", text, token, token)
        elif unsaid_word(text) is not None or _is_note(text):
            got.words.append(word)  # no slip of the pen: a note beside letters that say the kind
        elif not re.fullmatch(r"[A-Za-z][A-Za-z-]{2,}", text) or kinds.nearest_word(text):
            near = kinds.nearest_word(text)
            hint = f'did you mean "{near}"?' if near else slip(text) or unit_hint(text)
            if re.fullmatch(r"[XY]\d", text.upper()):
                hint = f"the classes in use are {', '.join(kinds.SAFETY_CLASSES)}"
            if not hint and not text.isascii():
                hint = "names and words are made of the letters A to Z, digits and _"
            self._add("drawing.bad-value", token, token, f'"{text}"', "a value or a word", hint)
        else:
            got.words.append(word)

    def _value(self, got: _Fields, tokens: Sequence[Token]) -> None:
        text = " ".join(tokens)
        if tokens[0] == "?":
            got.unknown = True
            return
        if got.form is not None and got.form.typed and len(tokens) == 1 and _is_type(text):
            self._set(got, "type", text, tokens[0], tokens[0])
            return
        main = got.form.main if got.form and not got.main else None
        default = main or _by_letter(got.form, text)
        try:
            if got.main and default is None and self._second(got, tokens):
                return
            amount = parse_amount(text, default)
        except BadValue as bad:
            self._add(bad.rule, tokens[0], tokens[-1], bad.found, bad.expected, bad.hint)
            return
        self._assign(got, amount, tokens)

    def _second(self, got: _Fields, tokens: Sequence[Token]) -> bool:
        """Report a bare number after the value; it may be a second value or lack its unit."""
        text = " ".join(tokens)
        try:
            parse_amount(text, None)
        except BadValue as bad:
            if bad.lacks is not Lacks.UNIT:
                return False
        else:
            return False
        hint = "write its unit if it is a rating, such as 2 W or 400 V"
        self._add("drawing.bad-value", tokens[0], tokens[-1], f'a second value "{text}"',
                  f"one value for {got.name}", hint)  # fmt: skip
        return True

    def _assign(self, got: _Fields, amount: Amount, tokens: Sequence[Token]) -> None:
        if got.form is None:
            got.form, got.guessed = kinds.form_by_unit(amount.unit), True
        form, first, last = got.form, tokens[0], tokens[-1]
        text = f'"{" ".join(tokens)}"'
        if form is None:
            self._no_kind(first, got.name)
        elif amount.number <= 0 and amount.unit != "percent":
            hint = (
                "a wire is drawn --"
                if form.kind is kinds.PartKind.RESISTOR and amount.number == 0
                else ""
            )
            self._add("drawing.bad-value", first, last, text, "a value above zero", hint)
        elif amount.unit == form.main and got.main is None and not got.unknown:
            if amount.ac and form.kind is kinds.PartKind.SOURCE:
                expected = "a DC voltage"
                hint = "an AC source is a winding of a transformer, or a signal"
                self._add("drawing.not-supported", first, last, text, expected, hint)
            got.main, got.ac = amount, got.ac or amount.ac
        elif amount.unit in form.fields:
            got.ac = got.ac or amount.ac
            value = amount.number / 100 if amount.unit == "percent" else amount.quantity
            self._set(got, form.fields[amount.unit], value, first, last)
        elif (form.kind, amount.unit) in kinds.NOTED:
            got.words.append(" ".join(tokens))
        elif amount.unit == form.main:
            self._add(
                "drawing.bad-value", first, last, f"a second value {text}",
                f"one value for {got.name}",
            )  # fmt: skip
        else:
            self._wrong_unit(got, form, (first, last), text, amount.unit)

    def _wrong_unit(
        self, got: _Fields, form: Form, ends: tuple[Token, Token], text: str, unit: str
    ) -> None:
        first, last = ends
        units = [SYMBOLS[u] for u in dict.fromkeys((form.main, *form.fields)) if u]
        expected = f"for {form.article} " + _either(units or ["no value"])
        mark = kinds.letters(got.name)
        hint = ""
        if kinds.LETTERS.get(mark) == form.kind:
            hint = f"a name that begins with {mark} is {form.article}"
        hint = kinds.UNREAD.get((form.kind, unit), hint)
        self._add("drawing.wrong-unit", first, last, text, expected, hint)

    def _set(self, got: _Fields, name: str, value: object, first: Token, last: Token) -> None:
        if name in got.values:
            what = name.replace("_", " ")
            text = self.line.text[_start(first) : _end(last)]
            self._add(
                "drawing.bad-value", first, last, f'a second {what} "{text}"',
                f"one {what} for {got.name}",
            )  # fmt: skip
        got.values[name] = value

    # -- the whole part --------------------------------------------------------------------

    def _check(
        self, got: _Fields, form: Form, name: Token, plus: str | None, arrow: str | None
    ) -> None:
        typed = "type" in got.values
        if form.needs_value and got.main is None and not got.unknown and not typed:
            expected = QUANTITIES[form.main or "ohm"] + ", or ? where it is not known"
            self._add("drawing.bad-value", name, name, f"{name} without a value", expected,
                      _missing_space(str(name)))  # fmt: skip
        if plus and not form.plus:
            hint = "a diode is drawn with an arrow: ]->" if form.arrow else ""
            self._add("drawing.syntax", name, name, f"a + at {name}",
                      f"no polarity: it is {form.article}", hint)  # fmt: skip
        if arrow and not form.arrow:
            self._add("drawing.syntax", name, name, f"an arrow at {name}",
                      f"a plain wire --: it is {form.article}",
                      "only diodes have a direction" + ", a plus is +" * form.plus)  # fmt: skip
        if form.arrow and not arrow:
            self._add("drawing.syntax", name, name, f"{name} without its direction",
                      "an arrow the way the diode conducts",
                      f"--[{name} ...]-> or <-[{name} ...]--")  # fmt: skip
        if form.kind is kinds.PartKind.SOURCE and not plus:
            self._add("drawing.syntax", name, name, f"{name} without its plus",
                      "a + at the positive end of the source",
                      f"--+[{name} ...]-- or --[{name} ...]+--")  # fmt: skip

    def _no_kind(self, at: Token, name: str) -> None:
        known = "resistor, capacitor, choke, diode, fuse, switch, lamp, speaker, source, ..."
        hint = _missing_space(name) or (
            f"a tube's heater on a wire is written [{name} heater]" if name[0] in "Vv" else ""
        )
        self._add("drawing.bad-value", at, at, f'"{name}", which does not say what it is',
                  f"a reference letter such as R, C or L, or a word: {known}", hint)  # fmt: skip

    def _add(
        self, rule: str, first: Token, last: Token, found: str, expected: str, hint: str = ""
    ) -> None:
        self.problems.append(
            self.line.problem(rule, _start(first), _end(last), found, expected, hint)
        )


def _value_stop(tokens: Sequence[Token], index: int) -> int:
    """Return where the value at ``index`` ends: its number, a prefix set off, its unit."""
    stop = index + 1
    number = str(tokens[index])
    if number != "?" and not re.search(r"[\d.][kKMRunpµμ]?$", number):
        return stop
    while stop < len(tokens) and stop - index < 3 and tokens[stop].type == "WORD":
        word = str(tokens[stop])
        if is_unit(word):
            stop += 1
            if word not in ("k", "K", "M", "meg", "u", "n", "p"):
                break
        elif stop == index + 1 and not _word_of_its_own(word) and re.search(r"^[\d.]+$", number):
            return stop + 1  # probably a misspelt unit: say so with the number
        else:
            break
    return stop


def _by_letter(form: Form | None, text: str) -> str | None:
    """``1k`` of a choke or a lamp is its resistance."""
    return "ohm" if is_ohms(text) and form is not None and "ohm" in form.fields else None


def _word_of_its_own(word: str) -> bool:
    word = word.lower()
    known = word in kinds.KIND_WORDS or word in kinds.WORDS or kinds.safety_class(word) is not None
    return known or looks_like_code(word) or _TYPE.fullmatch(word) is not None


def _is_note(text: str) -> bool:
    """Whether a word with digits or ``_`` is neither a value nor close to a word: N750, part_2.

    A unit before a number (V400) is a rating written the wrong way round, X9 a class there is not.
    """
    if not re.fullmatch(r"[A-Za-z][A-Za-z0-9_-]*[0-9_][A-Za-z0-9_-]*", text) or slip(text):
        return False
    turned = re.fullmatch(r"([A-Za-z]+)[0-9]+", text)
    rating = turned is not None and is_unit(turned[1])
    return not (rating or re.fullmatch(r"[XYxy][0-9]", text) or kinds.nearest_word(text))


def _is_type(text: str) -> bool:
    if not _TYPE.fullmatch(text):
        return False
    try:
        parse_amount(text, None)
    except BadValue:
        return True
    return False


def _missing_space(name: str) -> str:
    if not re.fullmatch(r"[A-Za-z]{1,2}\d+[kKMRunp]\d*", name):
        return ""
    return "put a space between the name and the value, as in [R1 10k]"


def _either(choices: Sequence[str]) -> str:
    return choices[0] if len(choices) == 1 else ", ".join(choices[:-1]) + " or " + choices[-1]


def _start(token: Token) -> int:
    return token.start_pos or 0


def _end(token: Token) -> int:
    return token.end_pos or 0
