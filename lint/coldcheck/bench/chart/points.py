"""The points a chart lists: socket pins in order, supply rails, other named points, windings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import is_own
from coldcheck.circuit.leads import pin_key
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.sockets import pins_of_base
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import BRIDGE_LEADS, Compound, CompoundLine
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Branch, Circuit, Tube

RAIL_VOLTS = 20.0
"""A named point is taken for a supply rail from this much DC on, volts."""

IDLE = frozenset(("nc", "ic", "jumper"))


@dataclass(frozen=True, slots=True)
class Pin:
    """A pin of a socket, or a lead or named point elsewhere.

    ``net`` is ``None`` where nothing is on it. ``use`` says so: ``""`` for an electrode that is
    wired, ``unwired`` for one that nothing leads to, ``not connected`` and ``internal`` for pins
    without an electrode, ``not on file`` for a pin the tube data do not mention.
    """

    label: str
    point: str
    lead: str
    net: str | None
    use: str = ""


def socket_pins(circuit: Circuit, tube: Tube) -> Iterator[Pin]:
    """Every pin of a tube's socket in order, then its cap; of pins not on file, the electrodes."""
    if not tube.type.pins_known:
        for lead in tube.type.pins:
            key = pin_key(tube.name, tube.type, lead)
            net = circuit.points.get(key)
            wired = net is not None and _wired(circuit, net, key)
            label, name = (lead, "") if lead.isdigit() else ("?", lead)
            yield Pin(label, key, name, net, "" if wired else "unwired")
        return
    numbers = [str(n) for n in range(1, _pins_of(tube) + 1)]
    caps = [pin for pin in tube.type.pins if pin not in numbers]
    for number in (*numbers, *caps):
        yield _pin(circuit, tube, number)


def _pins_of(tube: Tube) -> int:
    known = [int(pin) for pin in tube.type.pins if pin.isdigit()]
    return max([pins_of_base(tube.type.base), *known])


def _pin(circuit: Circuit, tube: Tube, number: str) -> Pin:
    point = f"{tube.name}:{number}"
    held = tube.type.pins.get(number)
    if held is None:
        return Pin(number, point, "", circuit.points.get(point), "not on file")
    section, electrode = held
    key = pin_key(tube.name, tube.type, number)
    net = circuit.points.get(key)
    wired = net is not None and _wired(circuit, net, key)
    if electrode in IDLE:
        use = "internal" if electrode == "ic" else "not connected"
        return Pin(number, point, electrode, net if wired else None, "" if wired else use)
    lead = f"{section}.{electrode}".lstrip(".")
    return Pin(number, point, lead, net, "" if wired else "unwired")


def _wired(circuit: Circuit, net: str, key: str) -> bool:
    """Whether anything but the lead itself is on its net."""
    others = [name for name in circuit.names.get(net, ()) if name != key]
    return bool(others) or any(b.kind is not PartKind.HEATER for b in circuit.at(net))


def _invented(circuit: Circuit, net: str) -> str | None:
    """The first name on a net that the designer made up, if any."""
    if net in LANDMARKS or any(n in LANDMARKS for n in circuit.names[net]):
        return None
    return next((n for n in circuit.names[net] if is_own(n)), None)


def named_points(circuit: Circuit) -> dict[str, str]:
    """The designer's own points in the order of the drawing, each with its net."""
    found = {name: net for net in circuit.names if (name := _invented(circuit, net)) is not None}
    return dict(sorted(found.items(), key=lambda item: circuit.span(item[0])))


