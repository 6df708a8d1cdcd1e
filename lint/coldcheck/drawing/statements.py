"""Trees to statements: one small method for each kind of line."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from lark import Token, Tree

from coldcheck.drawing import couplers, model
from coldcheck.drawing.amounts import AmountReader, Refused, quantity_of
from coldcheck.drawing.parts import PartReader
from coldcheck.drawing.trees import (
    amounts_of,
    as_token,
    as_tree,
    ends_of,
    first_of,
    sub_of,
    subs_of,
    tokens_of,
)
from coldcheck.drawing.unsaid import unsaid_device
from coldcheck.drawing.values import Amount, BadValue, parse_amount
from coldcheck.drawing.wires import WireReader

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from coldcheck.drawing.lines import Line
    from coldcheck.drawing.units import Quantity

EXPECTED_IN = {
    "voltage": "volt", "current": "ampere", "dissipation": "watt", "gain": "", "ripple": "volt",
    "drain": "second",
}  # fmt: skip
"""What can be expected, and the unit of its bounds; a gain is a plain number."""

_MARGINS = {
    "volt": "a share or a voltage: within 10 %, within 2 V",
    "ampere": "a share or a current: within 10 %, within 5 mA",
    "watt": "a share or a power: within 10 %, within 1 W",
    "second": "a share or a time: within 10 %, within 5 s",
    "": "a share or a plain number: within 10 %, within 5",
}

_HALVES = "of 300 V ct the halves are 150 V ct 150 V, with a tap 50/150 V ct 150 V"
_WHOLE = "equal halves by the whole: 8 mH ct, impedance 10k ct; others 1 turn ct 2 turns 8 mH"
_MEASURES = {
    model.Measure.UNKNOWN: "", model.Measure.TURNS: "turn",
    model.Measure.IMPEDANCE: "ohm", model.Measure.HENRIES: "henry",
}  # fmt: skip
_SIGNALS = (
    "ohms are those of the wire: 3 turns 400 ohm, impedance 10k 400 ohm, 8 H 400 ohm; where the "
    "paper does not say, ? 400 ohm"
)
_SIZED = ("amount", "matched")
_SIZES = ("", "volt", "turn", "henry")
"""Units of what ``?`` may stand for as the size of a winding."""

_UNSIZED_OUTPUT = (
    "one of which the paper has none is a transformer T2 gapped, or ungapped, with a primary and a "
    "winding of ? and the ohms of their wire"
)
_LAYOUT = re.compile(r"(s|d|[1-9]\d?)p(s|d|[1-9]\d?)t")
_ENDS = (1.0, 2.0)
MOST_WAYS = 60
"""Of a connector between two chassis: the largest common ones have some fifty (practice)."""

MOST_SECTIONS = 6
"""Of a ballast tube or a resistor in one case; those for radios have up to four or five."""

MOST_TAPS = 2
_RELAYS = re.compile(r"(s|d|[3-9])p(s|d)t")
_TAPERS = {
    "lin": model.Taper.LINEAR, "linear": model.Taper.LINEAR, "log": model.Taper.LOG,
    "audio": model.Taper.LOG, "antilog": model.Taper.REVERSE_LOG,
    "reverse-log": model.Taper.REVERSE_LOG,
}  # fmt: skip
MOST_THROWS = 24
"""Poles of a switch, and throws of a pole: wafers are made with up to 24 contacts (practice)."""


class StatementReader(AmountReader):
    """Turns one line's tree into a statement; ``problems`` receives what cannot be read."""

    def __init__(self, line: Line, problems: list[model.Problem]) -> None:
        super().__init__(line, problems)
        self._wires = WireReader(line, problems)
        self._parts = PartReader(line, problems)

    def read(self, tree: Tree[Token]) -> model.Statement | None:
        """Return the statement of a ``statement`` tree, or ``None`` after adding a problem."""
        body = as_tree(tree.children[0])
        before = len(self.problems)
        try:
            made: model.Statement | None = getattr(self, "_" + body.data)(body)
        except Refused:
            return None
        return made if len(self.problems) == before else None

    # -- the drawing and its supplies ------------------------------------------------------

    def _chain(self, tree: Tree[Token]) -> model.Chain | None:
        return self._wires.chain(tree)

    def _drawing(self, tree: Tree[Token]) -> model.Title:
        return model.Title(str(first_of(tree, "STRING"))[1:-1], self.line.whole())

    def _mains(self, tree: Tree[Token]) -> model.Mains:
        got = self.roles(amounts_of(tree), {"volt": ["voltage"], "hertz": ["frequency"]}, tree)
        share = self.sub_share(tree, "tolerance", None, below=0.5)
        return model.Mains(
            self.needed(got, "voltage", "volt", tree),
            self.needed(got, "frequency", "hertz", tree),
            share,
            self.line.whole(),
        )

    def _transformer(self, tree: Tree[Token]) -> model.TransformerLine:
        if len(said := subs_of(tree, "coupled")) > 1:
            self.refuse(said[1], "one coupling to a transformer")
        return model.TransformerLine(
            str(first_of(tree, "NAME")), self.line.whole(),
            self.sub_share(tree, "coupled", None, below=1.0),
            self._either(tree, "GAPPED", "UNGAPPED"),
        )  # fmt: skip

    def _primary(self, tree: Tree[Token]) -> model.WindingLine | model.CoilLine:
        return self._wound(tree, primary=True)

    def _winding(self, tree: Tree[Token]) -> model.WindingLine | model.CoilLine:
        return self._wound(tree, primary=False)

    def _wound(self, tree: Tree[Token], *, primary: bool) -> model.WindingLine | model.CoilLine:
        if asked := self._asked(tree):
            return self._open(tree, asked, primary=primary)
        measure = self._measure(tree)
        if measure is None:
            if {self._unit(node) for node in amounts_of(tree)} == {"ohm"}:
                self.refuse(amounts_of(tree)[0], "volts, or for signals what it is by", _SIGNALS)
                raise Refused
            return self._winding_line(tree, primary=primary)
        return self._coil_line(tree, measure, primary=primary)

    def _asked(self, tree: Tree[Token]) -> list[tuple[Tree[Token], str]]:
        """Return what is written ``?`` and the unit behind it; that of a size by itself is empty.

        What is no unit is left to be refused as an amount.
        """
        nodes = [n for n in tree.children if isinstance(n, Tree) and n.data in _SIZED]
        found = []
        for node in nodes:
            amount = node if node.data == "amount" else amounts_of(node)[0]
            number, *words = map(str, amount.children)
            unit = self._unit_of(" ".join(("1", *words))) if words else ""
            if number == "?" and (unit or not words):
                found.append((node, "" if node.data == "matched" else unit))
        return found

    def _open(
        self, tree: Tree[Token], asked: Sequence[tuple[Tree[Token], str]], *, primary: bool
    ) -> model.WindingLine | model.CoilLine:
        """Return a winding with something written ``?``: its size, or what is beside its size."""
        nodes = [node for node, _ in asked]
        rest = Tree(tree.data, [n for n in tree.children if not any(n is a for a in nodes)])
        measure, units = self._measure(rest), {self._unit(n) for n in amounts_of(rest)}
        if measure is None and "volt" not in units:
            return self._unsized(tree, rest, asked, primary=primary)
        own = {"", "volt" if measure is None else _MEASURES[measure]}
        for node, _ in (pair for pair in asked if pair[1] in own):
            self.refuse(node, "one size to a winding, or ? alone")
            raise Refused
        return self._wound(rest, primary=primary)

    def _unsized(
        self, tree: Tree[Token], rest: Tree[Token], asked: Sequence[tuple[Tree[Token], str]],
        *, primary: bool,
    ) -> model.WindingLine | model.CoilLine:  # fmt: skip
        """Return a winding of unknown size: in volts where it says so, or as its others are."""
        sizes = {id(node): unit for node, unit in asked if unit in _SIZES}
        if not sizes:
            return self._wound(rest, primary=primary)
        tapped = self._tap_order(tree.children[1:], [n for n, _ in asked if id(n) in sizes])
        slots = {"ampere": ["current"], "ohm": ["resistance"]}
        got = self.roles(amounts_of(rest), slots, tree)
        current, ohms = quantity_of(got, "current"), quantity_of(got, "resistance")
        dot, withstands = self._dots(tree, ("1", "2"))[0], self._insulation(tree)
        name, span = str(tree.children[0]), self.line.whole()
        if set(sizes.values()) == {"volt"}:
            return model.WindingLine(
                name, primary, (), tapped, current, ohms, span, dot, withstands
            )
        return model.CoilLine(
            name, primary, model.Measure.UNKNOWN, (), (), tapped, None, current, ohms, dot,
            withstands, span,
        )  # fmt: skip

    def _measure(self, tree: Tree[Token]) -> model.Measure | None:
        """Return by what a winding for signals is given; ``None`` for one in volts."""
        units = {self._unit(node) for node in amounts_of(tree)}
        if "volt" in units:
            return None
        if "turn" in units:
            return model.Measure.TURNS
        if subs_of(tree, "matched"):
            return model.Measure.IMPEDANCE
        return model.Measure.HENRIES if "henry" in units else None

    def _coil_line(
        self, tree: Tree[Token], measure: model.Measure, *, primary: bool
    ) -> model.CoilLine:
        unit = _MEASURES[measure]
        nodes = [as_tree(n) for n in tree.children[1:] if isinstance(n, Tree) and n.data in _SIZED]
        matched = measure is model.Measure.IMPEDANCE
        sized = [n for n in nodes
                 if (n.data == "matched" if matched else self._unit(n) == unit)]  # fmt: skip
        tapped = self._tap_order(tree.children[1:], sized)
        parted = [self.untapped(amounts_of(n)[0] if matched else n, unit, unit) for n in sized]
        for node, (_, below) in zip(sized, parted, strict=True):
            self._no_ends(node, below)
        if measure is model.Measure.HENRIES and any(below for _, below in parted):
            self.refuse(sized[0], "taps counted in turns", "30/120 turns 110 uH")
        sizes = [self.amount(node, unit, unit, positive=True).quantity for node, _ in parted]
        if len(sizes) == 1 and tapped and parted[0][1]:
            self.refuse(tree, "the halves of a winding with taps written apart", _HALVES)
        if len(sizes) > 1 and measure is not model.Measure.TURNS:
            self.refuse(sized[1], "one value for the whole, or halves in turns", _WHOLE)
        slots = {"henry": ["henries"], "ampere": ["current"], "ohm": ["resistance"]}
        rest = [n for n in nodes if n not in sized]
        for extra in (n for n in rest if n.data == "matched"):
            self.refuse(extra, "a winding by its turns or by its impedance, not by both")
        got = self.roles([n for n in rest if n.data == "amount"], slots, tree)
        henries = quantity_of(got, "henries")
        if measure is model.Measure.HENRIES:
            henries = sizes[0]
        return model.CoilLine(
            str(tree.children[0]), primary, measure, tuple(sizes[:2]),
            tuple(tuple(tap.quantity for tap in below) for _, below in parted[:2]), tapped,
            henries, quantity_of(got, "current"), quantity_of(got, "resistance"),
            self._dots(tree, ("1", "2"))[0], self._insulation(tree), self.line.whole(),
        )  # fmt: skip

    def _winding_line(self, tree: Tree[Token], *, primary: bool) -> model.WindingLine:
        name, *rest = tree.children
        tapped = self._tap_order(rest, [n for n in amounts_of(tree) if self._is_volt(n)])
        slots = {"volt": ["first", "second"], "ampere": ["current"], "ohm": ["resistance"]}
        volts = [self._is_volt(node) for node in amounts_of(tree)]
        parted = [self.untapped(node, "volt") for node in amounts_of(tree)]
        for node, (_, below) in zip(amounts_of(tree), parted, strict=True):
            self._no_ends(node, below)
        taps = [below for (_, below), volt in zip(parted, volts, strict=True) if volt]
        got = self.roles([node for node, _ in parted], slots, tree)
        voltages = [self.needed(got, "first", "volt", tree)]
        if "second" in got:
            voltages.append(got["second"].quantity)
        elif tapped and taps[0]:
            self.refuse(tree, "the halves of a winding with taps written apart", _HALVES)
        return model.WindingLine(
            str(name), primary, tuple(voltages), tapped,
            quantity_of(got, "current"), quantity_of(got, "resistance"), self.line.whole(),
            self._dots(tree, ("1", "2"))[0], self._insulation(tree),
            tuple(tuple(tap.quantity for tap in below) for below in taps[: len(voltages)]),
        )  # fmt: skip

    def _no_ends(self, node: Tree[Token], taps: Iterable[Amount]) -> None:
        """Refuse taps whose leads would be called as the ends are."""
        for tap in taps:
            if tap.number in _ENDS:
                end = f"{tap.number:g}"
                hint = ("Count the turns ten times as large: 20/50 turns for 2/5 turns"
                        if tap.unit == "turn" else "Draw two windings in series")  # fmt: skip
                self.refuse(node, f"a tap not at {end}, as the winding's own end is", hint)

    def _dots(self, tree: Tree[Token], *coils: tuple[str, str]) -> tuple[str, ...]:
        """Return the end with the dot of each coil, given by its two ends; usually the first."""
        leads = [first_of(polarity, "LEAD") for polarity in subs_of(tree, "polarity")]
        ends = [end for coil in coils for end in coil]
        for lead in leads:
            if str(lead) not in ends:
                self.refuse(lead, f"an end of a winding: {', '.join(ends[:-1])} or {ends[-1]}")
        said = [[lead for lead in leads if str(lead) in coil] for coil in coils]
        for found in said:
            if len(found) > 1:
                self.refuse(found[1], "one dot to a winding")
        return tuple(str(f[0]) if f else coil[0] for f, coil in zip(said, coils, strict=True))

    def _insulation(self, tree: Tree[Token]) -> Quantity | None:
        found = subs_of(tree, "withstand")
        if len(found) > 1:
            self.refuse(found[1], "one insulation to a winding")
        if not found:
            return None
        return self.amount(amounts_of(found[0])[0], "volt", None, positive=True).quantity

    def _tap_order(self, rest: Sequence[Token | Tree[Token]], sizes: Sequence[Tree[Token]]) -> bool:
        """Check ``V [ct [V]]``: a ct follows the first voltage (or turns) and parts the two."""
        taps = [i for i, node in enumerate(rest) if isinstance(node, Token)]
        volts = [i for i, n in enumerate(rest) if any(n is size for size in sizes)]
        if len(taps) > 1:
            self.refuse(as_token(rest[taps[1]]), "one ct (centre tap) to a winding")
        if taps and (not volts or taps[0] < volts[0]):
            self.refuse(as_token(rest[taps[0]]), "the winding's voltage before ct", "6.3 V ct")
        if len(volts) > 1 and not (taps and volts[0] < taps[0] < volts[1]):
            hint = "a centre-tapped winding is written 250 V ct 250 V"
            self.refuse(as_tree(rest[volts[1]]), "ct between the two halves", hint)
        return bool(taps)

    def _is_volt(self, tree: Tree[Token]) -> bool:
        return self._unit(tree) == "volt"

    def _unit(self, tree: Tree[Token]) -> str:
        """Return the unit an amount is written in, empty where it cannot be read."""
        return self._unit_of(" ".join(map(str, tree.children)).rpartition("/")[2])

    def _unit_of(self, text: str) -> str:
        try:
            return parse_amount(text, None).unit
        except BadValue:
            return ""

    # -- declared parts --------------------------------------------------------------------

    def _tube(self, tree: Tree[Token]) -> model.TubeLine:
        kind = first_of(tree, "TYPE")
        heater = sub_of(tree, "heater")
        point, mode = None, None
        if heater is not None:
            point = self._wires.point(first_of(heater, "POINT"))
            modes = [str(t) for t in tokens_of(heater) if t.type in ("SERIES", "PARALLEL")]
            mode = modes[0] if modes else None
        name = first_of(tree, "NAME")
        if known := unsaid_device(str(name), str(kind)):
            self.problems.append(self.line.problem(
                "drawing.not-supported", name.start_pos or 0, kind.end_pos or 0,
                f'"{name} {kind}", {known.called}', "a tube", known.instead,
            ))  # fmt: skip
        return model.TubeLine(str(name), str(kind), self.span(kind), point, mode, self.line.whole())

    def _output(self, tree: Tree[Token]) -> model.OutputLine:
        first, *others = amounts_of(tree)
        for asked in (n for n in (first, others[0]) if str(n.children[0]) == "?"):
            self.refuse(asked, "its impedances", _UNSIZED_OUTPUT)
            raise Refused
        primary = self.amount(first, "ohm", "ohm", positive=True).quantity
        others[0], steps = self.untapped(others[0], "ohm", "ohm")
        slots = {
            "ohm": ["secondary", "resistance"], "henry": ["inductance"], "ampere": ["current"],
        }  # fmt: skip
        got = self.roles(others, slots, tree, first_default="ohm")
        tapped = any(t.type == "CT" for t in tokens_of(tree))
        tap = self.sub_share(tree, "tap", None, below=1.0)
        if tap is not None and not tapped:
            hint = "ultra-linear taps are counted from the centre tap: 6k6 ct taps 40 %"
            self.refuse(as_tree(sub_of(tree, "tap")), "ct before taps", hint)
        return model.OutputLine(
            str(first_of(tree, "NAME")), primary, self.needed(got, "secondary", "ohm", tree),
            quantity_of(got, "resistance"), quantity_of(got, "inductance"), tapped, tap,
            self.line.whole(),
            self._dots(tree, ("p1", "p2"), ("s1", "s2")),
            quantity_of(got, "current"), self._either(tree, "GAPPED", "UNGAPPED"),
            tuple(step.quantity for step in steps),
        )  # fmt: skip

    def _reverb(self, tree: Tree[Token]) -> model.ReverbLine:
        """Read the coils of a spring tank, parted by a colon."""
        amounts = amounts_of(tree)
        colon = self.line.text.index(":")
        drive, recovery = (
            [n for n in amounts if (ends_of(n)[0] < colon) is first] for first in (True, False)
        )
        coils = (
            self._spring_coil("drive", drive, tree),
            self._spring_coil("recovery", recovery, tree),
        )
        return model.ReverbLine(str(first_of(tree, "NAME")), coils, self.line.whole())

    def _spring_coil(
        self, name: str, amounts: list[Tree[Token]], tree: Tree[Token]
    ) -> model.CoilLine:
        unknown = str(amounts[0].children[0]) == "?" and len(amounts[0].children) == 1
        slots = {"ohm": ["resistance"] if unknown else ["impedance", "resistance"]}
        got = self.roles(amounts[1:] if unknown else amounts, slots, tree, first_default="ohm")
        if not unknown:
            self.needed(got, "impedance", "ohm", tree)
        sizes = (got["impedance"].quantity,) if "impedance" in got else ()
        measure = model.Measure.IMPEDANCE if sizes else model.Measure.UNKNOWN
        return model.CoilLine(
            name, name == "drive", measure, sizes, ((),) if sizes else (), False, None, None,
            quantity_of(got, "resistance"), "1", None, self.line.whole(),
        )  # fmt: skip

    def _either(self, tree: Tree[Token], yes: str, no: str) -> bool | None:
        """Return which of two words a line has; both, or one twice, is a problem."""
        said = [t for t in tokens_of(tree) if t.type in (yes, no)]
        if len(said) > 1:
            self.refuse(said[1], f"{yes.lower()} or {no.lower()}, once")
        return said[0].type == yes if said else None

    def _pot(self, tree: Tree[Token]) -> model.PotLine:
        unknown = [t for t in amounts_of(tree) if str(t.children[0]) == "?"]
        known = [t for t in amounts_of(tree) if t not in unknown]
        slots = {"ohm": ["value"], "watt": ["power"]}
        got = self.roles(known, slots, tree, first_default="ohm")
        value = None if unknown else self.needed(got, "value", "ohm", tree)
        setting = self.sub_share(tree, "setting", 0.5, low=0.0, below=1.0)
        for other in subs_of(tree, "setting")[1:]:
            self.refuse(other, "one setting to a pot")
        name, ganged = str(first_of(tree, "NAME")), self._gang(tree)
        return model.PotLine(
            name, value, setting, quantity_of(got, "power"), self.line.whole(),
            self._taper(tree), self._pot_taps(tree, got.get("value")), ganged,
        )  # fmt: skip

    def _taper(self, tree: Tree[Token]) -> model.Taper:
        said = [t for t in tokens_of(tree) if t.type == "TAPER"]
        if len(said) > 1:
            self.refuse(said[1], "one taper to a pot")
        return _TAPERS[str(said[0])] if said else model.Taper.LINEAR

    def _pot_taps(self, tree: Tree[Token], value: Amount | None) -> tuple[float, ...]:
        """Shares of the track from the bottom; a tap may be written in ohms as well."""
        shares = []
        for said in subs_of(tree, "tapping"):
            amount = self.amount(amounts_of(said)[0], None, "ohm")
            share = amount.number / 100 if amount.unit == "percent" else None
            if amount.unit == "ohm" and value is not None:
                share = amount.number / value.number
            if share is None or not 0 < share < 1:
                self.refuse(said, "a tap between the ends: tap 30 %, or tap 300k of 1M")
            shares.append(share or 0.0)
        if len(shares) > MOST_TAPS:
            self.refuse(subs_of(tree, "tapping")[MOST_TAPS], f"at most {MOST_TAPS} taps on a pot")
        return tuple(sorted(shares))

    def _gang(self, tree: Tree[Token]) -> str | None:
        said, setting = subs_of(tree, "shaft"), sub_of(tree, "setting")
        if len(said) > 1:
            self.refuse(said[1], "one pot that it is ganged with")
        if said and setting is not None:
            self.refuse(
                setting, "no setting: it stands where the pot stands that it is ganged with"
            )
        return str(first_of(said[0], "NAME")) if said else None

    def _switch(self, tree: Tree[Token]) -> model.SwitchLine:
        layout = first_of(tree, "LAYOUT")
        if not _LAYOUT.fullmatch(str(layout)):
            self.refuse(layout, "poles and throws: spst, spdt, dpst, dpdt, sp3t, 2p5t, ...")
            raise Refused
        made = model.SwitchLine(
            str(first_of(tree, "NAME")), str(layout), 1, self.line.whole(), *self._contacts(tree)
        )
        if max(len(made.poles), made.throws) > MOST_THROWS:
            self.refuse(layout, f"at most {MOST_THROWS} poles and {MOST_THROWS} throws")
        position = sub_of(tree, "position")
        return made if position is None else replace(made, at=self._turned(made, position))

    def _turned(self, line: model.SwitchLine, position: Tree[Token]) -> int:
        """Return the position written: of a single throw 2 is open."""
        at, most = first_of(position, "NUMBER"), max(line.throws, 2)
        if str(at) not in map(str, range(1, most + 1)):
            self.refuse(at, "position 1 or 2" if most == 2 else f"a position from 1 to {most}")
            raise Refused
        return int(at)

    def _relay(self, tree: Tree[Token]) -> model.RelayLine:
        layout = first_of(tree, "LAYOUT")
        if not _RELAYS.fullmatch(str(layout)):
            self.refuse(layout, "poles and throws: spst, spdt, dpdt, 3pdt, 4pdt, ...")
            raise Refused
        slots = {"volt": ["coil"], "ohm": ["ohms"], "ampere": ["amps"]}
        got = self.roles(amounts_of(tree), slots, tree)
        coil = self.needed(got, "coil", "volt", tree)
        ohms = quantity_of(got, "ohms")
        if "amps" in got:
            if ohms is not None:
                self.refuse(tree, "the coil's ohms or its amperes, not both")
            ohms = coil / got["amps"].quantity
        rated = self._once(tree, "breaking", "one rating of its contacts")
        return model.RelayLine(
            str(first_of(tree, "NAME")), str(layout), coil, got["coil"].ac, ohms,
            self.line.whole(), self._delay(tree),
            any(t.type == "RELEASED" for t in tokens_of(tree)),
            *((None, False, None) if rated is None else self._contacts(rated)),
        )  # fmt: skip

    def _regulator(self, tree: Tree[Token]) -> model.TransistorLine:
        return replace(self._transistor(tree), regulates=True)

    def _transistor(self, tree: Tree[Token]) -> model.TransistorLine:
        kind, sink = first_of(tree, "TYPE"), sub_of(tree, "sink")
        kelvins = None
        if sink is not None:
            kelvins = self.amount(amounts_of(sink)[0], "kelvin_per_watt", None, positive=True)
        return model.TransistorLine(
            str(first_of(tree, "NAME")), str(kind), self.span(kind),
            None if kelvins is None else kelvins.quantity, self.line.whole(),
        )  # fmt: skip

    def _bridge(self, tree: Tree[Token]) -> model.BridgeLine:
        name = first_of(tree, "NAME")
        fields = [as_token(field.children[0]) for field in subs_of(tree, "field")]
        part = self._parts.block(name, fields)
        if part is None:
            raise Refused
        return model.BridgeLine(str(name), part, self.line.whole())

    def _optocoupler(self, tree: Tree[Token]) -> model.CompoundLine:
        """A lamp or LED and the photocell that it shines on."""
        name = first_of(tree, "NAME")
        lamp = [as_token(field.children[0]) for field in subs_of(tree, "field")]
        cell = [as_token(field.children[0]) for field in subs_of(subs_of(tree, "cell")[0], "field")]
        return couplers.optocoupler(name, lamp, cell, self._parts, self.line)

    def _thyristor(self, tree: Tree[Token]) -> model.CompoundLine:
        return self._gated(tree, model.Compound.THYRISTOR)

    def _triac(self, tree: Tree[Token]) -> model.CompoundLine:
        return self._gated(tree, model.Compound.TRIAC)

    def _gated(self, tree: Tree[Token], sort: model.Compound) -> model.CompoundLine:
        name, fires = first_of(tree, "NAME"), None
        fields = [as_token(field.children[0]) for field in subs_of(tree, "field")]
        gating = sub_of(tree, "gating")
        if gating is not None:
            amount = self.amount(amounts_of(gating)[0], "ampere", None, positive=True)
            fires = amount.quantity
        return couplers.thyristor(name, sort, fields, fires, self._parts, self.line)

    def _vibrator(self, tree: Tree[Token]) -> model.CompoundLine:
        slots = {"volt": ["volts"], "hertz": ["hertz"]}
        got = self.roles(amounts_of(tree), slots, tree)
        volts = self.needed(got, "volts", "volt", tree)
        return couplers.vibrator(
            first_of(tree, "NAME"), volts, quantity_of(got, "hertz"),
            synchronous=any(t.type == "SYNCHRONOUS" for t in tokens_of(tree)),
            span=self.line.whole(),
        )  # fmt: skip

    def _ballast(self, tree: Tree[Token]) -> model.CompoundLine:
        sections = [
            [as_token(field.children[0]) for field in subs_of(section, "field")]
            for section in subs_of(tree, "section")
        ]
        if len(sections) > MOST_SECTIONS:
            self.refuse(
                subs_of(tree, "section")[MOST_SECTIONS], f"at most {MOST_SECTIONS} sections"
            )
            raise Refused
        return couplers.ballast(first_of(tree, "NAME"), sections, self._parts, self.line)

    def _plug(self, tree: Tree[Token]) -> model.CompoundLine:
        return couplers.mains_plug(first_of(tree, "NAME"), self.line.whole())

    def _connector(self, tree: Tree[Token]) -> model.CompoundLine:
        ways = self.amount(amounts_of(tree)[0], "", None, positive=True)
        if ways.unit or not 1 <= ways.number <= MOST_WAYS or ways.number != int(ways.number):
            self.refuse(amounts_of(tree)[0], f"the number of its ways, 1 to {MOST_WAYS}")
        plugged = self._either(tree, "PLUGGED", "UNPLUGGED")
        name, span = first_of(tree, "NAME"), self.line.whole()
        return couplers.connector(name, int(ways.number), span, plugged=plugged is not False)

    def _once(self, tree: Tree[Token], name: str, expected: str) -> Tree[Token] | None:
        """Return what stands behind a keyword; twice is a problem."""
        found = subs_of(tree, name)
        if len(found) > 1:
            self.refuse(found[1], expected)
        return found[0] if found else None

    def _delay(self, tree: Tree[Token]) -> Quantity | None:
        late = self._once(tree, "late", "one delay")
        if late is None:
            return None
        return self.amount(amounts_of(late)[0], "second", None, positive=True).quantity

    def _jack(self, tree: Tree[Token]) -> model.JackLine:
        plugged = self._either(tree, "PLUGGED", "UNPLUGGED")
        name = str(first_of(tree, "NAME"))
        return model.JackLine(name, self.line.whole(), *self._contacts(tree), plugged)

    def _contacts(self, tree: Tree[Token]) -> tuple[Quantity | None, bool, Quantity | None]:
        """Return the rating of contacts: voltage, whether it is AC only, current."""
        slots = {"volt": ["voltage"], "ampere": ["current"]}
        got = self.roles(amounts_of(tree), slots, tree)
        ac = "voltage" in got and got["voltage"].ac
        return quantity_of(got, "voltage"), ac, quantity_of(got, "current")

    def _signal(self, tree: Tree[Token]) -> model.SignalLine:
        point = self._wires.point(first_of(tree, "POINT"))
        slots = {"volt": ["voltage"], "hertz": ["frequency"]}
        got = self.roles(amounts_of(tree), slots, tree)
        voltage = self.needed(got, "voltage", "volt", tree)
        return model.SignalLine(
            point.text, voltage, quantity_of(got, "frequency"), self.line.whole()
        )

    # -- data and intent -------------------------------------------------------------------

    def _type(self, tree: Tree[Token]) -> model.TypeLine:
        name, like = tokens_of(tree)[:2]
        parts = {"heating": "one heater", "basing": "one base", "pinning": "the pins once"}
        said = {part: subs_of(tree, part) for part in parts}
        for part, found in said.items():
            if len(found) > 1:
                self.refuse(found[1], parts[part])
        base, pins = (
            str(first_of(found[0], "STRING"))[1:-1] if found else None
            for found in (said["basing"], said["pinning"])
        )
        heater = self._heating(said["heating"][0], tree) if said["heating"] else None
        return model.TypeLine(str(name), str(like), self.line.whole(), heater, base, pins)

    def _heating(self, said: Tree[Token], line: Tree[Token]) -> tuple[Quantity, Quantity]:
        got = self.roles(amounts_of(said), {"volt": ["volts"], "ampere": ["amps"]}, line)
        return self.needed(got, "volts", "volt", line), self.needed(got, "amps", "ampere", line)

    def _rating(self, tree: Tree[Token]) -> model.RatingLine:
        value = self.amount(amounts_of(tree)[0], "", None)
        return model.RatingLine(str(first_of(tree, "WORD")), value.quantity, self.line.whole())

    def _expect(self, tree: Tree[Token]) -> model.Expect:
        measure, bounds, *state = map(as_tree, tree.children)
        kind = str(measure.data)
        points = [
            self._wires.point(t, inside=True) for t in tokens_of(measure) if t.type == "POINT"
        ]
        # "gain IN to LS1" names the source first, "B1 - B2" the point that is measured.
        point, *other = reversed(points) if kind == "gain" else points
        low, high = self._bounds(bounds, kind)
        return model.Expect(
            point, low, high, self._state(state[0]) if state else None,
            " ".join(self.line.text.split()), self.line.whole(), kind, other[0] if other else None,
        )  # fmt: skip

    def _bounds(self, tree: Tree[Token], kind: str) -> tuple[Quantity | None, Quantity | None]:
        """Return the least and the most; only a voltage may be zero or less."""
        amounts = [self._figure(t, kind) for t in amounts_of(tree)]
        if tree.data == "below":
            return None, amounts[0].quantity
        if tree.data == "above":
            return amounts[0].quantity, None
        if tree.data == "between":
            low, high = sorted(amounts, key=lambda a: a.number)
            return low.quantity, high.quantity
        return self._around(tree, amounts[0])

    def _figure(self, tree: Tree[Token], kind: str) -> Amount:
        unit = EXPECTED_IN[kind]
        amount = self.amount(tree, unit, unit, positive=kind != "voltage")
        if amount.unit != unit:  # only a gain comes here: it has none
            self.wrong_unit(tree, "a plain number such as 50")
        return amount

    def _around(self, tree: Tree[Token], value: Amount) -> tuple[Quantity, Quantity]:
        within = sub_of(tree, "within")
        margin = Amount(10.0, "percent")
        if within is not None:
            default = None if value.unit else ""
            margin = self.amount(amounts_of(within)[0], default, default, positive=True)
        width = abs(value.number) * margin.number / 100
        if margin.unit == value.unit:
            width = margin.number
        elif margin.unit != "percent":
            self.wrong_unit(within or tree, _MARGINS[value.unit])
        elif width == 0:
            hint = "a share of 0 V is nothing: within 1 V"
            self.refuse(within or tree, "a margin in volts", hint)
        low, high = value.number - width, value.number + width
        return Amount(low, value.unit).quantity, Amount(high, value.unit).quantity

    def _state(self, tree: Tree[Token]) -> str:
        return " ".join(str(t).strip('"') for t in tokens_of(tree))

    def _accept(self, tree: Tree[Token]) -> model.Accept:
        reason = first_of(tree, "STRING")
        if not str(reason).strip('" \t'):
            self.refuse(reason, "the reason, in double quotes")
        until = sub_of(tree, "until")
        place = self._wires.point(first_of(tree, "POINT"), inside=True)
        return model.Accept(
            str(first_of(tree, "RULE")), place.text, str(reason)[1:-1],
            self._date(first_of(until, "DATE")) if until is not None else None, self.line.whole(),
        )  # fmt: skip

    def _date(self, token: Token) -> date:
        try:
            if re.fullmatch(r"\d{4}-\d\d-\d\d", str(token)):
                return date.fromisoformat(str(token))
        except ValueError:
            pass
        self.refuse(token, "a date that exists, as year-month-day: 2027-06-30")
        raise Refused

    def _sheet(self, tree: Tree[Token]) -> model.SheetLine:
        file, joints = first_of(tree, "STRING"), sub_of(tree, "joints")
        if not str(file).strip('" \t'):
            self.refuse(file, "the sheet's file, in double quotes")
        pairs = [self._joint(j) for j in (subs_of(joints, "joint") if joints is not None else ())]
        return model.SheetLine(
            str(file)[1:-1], self.span(file), str(first_of(tree, "NAME")), tuple(pairs),
            self.line.whole(),
        )  # fmt: skip

    def _joint(self, tree: Tree[Token]) -> tuple[model.Point, model.Point]:
        points = [self._wires.point(token) for token in tokens_of(tree) if token.type == "POINT"]
        return points[0], points[-1]
