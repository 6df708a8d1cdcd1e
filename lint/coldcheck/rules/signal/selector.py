"""Source switches and tone controls whose far side was taken for the near one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.coupling import coupled, givers, still_nets
from coldcheck.anatomy.jacks import jacks
from coldcheck.anatomy.neighbourhood import net_text, own_text, resistors_at
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.throws import decks
from coldcheck.circuit.tubes_types import SIGNAL_GRIDS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule


@rule(
    "signal.selector-exchanged",
    title="Source switch with its common and a contact exchanged",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone, in every position of the switch",
    needs="a switch with two positions or more",
    criterion="A source is on the common of a switch and another one on one of its contacts, and "
    "what gets a signal from nowhere else is on another contact. A source is a `signal`, a plate, "
    "a cathode, a winding, or a jack whose switch contact is on gnd.",
    why="The common belongs to what is to be fed, and the sources to the contacts. As drawn one "
    "position works; in the other the two sources are joined, and what they were to feed gets "
    "nothing.",
    source=PRACTICE,
    limits="Contacts that only outputs are on are left alone: a source may be led to any.",
)
def selector_exchanged(case: Case) -> Iterator[Outcome]:
    """Look at what is on common and contacts of each deck."""
    circuit = case.circuit
    for (switch, common), contacts in decks(circuit).items():
        given = [b for b in contacts if _source(circuit, switch, b.b)]
        fed = [b for b in contacts if _waits(circuit, switch, b.b)]
        if len(fed) == 1 and given and _source(circuit, switch, common):
            yield _turned_round(case, switch, common, (fed[0].b, given[0].b))


def _source(circuit: Circuit, switch: str, net: str) -> bool:
    """Whether a point has a signal of its own, without what a switch brings, and no grid."""
    nets = coupled(circuit, [net], still_nets(circuit), without=(switch,))
    inputs = {j.name for j in jacks(circuit) if j.switch in LANDMARKS and j.tip in nets}
    given = any(e != "tip" or name in inputs for name, e in givers(circuit, nets))
    return given and not _grids(circuit, nets)


def _waits(circuit: Circuit, switch: str, net: str) -> bool:
    """Whether grids are on a point, and no signal but what a switch brings."""
    nets = coupled(circuit, [net], still_nets(circuit), without=(switch,))
    return _grids(circuit, nets) and not givers(circuit, nets)


def _grids(circuit: Circuit, nets: frozenset[str]) -> bool:
    return any(e in SIGNAL_GRIDS for n in nets for _, e in circuit.electrodes_at(n))


def _turned_round(case: Case, switch: str, common: str, ends: tuple[str, str]) -> Finding:
    circuit, (fed, given) = case.circuit, ends
    lead, at_common = _lead(circuit, switch, fed), _lead(circuit, switch, common)
    return selector_exchanged.finding(
        case,
        (switch, at_common, lead),
        f"{switch} has a source on {at_common} and another on {_lead(circuit, switch, given)}, and "
        f"what they are to feed on {lead}: in the other position nothing feeds it, and the two "
        "sources are joined",
        f"Exchange what is on {at_common} and {lead}",
        evidence={"common": net_text(circuit, common)},
        certainty="certain",
    )


def _lead(circuit: Circuit, switch: str, net: str) -> str:
    """A lead of the switch on a net, as the drawing calls it."""
    own = (p for p, n in circuit.points.items() if n == net and p.startswith(f"{switch}."))
    return next(own, net_text(circuit, net))


@rule(
    "signal.source-on-common",
    title="Source on the common of its switch beside what it feeds",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="a declared jack, and a switch with a contact left free",
    criterion="The tip of an input jack, one whose resting contact is on gnd, is on the common of "
    "a switch, of which one contact has another source and one has nothing; a control or a grid "
    "is on the common too.",
    why="The jack belongs on the free contact. On the common it is never switched off: with the "
    "other source chosen the two are joined, and each works into the other; an empty jack with its "
    "contact on gnd shorts both.",
    source=PRACTICE,
    limits="Jacks without a contact to gnd may be outputs, and are left alone.",
)
def source_on_common(case: Case) -> Iterator[Outcome]:
    """Look for input jacks on the common of each deck."""
    circuit, inputs = case.circuit, [j for j in jacks(case.circuit) if j.switch in LANDMARKS]
    for (switch, common), contacts in decks(circuit).items():
        here = [j for j in inputs if j.tip == common]
        free = [b.b for b in contacts if len(circuit.at(b.b)) == len(circuit.names[b.b]) == 1]
        given = [b.b for b in contacts if _source(circuit, switch, b.b)]
        if here and free and given and len(here) + len(given) == len(contacts):
            yield _on_common(case, switch, here[0].name, (common, free[0], given[0]))


def _on_common(case: Case, switch: str, jack: str, nets: tuple[str, str, str]) -> Finding:
    common, free, given = (_lead(case.circuit, switch, n) for n in nets)
    return source_on_common.finding(
        case,
        (jack, f"{jack}.tip", switch, common, free),
        f"the tip of {jack} is on {common}, where what {switch} feeds is too: {switch} never takes "
        f"it off, with {given} chosen the two sources are joined, and {free} has nothing on it",
        f"Take {jack}.tip to {free}",
        certainty="likely",
    )


@rule(
    "signal.grid-behind-tone-control",
    title="Grid on the far side of a tone control's capacitor",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the wiring of the control",
    criterion="A grid, straight or behind its stopper, is where a capacitor meets a pot wired as a "
    "variable resistor to gnd; on the capacitor's other side a coupling capacitor brings a plate's "
    "signal and a leak to gnd is there, and no grid.",
    why="A capacitor and a variable resistor to gnd cut the treble of the point they hang on, and "
    "the grid belongs there. On their junction it gets the signal through the small capacitor, "
    "without bass, and at one end of its turn the control shorts the grid.",
    source=PRACTICE,
    limits="A pot alone behind the plate's own capacitor, as a volume control, is left alone.",
)
def grid_behind_tone_control(case: Case) -> Iterator[Outcome]:
    """Look for grids on the hot end of a variable resistor to gnd."""
    circuit = case.circuit
    for _, section in working(circuit):
        for part, net in _ways_to(circuit, section):
            pot = _rheostat(circuit, net)
            for cap in circuit.at(net) if pot else ():
                leak = _idle_leak(circuit, cap, net) if cap.kind is PartKind.CAPACITOR else None
                if leak is not None:
                    yield _far_side(case, section, (part, pot, cap, leak), net)


def _ways_to(circuit: Circuit, section: Section) -> Iterator[tuple[str, str]]:
    """The grid, and the point behind its stopper, each with what would have to be moved."""
    grid = section.net("grid")
    if grid is None or grid in LANDMARKS:
        return
    yield f"{section.name}.grid", grid
    at = circuit.at(grid)
    if len(at) == 1 and at[0].kind is PartKind.RESISTOR and at[0].other(grid) not in LANDMARKS:
        yield at[0].name, at[0].other(grid)


def _rheostat(circuit: Circuit, net: str) -> str:
    """The pot that leads from a point to rest, its wiper there too; or nothing."""
    still = still_nets(circuit)
    for branch in circuit.at(net):
        if branch.kind is PartKind.POT:
            ends = [circuit.points[f"{branch.owner}.{e}"] for e in ("top", "wiper", "bottom")]
            if ends[1] in still and ends.count(net) == 1 and {*ends} - {net} <= still:
                return branch.owner
    return ""


def _idle_leak(circuit: Circuit, cap: Branch, net: str) -> Branch | None:
    """The leak on a capacitor's other side, where a coupling capacitor comes in and no grid is."""
    near, still = cap.other(net), still_nets(circuit)
    others = [b for b in circuit.at(near) if b is not cap]
    brought = [b.other(near) for b in others if b.kind is PartKind.CAPACITOR]
    driven = any(e == "plate" for n in brought for _, e in circuit.electrodes_at(n))
    leaks = [b for b in resistors_at(circuit, near) if b.other(near) in still]
    bare = not circuit.electrodes_at(near) and len(others) == len(brought) + len(leaks)
    return leaks[0] if bare and driven and len(leaks) == 1 and near not in still else None


def _far_side(
    case: Case, section: Section, parts: tuple[str, str, Branch, Branch], net: str
) -> Finding:
    circuit, (part, pot, cap, leak) = case.circuit, parts
    near, farads = own_text(circuit, cap.other(net)), cap.farads or 0.0
    return grid_behind_tone_control.finding(
        case,
        (part, cap.name, pot, section.name),
        f"{part} is where {cap.name} ({engineering(farads, 'F')}) meets {pot}, so the signal gets "
        f"to the grid of {section.name} through {cap.name} alone, and {pot} shorts it at one end "
        f"of its turn; the leak {leak.name} is at {near}, where no grid is",
        f"Take {part} to {near}, ahead of {cap.name}",
        evidence={"capacitor": figure(farads, "F")},
        certainty="likely",
    )


RULES: tuple[Rule, ...] = (selector_exchanged, source_on_common, grid_behind_tone_control)
