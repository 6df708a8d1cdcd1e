"""What must be read from the picture of a circuit, made from the circuit and nothing else."""

from __future__ import annotations

from collections import Counter, defaultdict

from coldcheck.circuit.leads import pin_key
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import BridgeLine, JackLine, OutputLine, PotLine, RelayLine, SwitchLine

MARKS = ("gnd", "chassis", "earth")
LETTERS = {
    "plate": "P", "plate1": "P1", "plate2": "P2", "cathode": "K", "grid": "G", "grid2": "G2",
    "grid3": "G3", "grid4": "G4", "screen": "SG", "suppressor": "SU", "diode1": "D1",
    "diode2": "D2", "target": "TA", "shield": "SH",
}  # fmt: skip
ORIENTED = (PartKind.DIODE, PartKind.LED, PartKind.ZENER, PartKind.SOURCE)


def expected_nets(circuit):
    """Net -> counter of (kind, part, lead) as :mod:`tests.picture.readback` counts them."""
    found = defaultdict(Counter)
    for kind, name, lead, net in _leads(circuit):
        found[net][kind, name, lead] += 1
    for net, names in circuit.names.items():
        signs = [name for name in names if name in MARKS or name in ("line", "neutral")]
        for name in signs:
            if name in ("line", "neutral"):
                found[net]["terminal", name, ""] += 1
            elif net in found or len(signs) > 1:
                found[net]["mark", name] = 1
    return {net: leads for net, leads in found.items() if leads}


def _leads(circuit):
    for branch in circuit.branches.values():
        if branch.kind in (PartKind.THYRISTOR, PartKind.TRIGGER, PartKind.VIBRATOR):
            continue
        if branch.part is not None and branch.kind is not PartKind.HEATER:
            yield from _two(branch)
        elif branch.kind is PartKind.PLUG:
            for net in (branch.a, branch.b):
                yield "switch", branch.name, "", net
        elif branch.kind is PartKind.SIGNAL:
            yield "signal", branch.name, "", branch.a
        elif branch.kind is PartKind.CONTACT and branch.owner in circuit.tubes:
            for net in (branch.a, branch.b):
                yield "link", branch.owner, "", net
    for line in circuit.drawing.statements:
        yield from _declared(circuit, line)
    for winding in circuit.windings():
        for lead, net in winding.leads:
            yield "winding", winding.name, lead + ("*" if lead == winding.dot else ""), net
    for coil in circuit.coils():
        for lead, net in coil.leads:
            yield "winding", coil.name, lead + ("*" if lead == coil.dot else ""), net
    for one in circuit.transistors.values():
        for lead, net in one.nets.items():
            box = {"in": "IN", "out": "OUT", "adj": "ADJ", "common": "GND"}
            regulates = one.type.family.regulates
            kind, mark = ("stabiliser", box[lead]) if regulates else ("transistor", lead[0].upper())
            yield kind, one.name, mark, net
    for one in circuit.thyristors.values():
        marks = ("MT2", "MT1") if "triac" in one.main.part.words else ("A", "K")
        ends = zip((*marks, "G"), (one.main.a, one.main.b, one.gate.a), strict=True)
        yield from (("stabiliser", one.name, mark, net) for mark, net in ends)
    for one in circuit.vibrators.values():
        ends = zip(("C1", "C2", "R"), (one.main.a, one.main.b, one.reed), strict=True)
        yield from (("stabiliser", one.name, mark, net) for mark, net in ends)
    for tube in circuit.tubes.values():
        yield from _tube(circuit, tube)


def _two(branch):
    if branch.kind in ORIENTED:
        ends = ("a", "b")
    elif branch.plus is not None:
        left = branch.part.plus == "left"
        ends = ("a", "b") if left else ("b", "a")
    else:
        ends = ("", "")
    for lead, net in zip(ends, (branch.a, branch.b), strict=True):
        yield branch.kind.value, branch.name, lead, net


