"""What a net is in the picture: a mark, a rail above or below, a heater line, or a wire.

Rails are found by following the current from where it is rectified (or from a source) through
what stands in line, to every net that a capacitor holds and no control electrode uses.
"""

from __future__ import annotations

from enum import Enum
from typing import TYPE_CHECKING, assert_never

from coldcheck.circuit.model import GROUND
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.picture.devices import MARKS, Symbol
from coldcheck.picture.tube_geometry import PLATES
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.picture.devices import Inventory

_RESERVOIR = 0.9e-6
"""Farads from which a capacitor is one that holds a rail."""


_STOPPER = 1000.0
"""Ohms up to which a resistor at a plate is no load."""


class _Leads(Enum):
    """How a rail leads on through a part."""

    NO = "no"
    PART = "part"
    """With a drop: what is behind is another rail."""
    CONTACT = "contact"


def _leads(kind: PartKind) -> _Leads:
    match kind:
        case (
            PartKind.RESISTOR
            | PartKind.INDUCTOR
            | PartKind.THERMISTOR
            | PartKind.BARRETTER
            | PartKind.PHOTOCELL
            | PartKind.LAMP
        ):
            return _Leads.PART
        case PartKind.METER:
            return _Leads.PART
        case PartKind.FUSE | PartKind.SWITCH | PartKind.CONTACT:
            return _Leads.CONTACT
        case (
            PartKind.CAPACITOR | PartKind.DIODE | PartKind.LED | PartKind.ZENER | PartKind.SPEAKER
            | PartKind.JACK | PartKind.JACK_CONTACT
            | PartKind.PLUG | PartKind.SOURCE | PartKind.HEATER
            | PartKind.WINDING | PartKind.POT | PartKind.SIGNAL | PartKind.RELAY
            | PartKind.ARRESTER | PartKind.THYRISTOR | PartKind.TRIGGER
            | PartKind.VIBRATOR | PartKind.CRYSTAL
            | PartKind.CHANNEL | PartKind.GATE | PartKind.BASE
        ):  # fmt: skip
            return _Leads.NO
        case _:
            assert_never(kind)


@dataclass(frozen=True, slots=True)
class Roles:
    """Nets by what they are; ``order`` has the rails in the order the current reaches them."""

    marks: frozenset[str]
    positive: tuple[str, ...]
    negative: tuple[str, ...]

    @property
    def rails(self) -> frozenset[str]:
        """All rails."""
        return frozenset((*self.positive, *self.negative))

    @property
    def ends(self) -> frozenset[str]:
        """Nets that are drawn as a mark or a flag wherever they are used."""
        return self.marks | self.rails


def roles_of(circuit: Circuit, stock: Inventory) -> Roles:
    """The roles of a circuit's nets."""
    marks = frozenset(net for net in stock.uses if net in MARKS)
    follow = _Follow(circuit, stock, marks)
    raw = follow.from_seeds(_positive_seeds(circuit, marks))
    positive = follow.onward((*raw, *_passed_on(circuit, marks, raw)))
    negative = follow.from_seeds(_negative_seeds(circuit, marks))
    negative = tuple(n for n in negative if n not in positive)
    return Roles(marks, positive, (*negative, *_wipers(stock, marks | set(negative), negative)))


def _wipers(
    stock: Inventory, ends: frozenset[str] | set[str], negative: tuple[str, ...]
) -> Iterator[str]:
    """Wipers of pots that set a bias: both ends of the track lead to a negative rail or gnd."""
    for device in stock.devices.values():
        if device.symbol is Symbol.POT:
            top, wiper, bottom = (lead.net for lead in device.leads[:3])
            reached = _reached(stock, top, device.name) | _reached(stock, bottom, device.name)
            if wiper not in ends and reached <= set(ends) and reached & set(negative):
                yield wiper


def _reached(stock: Inventory, net: str, pot: str) -> set[str]:
    """A net that ends a track, or where its resistors lead."""
    others = [d for d in stock.at(net) if d.name != pot]
    if not others or any(d.symbol is not Symbol.RESISTOR for d in others):
        return {net}
    return {n for d in others for n in d.nets if n != net}


def _positive_seeds(circuit: Circuit, marks: frozenset[str]) -> Iterator[str]:
    for branch in circuit.branches.values():
        if branch.kind is PartKind.DIODE and branch.b not in marks:
            yield branch.b
        elif branch.kind is PartKind.SOURCE and branch.b in marks:
            yield branch.a
    for section in circuit.sections():
        gives = not section.kind.amplifies and section.kind is not SectionKind.REGULATOR
        if gives and section.plates:
            yield from section.cathode_nets


def _passed_on(circuit: Circuit, marks: frozenset[str], rails: tuple[str, ...]) -> Iterator[str]:
    """Cathodes that a tube of a regulator feeds: its plate at a rail, a capacitor to a mark."""
    tubes = [(s.electrodes.get("plate"), s.electrodes.get("cathode")) for s in circuit.sections()]
    passing = ((q.channel.a, q.channel.b) for q in circuit.transistors.values())
    for plate, cathode in (*tubes, *passing):
        if plate is None or cathode is None or {plate, cathode} & marks or cathode in rails:
            continue
        at_rail = plate in rails or any(_stopper(b, plate, rails) for b in circuit.at(plate))
        if at_rail and any(_holds(b, cathode, marks) for b in circuit.at(cathode)):
            yield cathode


