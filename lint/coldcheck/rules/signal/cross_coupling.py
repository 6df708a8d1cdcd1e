"""Multivibrators and dividers: a cross-coupling capacitor that ends at its own stage."""

from __future__ import annotations

from itertools import permutations
from typing import TYPE_CHECKING

from coldcheck.anatomy.coupling import coupled, givers, still_nets
from coldcheck.anatomy.neighbourhood import net_text, resistors_at
from coldcheck.anatomy.output_stage import thrown_circuit
from coldcheck.anatomy.working import working
from coldcheck.circuit.spread import spread
from coldcheck.circuit.throws import thrown_text, throws_by_hand
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule


MOST_THROWS = 40
"""As many positions are looked at."""


@dataclass(frozen=True, slots=True)
class _Half:
    """A triode that gives from its plate alone: what its grid hears, and by which nets."""

    section: Section
    plates: frozenset[str]
    """The nets that closed contacts join to its plate."""
    near: frozenset[str]
    """The nets that resistors and closed contacts join to its grid."""
    heard: frozenset[tuple[str, str]]


@rule(
    "signal.cross-coupled-to-itself",
    title="Cross-coupling capacitor that goes back to its own grid",
    level="notice",
    blame=Blame.WIRING,
    states="the drawing alone",
    needs="two triodes of one type whose cathodes hold still",
    criterion="One capacitor alone leads from the plate of a triode to its own grid, straight or "
    "by a grid stopper, also through the contacts of a switch in one of its positions. Either "
    "nothing else drives that grid, and the same plate drives the grid of a second triode; or the "
    "second triode's plate drives it too, and nothing drives the "
    "second triode's grid. Or like resistors lead from one plate to its own grid and to that of a "
    "second triode of the type, and none from the second's plate to the first's grid; or from "
    "both plates to one grid, and from neither to the other; or from each of two plates to its own "
    "grid, and nothing from one to the other.",
    why="In a multivibrator or divider each plate drives the grid of the other tube: two "
    "reversals, and the pair flips over. A tube that drives its own grid takes from its own "
    "gain, nothing adds up around the pair, and both tubes rest.",
    source=PRACTICE,
    limits="Halves coupled by their cathodes, pentodes, stages with a coil, a diode or a crystal "
    "at plate or grid, and grids with any other signal, or with a capacitor to gnd or to a supply, "
    "are left alone: capacitors from plate to grid have uses there. So are phase-shift networks of "
    "more than one capacitor, and a stage with no second one.",
)
def cross_coupled_to_itself(case: Case) -> Iterator[Outcome]:
    """Look at the capacitors between plate and grid of every triode, and for its other half."""
    yield from _by_resistors(case)
    told = set[str]()
    for throw in ("", *throws_by_hand(case.circuit)[:MOST_THROWS]):
        found = thrown_circuit(case.circuit, frozenset({throw})) if throw else case.circuit
        for finding in _by_capacitors(case, found, throw):
            if finding.at[0] not in told:
                yield finding
            told.add(finding.at[0])


def _by_capacitors(case: Case, circuit: Circuit, throw: str) -> Iterator[Finding]:
    """In one position of one switch, the drawn one where ``throw`` is empty."""
    halves = _halves(circuit)
    for half in halves:
        part = _own(circuit, half)
        own = (half.section.name, "plate")
        if part is None or own not in half.heard:
            continue
        for other in halves:
            theirs = (other.section.name, "plate")
            if other is half or _type(case, other) != _type(case, half):
                continue
            if half.heard == other.heard == {own}:
                yield _finding(case, part, half, (other, "plate"), throw)
                break
            if half.heard == {own, theirs} and not other.heard:
                yield _finding(case, part, half, (other, "grid"), throw)
                break


def _by_resistors(case: Case) -> Iterator[Finding]:
    """Like resistors from one plate to its own grid and to that of a second triode of the type."""
    circuit = case.circuit
    triodes = [s for _, s in working(circuit) if s.kind is SectionKind.TRIODE]
    for one, other in permutations(triodes, 2):
        own, cross = (_resistor(circuit, one, s) for s in (one, other))
        back = _resistor(circuit, other, one)
        alike = circuit.tubes[one.tube].type.name == circuit.tubes[other.tube].type.name
        theirs = _resistor(circuit, other, other)
        if own is None or not alike:
            continue
        if back is not None:
            if cross is theirs is None and back.name != own.name and back.value == own.value:
                yield from _on_the_wrong_grid(case, (one, own), (other, back))
            continue
        if cross is None and theirs is not None and theirs.value == own.value:
            yield from _each_its_own(case, (one, own), (other, theirs))
        if cross is not None and own.value == cross.value:
            there = f"{other.name}.plate"
            yield cross_coupled_to_itself.finding(
                case,
                (own.owner, one.name, other.name),
                f"{own.owner} leads from the plate of {one.name} back to its own grid, and "
                f"{cross.owner}, as large, to the grid of {other.name}; {there} holds neither: "
                "the two do not flip over as the halves of a binary do",
                f"Take {own.owner} from {there} in place of {one.name}.plate",
                evidence={"own": own.owner, "across": cross.owner},
                certainty="likely",
            )


def _on_the_wrong_grid(
    case: Case, one: tuple[Section, Branch], other: tuple[Section, Branch]
) -> Iterator[Finding]:
    """Both plates lead to one grid, and none to the other."""
    (first, own), (second, back) = one, other
    there = f"{second.name}.grid"
    nets = _joined(case.circuit, second.electrodes["grid"], still_nets(case.circuit))
    if {first.electrodes["plate"], second.electrodes["plate"]} & nets:
        return
    yield cross_coupled_to_itself.finding(
        case,
        (own.owner, first.name, second.name),
        f"{own.owner} leads from the plate of {first.name} back to its own grid, where "
        f"{back.owner}, as large, comes from that of {second.name}; neither plate leads to "
        f"{there}: the two do not flip over as the halves of a binary do",
        f"Take {own.owner} to {there} in place of {first.name}.grid",
        evidence={"own": own.owner, "across": back.owner},
        certainty="likely",
    )