def _declared(circuit, line):
    points = circuit.points
    if isinstance(line, PotLine) and f"{line.name}.wiper" in points:
        for end in line.leads:
            yield "pot", line.name, end, points[f"{line.name}.{end}"]
    elif isinstance(line, SwitchLine) and line.name in circuit.places:
        yield from _switch(points, line)
    elif isinstance(line, RelayLine) and line.name in circuit.places:
        for n in (1, 2):
            yield "relay", line.name, "", points[f"{line.name}.coil.{n}"]
        yield from _switch(points, line)
    elif isinstance(line, BridgeLine) and f"{line.name}.plus" in points:
        for end, sign in (("ac1", "~"), ("ac2", "~"), ("plus", "+"), ("minus", "\u2212")):
            yield "bridge", line.name, sign, points[f"{line.name}.{end}"]
    elif isinstance(line, JackLine) and f"{line.name}.tip" in points:
        for end in ("tip", "sleeve", "ring", "switch"):
            key = f"{line.name}.{end}"
            if end in ("tip", "sleeve") or _wired(circuit, key):
                yield "jack", line.name, end, points[key]
    elif isinstance(line, OutputLine) and line.name in circuit.outputs:
        for lead, net in circuit.outputs[line.name].leads:
            yield "transformer", line.name, lead + ("*" if lead in line.dots else ""), net


def _switch(points, line):
    for pole in line.poles:
        ends = line.ends
        name = f"{line.name}.{pole}".rstrip(".")
        for end in ends:
            yield "pole", name, end, points[f"{line.name}.{pole}{end}"]


def _wired(circuit, key):
    net = circuit.points[key]
    return net != key or len(circuit.names[net]) > 1 or bool(circuit.at(net))


def _tube(circuit, tube):
    pins = tube.type.pins
    for section in tube.sections:
        kind = "regulator" if section.kind.value == "regulator" else "tube"
        for electrode, net in section.electrodes.items():
            own = (section.type.name, electrode)
            own = tube.type.joined.get(own, own)  # what is joined inside shares that pin
            where = [p for p, at in pins.items() if at == own]
            where = where or [p for p, at in pins.items() if at == ("", electrode)]
            yield kind, section.name, f"{_shape(electrode)}:{_beside(where)}", net
        if section is tube.sections[0]:
            yield from _odd(circuit, tube, kind, section)
    if tube.heater is not None and not tube.directly_heated:
        for end in ("h1", "h2", "tap"):
            key = f"{tube.name}.{end}"
            used = len(tube.heater.branches) == 2 or end != "tap"
            if key in circuit.points and (used or _wired(circuit, key)):
                where = _beside(p for p, at in pins.items() if at == ("", end))
                yield "heater", tube.name, where, circuit.points[key]


def _beside(pins):
    """What stands beside a lead: its numbers, or a letter where its number is not known."""
    names = [pin.rpartition(".")[2] for pin in pins]
    return ",".join(LETTERS.get(name, name) for name in names)


def _odd(circuit, tube, kind, section):
    electrodes = {f"{s.name}.{e}" for s in tube.sections for e in s.electrodes}
    heater = {f"{tube.name}.{e}" for e in ("h1", "h2")}
    heater |= set() if tube.directly_heated else {f"{tube.name}.tap"}
    seen = set()
    for pin in tube.type.pins:
        key = pin_key(tube.name, tube.type, pin)
        if key in electrodes | heater | seen or key not in circuit.points:
            continue
        seen.add(key)
        if _wired(circuit, key):
            yield kind, section.name, f"pin:{_beside([pin])}", circuit.points[key]


def _shape(electrode):
    if electrode.startswith(("plate", "diode")):
        return "plate"
    if electrode.startswith("grid") or electrode in ("screen", "suppressor"):
        return "grid"
    if electrode in ("f1", "f2"):
        return "filament"
    # The rest has no mark of its own: targets, deflection plates, pins of a type not on file.
    return "cathode" if electrode == "cathode" else "pin"