def _stopper(branch: Branch, plate: str, rails: tuple[str, ...]) -> bool:
    """Whether a plate is at a rail but for a fuse or a few ohms."""
    if branch.other(plate) not in rails or _leads(branch.kind) is _Leads.NO:
        return False
    if branch.kind is not PartKind.RESISTOR:
        return True
    return branch.value is not None and float(branch.value.m_as("ohm")) <= _STOPPER


def _holds(branch: Branch, net: str, marks: frozenset[str]) -> bool:
    """Whether a capacitor holds a net; at a tube whose plate is on a rail it bypasses nothing."""
    return branch.kind is PartKind.CAPACITOR and branch.other(net) in marks


def _negative_seeds(circuit: Circuit, marks: frozenset[str]) -> Iterator[str]:
    for branch in circuit.branches.values():
        if branch.kind is PartKind.DIODE and branch.a not in marks:
            yield branch.a
        elif branch.kind is PartKind.SOURCE and branch.a in marks:
            yield branch.b
    for section in circuit.sections():
        if section.kind is SectionKind.RECTIFIER:
            yield from (section.electrodes[e] for e in section.plates)


@dataclass(frozen=True, slots=True)
class _Follow:
    circuit: Circuit
    stock: Inventory
    marks: frozenset[str]

    def from_seeds(self, seeds: Iterable[str]) -> tuple[str, ...]:
        """The seeds that can be rails, and what lies in line behind them."""
        fit = (s for s in dict.fromkeys(seeds) if self._may_be(s) and self._held(s))
        return self.onward(tuple(s for s in fit if not self._alternates(s)))

    def onward(self, rails: tuple[str, ...]) -> tuple[str, ...]:
        """Rails, and what lies in line behind them."""
        found = list(rails)
        for net in found:
            for branch in self.circuit.at(net):
                far = branch.other(net)
                if far not in found and self._passes(branch, far):
                    found.append(far)
        return tuple(found)

    def _alternates(self, net: str) -> bool:
        """Whether a net that nothing smooths comes from a winding by a fuse or a resistor."""
        if self._shunted(net):
            return False
        beyond = {
            b.other(net) for b in self.circuit.at(net) if _leads(b.kind) is not _Leads.NO
        } - self.marks
        return any(
            self.stock.devices[d].symbol is Symbol.WINDING
            for far in beyond
            for d, _ in self.stock.uses.get(far, ())
            if not self._filament(far)
        )

    def _passes(self, branch: Branch, far: str) -> bool:
        if not self._may_be(far):
            return False
        if _leads(branch.kind) is _Leads.CONTACT:
            return True
        return _leads(branch.kind) is _Leads.PART and self._held(far) and not self._local(far)

    def _may_be(self, net: str) -> bool:
        """No mark, no mains, no winding, no heater, no electrode that carries a signal."""
        if net in self.marks or net in ("line", "neutral"):
            return False
        held = self._shunted(net)
        for device, lead in self.stock.uses.get(net, ()):
            symbol = self.stock.devices[device].symbol
            if symbol is Symbol.TUBE and lead != "screen" and not (held and lead in PLATES):
                return False
            if symbol in (Symbol.TERMINAL, Symbol.SIGNAL, Symbol.JACK):
                return False
            if symbol in (Symbol.WINDING, Symbol.HEATER) and not self._filament(net):
                return False
        return True

    def _filament(self, net: str) -> bool:
        """A winding may be on a rail where it heats a rectifier whose cathode the rail is."""
        at = self.stock.uses.get(net, ())
        return self._shunted(net) and any(
            lead in ("f1", "f2", "cathode") and self.stock.devices[d].symbol is Symbol.RECTIFIER
            for d, lead in at
        )

    def _held(self, net: str) -> bool:
        """Whether a capacitor, a source or a regulator holds it, or a choke or fuse leads on."""
        return self._shunted(net) or any(
            b.kind is PartKind.SOURCE
            or b.kind is PartKind.INDUCTOR
            or _leads(b.kind) is _Leads.CONTACT
            for b in self.circuit.at(net)
        )

    def _shunted(self, net: str) -> bool:
        return (
            any(
                b.kind is PartKind.CAPACITOR and (b.plus or _farads(b) >= _RESERVOIR)
                for b in self.circuit.at(net)
            )
            or any(b.kind is PartKind.SOURCE for b in self.circuit.at(net))
            or self._regulated(net)
        )

    def _regulated(self, net: str) -> bool:
        return any(
            lead == "plate" and self.stock.devices[d].symbol is Symbol.REGULATOR
            for d, lead in self.stock.uses.get(net, ())
        )

    def _local(self, net: str) -> bool:
        """A screen's own dropping resistor and capacitor are no rail."""
        users = [self.stock.devices[d].symbol for d, _ in self.stock.uses.get(net, ())]
        screens = users.count(Symbol.TUBE)
        leads_on = sum(
            1 for b in self.circuit.at(net) if _leads(b.kind) is _Leads.PART and not _down(b, net)
        )
        return screens == 1 and leads_on < 2


def _down(branch: Branch, net: str) -> bool:
    return branch.other(net) == GROUND


def _farads(branch: Branch) -> float:
    return 0.0 if branch.value is None else float(branch.value.m_as("farad"))
