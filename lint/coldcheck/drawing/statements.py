"""Trees to statements: one small method for each kind of line."""

from __future__ import annotations

import re
from datetime import date
from typing import TYPE_CHECKING, TypeVar

from lark import Token, Tree

from coldcheck.drawing import model
from coldcheck.drawing.values import (
    QUANTITIES,
    SYMBOLS,
    Amount,
    BadValue,
    parse_amount,
    slip,
)
from coldcheck.drawing.wires import WireReader

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from coldcheck.drawing.lines import Line
    from coldcheck.drawing.units import Quantity

_Got = TypeVar("_Got")
_LAYOUTS = ("spst", "spdt", "dpst", "dpdt")


class _Refused(Exception):  # noqa: N818 - never leaves this module
    """The statement cannot be made; its problem is already recorded."""


class StatementReader:
    """Turns one line's tree into a statement; ``problems`` receives what cannot be read."""

    def __init__(self, line: Line, problems: list[model.Problem]) -> None:
        self.line = line
        self.problems = problems
        self._wires = WireReader(line, problems)

    def read(self, tree: Tree[Token]) -> model.Statement | None:
        """Return the statement of a ``statement`` tree, or ``None`` after adding a problem."""
        body = _tree(tree.children[0])
        before = len(self.problems)
        try:
            made: model.Statement | None = getattr(self, "_" + body.data)(body)
        except _Refused:
            return None
        return made if len(self.problems) == before else None

    # -- the drawing and its supplies ------------------------------------------------------

    def _chain(self, tree: Tree[Token]) -> model.Chain | None:
        return self._wires.chain(tree)

    def _drawing(self, tree: Tree[Token]) -> model.Title:
        return model.Title(str(_first(tree, "STRING"))[1:-1], self.line.whole())

    def _mains(self, tree: Tree[Token]) -> model.Mains:
        got = self._roles(_amounts(tree), {"volt": ["voltage"], "hertz": ["frequency"]}, tree)
        share = self._sub_share(tree, "tolerance", 0.10, below=0.5)
        return model.Mains(
            self._needed(got, "voltage", "volt", tree),
            self._needed(got, "frequency", "hertz", tree),
            share,
            self.line.whole(),
        )

    def _transformer(self, tree: Tree[Token]) -> model.TransformerLine:
        return model.TransformerLine(str(_first(tree, "NAME")), self.line.whole())

    def _primary(self, tree: Tree[Token]) -> model.WindingLine:
        return self._winding_line(tree, primary=True)

    def _winding(self, tree: Tree[Token]) -> model.WindingLine:
        return self._winding_line(tree, primary=False)

    def _winding_line(self, tree: Tree[Token], *, primary: bool) -> model.WindingLine:
        name, *rest = tree.children
        tapped = self._tap_order(rest)
        slots = {"volt": ["first", "second"], "ampere": ["current"], "ohm": ["resistance"]}
        got = self._roles(_amounts(tree), slots, tree)
        voltages = [self._needed(got, "first", "volt", tree)]
        if "second" in got:
            voltages.append(got["second"].quantity)
        return model.WindingLine(
            str(name), primary, tuple(voltages), tapped,
            _quantity(got, "current"), _quantity(got, "resistance"), self.line.whole(),
        )  # fmt: skip

    def _tap_order(self, rest: Sequence[Token | Tree[Token]]) -> bool:
        """Check ``V [ct [V]]``: a ct follows the first voltage and parts the two."""
        taps = [i for i, node in enumerate(rest) if isinstance(node, Token)]
        volts = [i for i, node in enumerate(rest) if isinstance(node, Tree) and self._is_volt(node)]
        if len(taps) > 1:
            self._refuse(_token(rest[taps[1]]), "one ct (centre tap) to a winding")
        if taps and (not volts or taps[0] < volts[0]):
            self._refuse(_token(rest[taps[0]]), "the winding's voltage before ct", "6.3 V ct")
        if len(volts) > 1 and not (taps and volts[0] < taps[0] < volts[1]):
            hint = "a centre-tapped winding is written 250 V ct 250 V"
            self._refuse(_tree(rest[volts[1]]), "ct between the two halves", hint)
        return bool(taps)

    def _is_volt(self, tree: Tree[Token]) -> bool:
        try:
            return parse_amount(" ".join(map(str, tree.children)), None).unit == "volt"
        except BadValue:
            return False

    # -- declared parts --------------------------------------------------------------------

    def _tube(self, tree: Tree[Token]) -> model.TubeLine:
        kind = _first(tree, "TYPE")
        heater = _sub(tree, "heater")
        point, mode = None, None
        if heater is not None:
            point = self._wires.point(_first(heater, "POINT"))
            mode = next((str(t) for t in _tokens(heater) if t.type in ("SERIES", "PARALLEL")), None)
        return model.TubeLine(
            str(_first(tree, "NAME")), str(kind), self._span(kind), point, mode, self.line.whole()
        )

    def _output(self, tree: Tree[Token]) -> model.OutputLine:
        first, *others = _amounts(tree)
        primary = self._amount(first, "ohm", "ohm", positive=True).quantity
        slots = {"ohm": ["secondary", "resistance"], "henry": ["inductance"]}
        got = self._roles(others, slots, tree, first_default="ohm")
        tapped = any(t.type == "CT" for t in _tokens(tree))
        tap = self._sub_share(tree, "tap", None, below=1.0)
        if tap is not None and not tapped:
            self._refuse(_tree(_sub(tree, "tap")), "ct before ul",
                         "ultra-linear taps are counted from the centre tap: 6k6 ct ul 40 %")  # fmt: skip
        return model.OutputLine(
            str(_first(tree, "NAME")), primary, self._needed(got, "secondary", "ohm", tree),
            _quantity(got, "resistance"), _quantity(got, "inductance"), tapped, tap,
            self.line.whole(),
        )  # fmt: skip

    def _pot(self, tree: Tree[Token]) -> model.PotLine:
        unknown = [t for t in _amounts(tree) if str(t.children[0]) == "?"]
        known = [t for t in _amounts(tree) if t not in unknown]
        slots = {"ohm": ["value"], "watt": ["power"]}
        got = self._roles(known, slots, tree, first_default="ohm")
        value = None if unknown else self._needed(got, "value", "ohm", tree)
        setting = self._sub_share(tree, "setting", 0.5, low=0.0, below=1.0)
        return model.PotLine(
            str(_first(tree, "NAME")), value, setting, _quantity(got, "power"), self.line.whole()
        )

    def _switch(self, tree: Tree[Token]) -> model.SwitchLine:
        layout = _first(tree, "WORD")
        if str(layout) not in _LAYOUTS:
            self._refuse(layout, "spst, spdt, dpst or dpdt")
        at = next((t for t in _tokens(tree) if t.type == "NUMBER"), None)
        if at is not None and str(at) not in ("1", "2"):
            self._refuse(at, "position 1 or 2")
        return model.SwitchLine(
            str(_first(tree, "NAME")), str(layout), int(at or "1"), self.line.whole()
        )

    def _jack(self, tree: Tree[Token]) -> model.JackLine:
        return model.JackLine(str(_first(tree, "NAME")), self.line.whole())

    def _signal(self, tree: Tree[Token]) -> model.SignalLine:
        point = self._wires.point(_first(tree, "POINT"))
        slots = {"volt": ["voltage"], "hertz": ["frequency"]}
        got = self._roles(_amounts(tree), slots, tree)
        voltage = self._needed(got, "voltage", "volt", tree)
        return model.SignalLine(
            point.text, voltage, _quantity(got, "frequency"), self.line.whole()
        )

    # -- data and intent -------------------------------------------------------------------

    def _type(self, tree: Tree[Token]) -> model.TypeLine:
        name, like = _tokens(tree)
        return model.TypeLine(str(name), str(like), self.line.whole())

    def _rating(self, tree: Tree[Token]) -> model.RatingLine:
        value = self._amount(_amounts(tree)[0], "", None)
        return model.RatingLine(str(_first(tree, "WORD")), value.quantity, self.line.whole())

    def _expect(self, tree: Tree[Token]) -> model.Expect:
        head, bounds, *state = tree.children
        low, high = self._bounds(_tree(bounds))
        return model.Expect(
            self._wires.point(_token(head)), low, high,
            self._state(_tree(state[0])) if state else None,
            " ".join(self.line.text.split()), self.line.whole(),
        )  # fmt: skip

    def _bounds(self, tree: Tree[Token]) -> tuple[Quantity | None, Quantity | None]:
        amounts = [self._amount(t, "volt", "volt") for t in _amounts(tree)]
        if tree.data == "below":
            return None, amounts[0].quantity
        if tree.data == "above":
            return amounts[0].quantity, None
        if tree.data == "between":
            low, high = sorted(amounts, key=lambda a: a.number)
            return low.quantity, high.quantity
        return self._around(tree, amounts[0])

    def _around(self, tree: Tree[Token], value: Amount) -> tuple[Quantity, Quantity]:
        within = _sub(tree, "within")
        margin = Amount(10.0, "percent")
        if within is not None:
            margin = self._amount(_amounts(within)[0], None, None, positive=True)
        width = abs(value.number) * margin.number / 100
        if margin.unit == "volt":
            width = margin.number
        elif margin.unit != "percent":
            self._wrong_unit(within or tree, "a share or a voltage: within 10 %, within 2 V")
        elif width == 0:
            self._refuse(within or tree, "a margin in volts", "a share of 0 V is nothing: within 1 V")
        low, high = value.number - width, value.number + width
        return Amount(low, "volt").quantity, Amount(high, "volt").quantity

    def _state(self, tree: Tree[Token]) -> str:
        return " ".join(str(t).strip('"') for t in _tokens(tree))

    def _accept(self, tree: Tree[Token]) -> model.Accept:
        reason = _first(tree, "STRING")
        if not str(reason).strip('" \t'):
            self._refuse(reason, "the reason, in double quotes")
        until = _sub(tree, "until")
        place = self._wires.point(_first(tree, "POINT"))
        return model.Accept(
            str(_first(tree, "RULE")), place.text, str(reason)[1:-1],
            self._date(_first(until, "DATE")) if until is not None else None, self.line.whole(),
        )  # fmt: skip

    def _date(self, token: Token) -> date:
        try:
            if re.fullmatch(r"\d{4}-\d\d-\d\d", str(token)):
                return date.fromisoformat(str(token))
        except ValueError:
            pass
        self._refuse(token, "a date that exists, as year-month-day: 2027-06-30")
        raise _Refused

    def _sheet(self, tree: Tree[Token]) -> None:
        self._add("drawing.not-supported", self.line.text.find("sheet"), len(self.line.text),
                  "a sheet", "the parts of that sheet written out here",
                  "sheets are not supported yet")  # fmt: skip

    # -- amounts ---------------------------------------------------------------------------

    def _amount(
        self, tree: Tree[Token], unit: str | None, default: str | None, *, positive: bool = False
    ) -> Amount:
        """Read an ``amount`` tree; ``unit`` is the one it must have (None or "": any)."""
        text = " ".join(map(str, tree.children))
        try:
            amount = parse_amount(text, "" if unit == "" else default)
        except BadValue as bad:
            expected = bad.expected
            if unit and expected.startswith(("a value", "a unit")):
                expected = QUANTITIES[unit]
            hint = bad.hint or slip(text)
            self._add(bad.rule, *_ends(tree), bad.found, expected, hint)
            raise _Refused from None
        if unit and amount.unit != unit:
            self._wrong_unit(tree, QUANTITIES[unit])
            raise _Refused
        if positive and amount.number <= 0:
            self._refuse(tree, "a value above zero")
            raise _Refused
        return amount

    def _roles(
        self,
        amounts: Iterable[Tree[Token]],
        slots: dict[str, list[str]],
        tree: Tree[Token],
        first_default: str | None = None,
    ) -> dict[str, Amount]:
        """Sort amounts into named roles by their unit; a role filled twice is a problem."""
        got: dict[str, Amount] = {}
        for index, node in enumerate(amounts):
            default = first_default if index == 0 else None
            try:
                amount = self._amount(node, None, default, positive=True)
            except _Refused:
                continue
            free = [role for role in slots.get(amount.unit, []) if role not in got]
            if free:
                got[free[0]] = amount
            elif amount.unit in slots:
                self._refuse(node, f"no more than {len(slots[amount.unit])} in {SYMBOLS[amount.unit]}")
            else:
                expected = " or ".join(QUANTITIES[u] for u in slots)
                self._wrong_unit(node, f"{expected} in a {tree.data} line")
        return got

    def _needed(self, got: dict[str, Amount], role: str, unit: str, tree: Tree[Token]) -> Quantity:
        if role in got:
            return got[role].quantity
        if not self.problems:
            start = len(self.line.text) - len(self.line.text.lstrip())
            self._add("drawing.syntax", start, len(self.line.text.rstrip()),
                      f"a {tree.data} line without {SYMBOLS[unit]}", QUANTITIES[unit])  # fmt: skip
        raise _Refused

    def _sub_share(
        self, tree: Tree[Token], name: str, default: _Got, *, low: float = 1e-9, below: float
    ) -> float | _Got:
        """Return a percentage given after a keyword as a fraction, or ``default``."""
        sub = _sub(tree, name)
        if sub is None:
            return default
        node = _amounts(sub)[0]
        amount = self._amount(node, "percent", None)
        share = amount.number / 100
        if not low <= share <= below:
            self._refuse(node, f"a share from {low:.0%} to {below:.0%}")
        return share

    # -- problems --------------------------------------------------------------------------

    def _span(self, token: Token) -> model.Span:
        return self.line.span(*_ends(token))

    def _refuse(self, node: Token | Tree[Token], expected: str, hint: str = "") -> None:
        start, end = _ends(node)
        found = " ".join(self.line.text[start:end].split())
        found = found if found.startswith('"') else f'"{found}"'
        self._add("drawing.syntax", start, end, found, expected, hint)

    def _wrong_unit(self, node: Tree[Token], expected: str) -> None:
        start, end = _ends(node)
        found = f'"{" ".join(self.line.text[start:end].split())}"'
        self._add("drawing.wrong-unit", start, end, found, expected)

    def _add(
        self, rule: str, start: int, end: int, found: str, expected: str, hint: str = ""
    ) -> None:
        self.problems.append(self.line.problem(rule, start, end, found, expected, hint))


def _tokens(tree: Tree[Token]) -> list[Token]:
    return [child for child in tree.children if isinstance(child, Token)]


def _first(tree: Tree[Token], kind: str) -> Token:
    return next(token for token in _tokens(tree) if token.type == kind)


def _sub(tree: Tree[Token], name: str) -> Tree[Token] | None:
    trees = (child for child in tree.children if isinstance(child, Tree))
    return next((child for child in trees if child.data == name), None)


def _amounts(tree: Tree[Token]) -> list[Tree[Token]]:
    return [c for c in tree.children if isinstance(c, Tree) and c.data == "amount"]


def _ends(node: Token | Tree[Token]) -> tuple[int, int]:
    tokens = [node] if isinstance(node, Token) else list(node.scan_values(lambda _: True))
    return tokens[0].start_pos or 0, tokens[-1].end_pos or 0


def _quantity(got: dict[str, Amount], role: str) -> Quantity | None:
    return got[role].quantity if role in got else None


def _token(node: Token | Tree[Token]) -> Token:
    assert isinstance(node, Token)
    return node


def _tree(node: Token | Tree[Token] | None) -> Tree[Token]:
    assert isinstance(node, Tree)
    return node