def _each_its_own(
    case: Case, one: tuple[Section, Branch], other: tuple[Section, Branch]
) -> Iterator[Finding]:
    """Told once, for the pair in the order of the drawing."""
    (first, own), (second, theirs) = one, other
    feeds = coupled(case.circuit, [second.electrodes["grid"]], still_nets(case.circuit))
    if first.name > second.name or (first.name, "plate") in givers(case.circuit, feeds):
        return
    yield cross_coupled_to_itself.finding(
        case,
        (own.owner, theirs.owner, first.name, second.name),
        f"{own.owner} leads from the plate of {first.name} back to its own grid, and "
        f"{theirs.owner} from that of {second.name} to its own: the two do not flip over as the "
        "halves of a binary do",
        f"Exchange the grids: {first.name}.grid and {second.name}.grid",
        evidence={"own": own.owner, "theirs": theirs.owner},
        certainty="likely",
    )


def _resistor(circuit: Circuit, giver: Section, taker: Section) -> Branch | None:
    """The resistor right from the plate of one to the grid of another."""
    plate, grid = giver.net("plate"), taker.net("grid")
    at = resistors_at(circuit, plate) if plate is not None and plate != grid else ()
    return next((b for b in at if b.other(plate or "") == grid), None)


def _type(case: Case, half: _Half) -> str:
    return case.circuit.tubes[half.section.tube].type.name


def _halves(circuit: Circuit) -> list[_Half]:
    still, found = still_nets(circuit), []
    for _, section in working(circuit):
        plate, grid = section.net("plate"), section.net("grid")
        if section.kind is not SectionKind.TRIODE or plate is None or grid is None:
            continue
        if still & {plate, grid} or not set(section.cathode_nets) <= still:
            continue
        nets, near = coupled(circuit, [grid], still), _joined(circuit, grid, still)
        others = (b for n in {*near, plate} for b in circuit.at(n))
        if all(_plain(b) for b in others) and not any(_ends(circuit, n) for n in near - {grid}):
            plates = _contacts(circuit, plate, still)
            found.append(_Half(section, plates, near, givers(circuit, nets)))
    return found


def _plain(branch: Branch) -> bool:
    """Whether it is a resistor, a capacitor or a contact: no coil, no diode that gates."""
    chosen = branch.traits.steady and branch.kind is not PartKind.RELAY
    return chosen or branch.traits.opens or branch.kind is PartKind.CAPACITOR


def _ends(circuit: Circuit, net: str) -> bool:
    """Whether a lead ends there in the open: a signal of which the drawing does not say more."""
    return len(circuit.at(net)) < 2 and not circuit.electrodes_at(net)


def _joined(circuit: Circuit, grid: str, still: frozenset[str]) -> frozenset[str]:

    def leads(branch: Branch, here: str) -> bool:
        passes = branch.traits.steady or (branch.traits.opens and branch.closed)
        return passes and branch.other(here) not in still

    return spread(circuit, [grid], leads)


def _contacts(circuit: Circuit, net: str, still: frozenset[str]) -> frozenset[str]:
    """A net with those that closed contacts join to it."""

    def leads(branch: Branch, here: str) -> bool:
        return branch.traits.opens and branch.closed and branch.other(here) not in still

    return spread(circuit, [net], leads)


def _own(circuit: Circuit, half: _Half) -> Branch | None:
    """The capacitor from the plate to its own grid, where all at that grid come from plates."""
    still = still_nets(circuit)
    plates = {p for s in circuit.sections() if (p := s.net("plate")) is not None}
    driven = {n for p in plates for n in _contacts(circuit, p, still)}
    at = (b for n in half.near for b in circuit.at(n) if b.kind is PartKind.CAPACITOR)
    parts = {b.name: b for b in at if not _off(circuit, b, half)}
    ends = {n for b in parts.values() for n in (b.a, b.b)} - half.near
    own = [b for b in parts.values() if half.plates & {b.a, b.b}]
    return own[0] if len(own) == 1 and not half.plates & half.near and ends <= driven else None


def _off(circuit: Circuit, branch: Branch, half: _Half) -> bool:
    """Whether a capacitor of a range is off: beyond it are open contacts alone."""
    far = {branch.a, branch.b} - half.near
    beyond = [b for n in far for b in circuit.at(n) if b is not branch]
    return bool(beyond) and all(b.traits.opens and not b.closed for b in beyond)


def _finding(
    case: Case, part: Branch, half: _Half, where: tuple[_Half, str], throw: str
) -> Finding:
    name, (other, electrode) = half.section.name, where
    turned = f"with {thrown_text((throw,))}, " if throw else ""
    there = f"{other.section.name}.{electrode}"
    if electrode == "plate":
        left = f"nothing else drives that grid, nor does {there}"
        remedy = f"Take {part.name} from {there} in place of {name}.plate"
    else:
        left = f"{there} gets nothing"
        remedy = f"Take {part.name} to {there} in place of {name}.grid"
    return cross_coupled_to_itself.finding(
        case,
        (part.name, name, other.section.name),
        f"{turned}{part.name} leads from the plate of {name} back to its own grid; {left}: the two "
        "do not flip over as the halves of a multivibrator do",
        remedy,
        evidence={"grid": net_text(case.circuit, half.section.electrodes["grid"])},
        certainty="likely",
    )


RULES: tuple[Rule, ...] = (cross_coupled_to_itself,)
