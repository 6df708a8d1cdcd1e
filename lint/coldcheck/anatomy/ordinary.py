"""What values are ordinary in a place: how far a part is from what is found there in most sets.

Not a limit: a value outside is no finding. Of two values that would both explain what is wrong,
the one that is ordinary is the likelier.
"""

from __future__ import annotations

from enum import Enum
from math import inf, log10
from types import MappingProxyType
from typing import TYPE_CHECKING

from coldcheck.anatomy.choke_inputs import bleeders, critical_ohms, input_chokes
from coldcheck.anatomy.grid_kinds import is_power_tube
from coldcheck.anatomy.neighbourhood import AMPLIFYING
from coldcheck.anatomy.reach import reach
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.circuit.model import Branch, Circuit, Section, Winding


class Place(Enum):
    """Where in a circuit a part stands."""

    SMALL_PLATE = "plate resistor"
    POWER_PLATE = "plate stopper"
    SMALL_CATHODE = "cathode resistor"
    POWER_CATHODE = "cathode resistor of an output tube"
    SENSE = "cathode resistor that only measures"
    TAIL = "tail or load of a follower"
    GRID_STOPPER = "grid stopper"
    SMALL_LEAK = "grid leak"
    POWER_LEAK = "grid leak of an output tube"
    SMALL_SCREEN = "screen resistor"
    POWER_SCREEN = "screen resistor of an output tube"
    BETWEEN_RAILS = "dropping resistor"
    ACROSS_RAIL = "resistor from a rail to gnd"
    CHOKE_BLEEDER = "bleeder behind a choke input"
    BACK_BIAS = "resistor in the supply's return"
    SURGE = "resistor between a rectifier and its first capacitor"
    REGULATOR_SET = "resistor from a regulator's output to its adjusting lead"
    COUPLING = "coupling capacitor"
    CATHODE_BYPASS = "cathode bypass"
    RESERVOIR = "electrolytic of a supply"
    LOW_RESERVOIR = "electrolytic of a supply of low voltage"
    CHOKE = "choke"


ORDINARY: Mapping[Place, tuple[float, float]] = MappingProxyType(
    {
        Place.SMALL_PLATE: (33e3, 470e3),
        Place.POWER_PLATE: (10.0, 1e3),
        Place.SMALL_CATHODE: (220.0, 5.6e3),
        Place.POWER_CATHODE: (47.0, 2.2e3),
        Place.SENSE: (1.0, 47.0),
        Place.TAIL: (4.7e3, 220e3),
        Place.GRID_STOPPER: (100.0, 470e3),
        Place.SMALL_LEAK: (47e3, 10e6),
        Place.POWER_LEAK: (33e3, 1e6),
        Place.SMALL_SCREEN: (47e3, 3.3e6),
        Place.POWER_SCREEN: (47.0, 33e3),
        Place.BETWEEN_RAILS: (100.0, 100e3),
        Place.ACROSS_RAIL: (10e3, 1e6),
        Place.CHOKE_BLEEDER: (2.2e3, 47e3),
        Place.BACK_BIAS: (22.0, 1.5e3),
        Place.SURGE: (4.7, 1e3),
        Place.REGULATOR_SET: (68.0, 680.0),
        Place.COUPLING: (470e-12, 4.7e-6),
        Place.CATHODE_BYPASS: (1e-6, 1e-3),
        Place.RESERVOIR: (4e-6, 220e-6),
        Place.LOW_RESERVOIR: (470e-6, 47e-3),
        Place.CHOKE: (0.5, 50.0),
    }
)
"""Place -> lowest and highest value found in most sets: ohm, farad, henry (common practice)."""

LOW_VOLTS = 35.0
"""Rated for no more, and its minus on gnd: it filters the DC of heaters (common practice)."""


def oddness(circuit: Circuit, branch: Branch, value: float) -> float | None:
    """How many decades a value is outside what is ordinary for the part; 0 within.

    ``None`` where nothing is known of the place.
    """
    place = place_of(circuit, branch)
    if place is None:
        return None
    if value <= 0:
        return inf
    low, high = _ordinary(circuit, branch, place)
    return max(log10(low / value), log10(value / high), 0.0)


def _ordinary(circuit: Circuit, branch: Branch, place: Place) -> tuple[float, float]:
    """What is found in a place, narrowed by what the part has to do with its neighbours."""
    low, high = ORDINARY[place]
    if place is Place.CHOKE_BLEEDER:
        return low, max(low, _critical(circuit, branch) or high)
    return low, high


def _critical(circuit: Circuit, branch: Branch) -> float | None:
    """The critical load of the input choke that a bleeder is behind, ohms."""
    chokes = (c for c in input_chokes(circuit) if branch.name in dict(bleeders(circuit, c)))
    henries = [v for c in chokes if (v := c.henries)]
    return critical_ohms(circuit, max(henries)) if henries else None


