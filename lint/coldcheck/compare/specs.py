"""What a part is, apart from its name and where it is wired: the text two revisions compare by."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.drawing.units import engineering

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.drawing.units import Quantity

_SYMBOLS = ("ohm", "farad", "henry", "volt", "ampere", "watt")
_SHORT = {"farad": "F", "henry": "H", "volt": "V", "ampere": "A", "watt": "W", "ohm": "ohm"}


def shown(value: Quantity | None) -> str:
    """A quantity with its unit: ``4.7 kohm``; empty where it is not given."""
    if value is None:
        return ""
    unit = next((u for u in _SYMBOLS if value.is_compatible_with(u)), None)
    return f"{value}" if unit is None else engineering(float(value.m_as(unit)), _SHORT[unit], 4)


def branch_spec(branch: Branch) -> str:
    """Kind, value, ratings and words of a branch; empty words left out."""
    part, words = branch.part, [branch.kind.value, shown(branch.value)]
    if branch.resistance is not None and branch.resistance is not branch.value:
        words.append(shown(branch.resistance))
    if part is not None:
        words += [shown(part.power), shown(part.voltage) + ("ac" * part.voltage_is_ac)]
        words += [shown(part.current), part.safety_class or "", part.type or "", *part.words]
        if part.tolerance is not None:
            words.append(f"{100 * part.tolerance:g} %")
    if branch.traits.by_hand:
        words.append("closed" if branch.closed else "open")
    return " ".join(w for w in words if w)


def oriented(branch: Branch) -> bool:
    """Whether exchanging the two ends changes the circuit."""
    return branch.traits.oriented or branch.plus is not None


def ends(branch: Branch) -> tuple[tuple[str, str], ...]:
    """The nets with the mark of each end; both marks are empty where the ends are alike."""
    if branch.plus is not None:
        return tuple((n, "+" if n == branch.plus else "-") for n in (branch.a, branch.b))
    marks = ("a", "b") if oriented(branch) else ("", "")
    return ((branch.a, marks[0]), (branch.b, marks[1]))


def tube_specs(circuit: Circuit) -> Iterator[tuple[str, str]]:
    """Each tube's type and what heats it."""
    for tube in circuit.tubes.values():
        heater = tube.heater
        fed = "" if heater is None else f", heater {heater.winding or 'in a string'} {heater.mode}"
        yield tube.name, f"tube {tube.type.name}{fed}"


def core_specs(circuit: Circuit) -> Iterator[tuple[str, str]]:
    """What an output transformer and coupled coils are as a whole: no part of theirs has it."""
    for output in circuit.outputs.values():
        taps = ", ".join(map(shown, (*output.steps, output.secondary)))
        core = {None: "", True: "gapped", False: "not gapped"}[output.gapped]
        words = ("output", shown(output.primary), ":", taps, core, shown(output.current))
        yield output.name, " ".join(word for word in words if word)
    for coils in circuit.coil_sets.values():
        coupled = "" if coils.coupling is None else f" coupling {100 * coils.coupling:g} %"
        turns = " : ".join("?" if coil.unsized else f"{coil.turns:g}" for coil in coils.coils)
        if coils.springs:
            ohms = " : ".join(shown(coil.impedance) or "?" for coil in coils.coils)
            yield coils.name, f"spring tank {ohms}"
            continue
        yield coils.name, f"coils {turns}{coupled} {'iron' if coils.iron else 'air'}"


def block_specs(circuit: Circuit) -> Iterator[tuple[str, str]]:
    """What is written on a bridge block; a transistor's type and heat sink."""
    for one in circuit.transistors.values():
        sink = "" if one.sink is None else f" heat sink {float(one.sink.m):g} K/W"
        yield one.name, f"{one.type.family.value} {one.type.name}{sink}"
    for block in circuit.bridges.values():
        part, ac = block.part, "ac" * block.part.voltage_is_ac
        words = (shown(part.voltage) + ac, shown(part.current), part.type or "", *part.words)
        yield block.name, " ".join(("bridge", *(w for w in words if w)))


def part_specs(circuit: Circuit) -> dict[str, str]:
    """Part name -> what it is: tubes, and branches under their own names."""
    found = dict((*tube_specs(circuit), *core_specs(circuit), *block_specs(circuit)))
    heaters = {b.name for t in circuit.tubes.values() if t.heater for b in t.heater.branches}
    for branch in circuit.branches.values():
        if branch.name not in heaters:
            found[branch.name] = branch_spec(branch)
    if circuit.mains is not None:
        mains = circuit.mains
        volts, hertz = shown(mains.voltage), f"{float(mains.frequency.m_as('hertz')):g} Hz"
        found["mains"] = f"{volts} {hertz} tolerance {100 * circuit.mains_tolerance:g} %"
    return found