def winding_leads(circuit: Circuit) -> Iterator[tuple[str, list[Pin]]]:
    """Transformer by transformer, the leads of its windings."""
    for transformer in circuit.transformers.values():
        leads = [(f"{w.name}.{end}", net) for w in transformer.windings for end, net in w.leads]
        yield transformer.name, [_lead(transformer.name, full, net) for full, net in leads]
    for output in circuit.outputs.values():
        leads = [(f"{output.name}.{lead}", net) for lead, net in output.leads]
        yield output.name, [_lead(output.name, full, net) for full, net in leads]
    for coil_set in circuit.coil_sets.values():
        leads = [(f"{c.name}.{end}", net) for c in coil_set.coils for end, net in c.leads]
        yield coil_set.name, [_lead(coil_set.name, full, net) for full, net in leads]


def block_leads(circuit: Circuit) -> Iterator[tuple[str, str, list[Pin]]]:
    """Name, kind and leads of every transistor, tapped ballast and bridge block."""
    for one in circuit.transistors.values():
        leads = [_lead(one.name, f"{one.name}.{lead}", net) for lead, net in one.nets.items()]
        yield one.name, f"{one.type.name}, {one.type.case}", leads
    for line in circuit.drawing.statements:
        if isinstance(line, CompoundLine) and line.sort is Compound.BALLAST:
            ends = (f"{line.name}.{lead}" for lead in line.leads)
            yield line.name, "ballast", [_lead(line.name, e, circuit.points[e]) for e in ends]
    for block in circuit.bridges.values():
        ends = (f"{block.name}.{lead}" for lead in BRIDGE_LEADS)
        yield block.name, "bridge", [_lead(block.name, e, circuit.points[e]) for e in ends]


def _lead(owner: str, full: str, net: str) -> Pin:
    short = full.removeprefix(f"{owner}.")
    return Pin(short, full, short, net)


def shown_name(circuit: Circuit, net: str) -> str:
    """What a net is called to a person: the designer's name, a landmark, else its own."""
    if net == GROUND:
        return GROUND
    invented = _invented(circuit, net) if net in circuit.names else None
    return invented or net


def point_named(circuit: Circuit, wanted: str) -> str | None:
    """A point, lead or pin as the circuit spells it, whatever its case; ``None`` if unknown."""
    if wanted in circuit.points:
        return wanted
    folded = {name.casefold(): name for name in circuit.points}
    return _by_pin(circuit, wanted.casefold()) or folded.get(wanted.casefold())


def _by_pin(circuit: Circuit, wanted: str) -> str | None:
    """The lead on a socket pin, also one that the drawing does not write by number."""
    owner, _, pin = wanted.partition(":")
    tube = next((t for n, t in circuit.tubes.items() if n.casefold() == owner), None)
    if tube is None or not tube.type.pins_known or pin not in tube.type.pins:
        return None
    key = pin_key(tube.name, tube.type, pin)
    return key if key in circuit.points else None


@dataclass(frozen=True, slots=True)
class Ends:
    """The two ends of what ``name`` says, as nets."""

    name: str
    a: str
    b: str


def ends_of(circuit: Circuit, wanted: str) -> Ends | None:
    """The ends of a part (``R7``), a winding (``T1.ht``) or a heater (``V3.heater``).

    Of what consists of several pieces in a row, such as a tapped winding or a potentiometer, the
    two ends of all; ``None`` for what the circuit does not have, or what has not two ends.
    """
    folded = wanted.casefold().replace(" heater", ".heater")
    pieces = [b for b in circuit.branches.values() if _piece(b, folded)]
    nets = [net for b in pieces for net in (b.a, b.b)]
    ends = [n for n in dict.fromkeys(nets) if nets.count(n) == 1] or list(dict.fromkeys(nets))
    if len(ends) != len(("a", "b")):
        return None
    first = pieces[0]
    name = first.name if len(pieces) == 1 else _spelled(first, wanted)
    return Ends(name, *ends)


def _piece(branch: Branch, folded: str) -> bool:
    name = branch.name.casefold()
    return name == folded or name.startswith(f"{folded}.")


def _spelled(branch: Branch, wanted: str) -> str:
    """What is common to all pieces, as the circuit spells it."""
    return branch.name[: len(wanted)].replace(" ", ".")