def place_of(circuit: Circuit, branch: Branch) -> Place | None:
    """Where a part stands, by the electrodes at its ends; ``None`` where that says nothing."""
    match branch.kind:
        case PartKind.RESISTOR:
            return _resistor(circuit, branch)
        case PartKind.CAPACITOR:
            return _capacitor(circuit, branch)
        case PartKind.INDUCTOR:
            return Place.CHOKE
        case _:
            return None


def _capacitor(circuit: Circuit, branch: Branch) -> Place | None:
    ends = {branch.a, branch.b}
    if branch.plus is None:
        return Place.COUPLING if not ends & set(LANDMARKS) else None
    cathodes = [s for n in ends - {GROUND} for s, e in circuit.electrodes_at(n) if e == "cathode"]
    biased = any(s.kind not in (SectionKind.RECTIFIER, SectionKind.DIODE) for s in cathodes)
    if biased:
        return Place.CATHODE_BYPASS
    rated = None if branch.part is None else si(branch.part.voltage, "volt")
    low = rated is not None and rated <= LOW_VOLTS and branch.plus != GROUND
    return Place.LOW_RESERVOIR if low else Place.RESERVOIR


def _sets_regulator(circuit: Circuit, branch: Branch) -> bool:
    """Whether a resistor carries the current that sets an adjustable regulator."""
    ends = {branch.a, branch.b}
    found = (t.nets for t in circuit.transistors.values() if t.type.family.adjustable)
    return any(ends == {nets["out"], nets["adj"]} for nets in found)


def _resistor(circuit: Circuit, branch: Branch) -> Place | None:
    if _sets_regulator(circuit, branch):
        return Place.REGULATOR_SET
    for net in (branch.a, branch.b):
        for section, electrode in circuit.electrodes_at(net) if net not in LANDMARKS else ():
            found = _at_electrode(circuit, branch, net, section, electrode)
            if found is not None:
                return found
    if GROUND in (branch.a, branch.b) and is_return(circuit, branch.other(GROUND)):
        return Place.BACK_BIAS
    for net in (branch.a, branch.b):
        behind = _behind_stopper(circuit, branch, net)
        if behind is not None:
            return _at_electrode(circuit, branch, net, behind, "grid")
    if (bias := _below_filaments(circuit, branch)) is not None:
        return bias
    rails = [n for n in (branch.a, branch.b) if _is_rail(circuit, n)]
    if any(_is_negative(circuit, n) for n in rails):
        return None
    if len(rails) == 2:
        return Place.BETWEEN_RAILS
    if rails and _rectified(circuit, branch.other(rails[0])):
        return Place.SURGE
    if not rails or GROUND not in (branch.a, branch.b):
        return None
    return Place.ACROSS_RAIL if _critical(circuit, branch) is None else Place.CHOKE_BLEEDER


def is_return(circuit: Circuit, net: str) -> bool:
    """Whether a supply's current comes back to a point that one resistor alone joins to gnd.

    That is the minus of a source, the tap of a winding, or that of a rectifier, straight or behind
    a switch or a fuse.
    """
    ahead = (b for b in circuit.at(net) if b.traits.by_hand or b.kind is PartKind.FUSE)
    nets = {net, *(b.other(net) for b in ahead)}
    nets -= set(LANDMARKS)
    taps = {n for w in circuit.windings() if _rectified_from(circuit, w) for n in w.nets[1:-1]}
    minus = (b for n in nets for b in circuit.at(n) if b.kind is PartKind.SOURCE and b.b == n)
    feet = [b for b in circuit.at(net) if b.kind is PartKind.RESISTOR and b.other(net) == GROUND]
    return len(feet) == 1 and bool(nets & taps or any(minus))


def _rectified_from(circuit: Circuit, winding: Winding) -> bool:
    """Whether a rectifier takes its current from an end of a winding."""
    ends = (winding.nets[0], winding.nets[-1])
    tubes = (s.kind for n in ends for s, e in circuit.electrodes_at(n) if e.startswith("plate"))
    diodes = (b for n in ends for b in circuit.at(n) if b.kind is PartKind.DIODE)
    return SectionKind.RECTIFIER in tubes or any(diodes)


def _below_filaments(circuit: Circuit, branch: Branch) -> Place | None:
    """The place of a resistor from the tap of a winding whose filaments are the cathodes."""
    if GROUND not in (branch.a, branch.b):
        return None
    heated = next(iter(heated_from_tap(circuit, branch.other(GROUND))), None)
    if heated is None:
        return None
    power = is_power_tube(circuit.tubes[heated.tube], heated)
    return Place.POWER_CATHODE if power else Place.SMALL_CATHODE


def heated_from_tap(circuit: Circuit, net: str) -> Iterator[Section]:
    """The stages whose filament is on a winding with a tap on a net: it is their cathode's."""
    ends = {n for w in circuit.windings() if net in w.nets[1:-1] for n in (w.nets[0], w.nets[-1])}
    for section in circuit.sections() if ends else ():
        filament = {section.net("f1"), section.net("f2")}
        if section.kind in AMPLIFYING and ends & filament:
            yield section


def _at_electrode(
    circuit: Circuit, branch: Branch, net: str, section: Section, electrode: str
) -> Place | None:
    power = is_power_tube(circuit.tubes[section.tube], section)
    far = branch.other(net)
    match electrode:
        case "plate" if section.kind in AMPLIFYING and not _is_rail(circuit, net):
            behind = {e for _, e in circuit.electrodes_at(far)}
            if "cathode" in behind:
                return None  # a stage stacked on another
            if "grid" in behind:
                return Place.GRID_STOPPER  # of a stage that hangs on this plate
            return Place.POWER_PLATE if power else Place.SMALL_PLATE
        case "screen":
            return Place.POWER_SCREEN if power else Place.SMALL_SCREEN
        case "cathode" if far not in LANDMARKS and _leads_on(circuit, branch, far):
            return None  # its bias, above a load that decides what is usual
        case "cathode" if far in LANDMARKS or not circuit.electrodes_at(far):
            return _cathode(circuit, net, section, power=power)
        case "grid" if far in LANDMARKS or _is_rail(circuit, far):
            return Place.POWER_LEAK if power else Place.SMALL_LEAK
        case "grid":
            return Place.GRID_STOPPER
        case _:
            return None


def _leads_on(circuit: Circuit, branch: Branch, net: str) -> bool:
    """Whether a resistor and nothing with an electrode goes on from a point to gnd."""
    onward = (b for b in circuit.at(net) if b.kind == PartKind.RESISTOR and b != branch)
    return not circuit.electrodes_at(net) and any(b.other(net) == GROUND for b in onward)


def _cathode(circuit: Circuit, net: str, section: Section, *, power: bool) -> Place | None:
    if not section.kind.amplifies:
        return None
    if power:
        return Place.SENSE if _biased_from_rail(circuit, section) else Place.POWER_CATHODE
    plate = section.net("plate")
    fellows = [
        s for s, e in circuit.electrodes_at(net) if e == "cathode" and s.net("plate") != plate
    ]  # two in parallel are one stage, no pair
    follower = plate is not None and _is_rail(circuit, plate)
    return Place.TAIL if fellows or follower or _split(circuit, section) else (Place.SMALL_CATHODE)


def _split(circuit: Circuit, section: Section) -> bool:
    """Whether a grid hangs on a plate, or its leak on its own cathode's load: a phase splitter.

    A grid with a leak to gnd was meant to be coupled by a capacitor, whatever it hangs on.
    """
    grid = section.net("grid")
    if grid is None or grid in LANDMARKS:
        return False
    leaks = [b.other(grid) for b in circuit.at(grid) if b.kind == PartKind.RESISTOR]
    if any(e == "plate" for _, e in circuit.electrodes_at(grid)):
        return GROUND not in leaks
    cathode = section.cathode_nets[0]
    below = {b.other(cathode) for b in circuit.at(cathode) if b.kind == PartKind.RESISTOR} - {
        GROUND
    }
    return bool(below & set(leaks))


def _rectified(circuit: Circuit, net: str) -> bool:
    """Whether a rectifier gives its current to a point: a diode's cathode, or a tube's."""
    diodes = any(b.kind is PartKind.DIODE and b.b == net for b in circuit.at(net))
    return diodes or any(
        s.kind is SectionKind.RECTIFIER and e == "cathode" for s, e in circuit.electrodes_at(net)
    )


def _is_negative(circuit: Circuit, net: str) -> bool:
    """Whether the capacitors on a supply point have their plus elsewhere."""
    return any(b.kind == PartKind.CAPACITOR and b.plus not in (None, net) for b in circuit.at(net))


def _behind_stopper(circuit: Circuit, branch: Branch, net: str) -> Section | None:
    """The section whose grid is one resistor away from an end of another."""
    if net in LANDMARKS or _is_rail(circuit, net):
        return None
    fars = [b.other(net) for b in circuit.at(net) if b.kind == PartKind.RESISTOR and b != branch]
    at = [(s, e) for n in fars if n not in LANDMARKS for s, e in circuit.electrodes_at(n)]
    return next((s for s, e in at if e == "grid"), None)


def _biased_from_rail(circuit: Circuit, section: Section) -> bool:
    """Whether a grid has its direct voltage from a supply point, and not from gnd."""
    grid = section.net("grid")
    near = reach(circuit, [grid], LANDMARKS) if grid is not None else ()
    return any(_is_rail(circuit, n) for n in near)


def _is_rail(circuit: Circuit, net: str) -> bool:
    """Whether a large capacitor, a source or a gas tube holds a net: a supply point."""
    if net in LANDMARKS:
        return False
    amplified = any(e in ("cathode", "grid") and s.kind != SectionKind.RECTIFIER
                    for s, e in circuit.electrodes_at(net))  # fmt: skip
    gas = any(s.kind == SectionKind.REGULATOR for s, _ in circuit.electrodes_at(net))
    held = gas or any(
        (b.kind == PartKind.CAPACITOR and b.plus is not None) or b.kind == PartKind.SOURCE
        for b in circuit.at(net)
    )
    return held and not amplified
