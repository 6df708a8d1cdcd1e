"""Drawings that are only partly written down: one finding that lists what is missing.

The alarms that only follow from the missing part are told with it; see ``consequences``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy import supplies
from coldcheck.anatomy.cut_off import cut_off, dead_islands
from coldcheck.anatomy.loose import attachments, wired_points
from coldcheck.anatomy.neighbourhood import drawn, is_own, wired
from coldcheck.anatomy.reach import Ways, reach
from coldcheck.anatomy.supplies import has_plate_supply
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.tubes_types import SIGNAL_GRIDS, SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import listed
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.cut_off import Island
    from coldcheck.circuit.model import Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome

ELECTRODES = ("plate", "screen", "grid", "cathode")
TOLD = 8
"""A message names so many gaps and loose ends; the places of all are in the finding."""

HIGH_VOLTS = 50.0
"""A winding from here up is a supply winding; one below it may be a spare heater winding."""


@dataclass(frozen=True, slots=True)
class _Gap:
    """Something missing: where (parts, sections, points), and in words."""

    at: tuple[str, ...]
    words: str


@rule(
    "drawing.incomplete",
    title="Part of the circuit is not drawn",
    level="notice",
    states="the drawing alone",
    needs="the wiring; no values",
    criterion="No supply reaches a point that plates or screens of two or more sections hang on, "
    "or of one where the drawing has no plate supply or feeds no plate; or two or more grids hang "
    "on a line of its own name without a return; or two or more electrodes of a section in use "
    "are wired to nothing, or its cathode and another have no DC path; or a pot or an output "
    "transformer has no lead wired; or a tube has none and the drawing has loose ends. Advice "
    "where a tube is not wired and others are.",
    why="A drawing is often written down in pieces. What hangs on the missing piece then looks "
    "like a row of mistakes, each of them with a remedy that is wrong; what is wanted is the rest "
    "of the drawing.",
    source=PRACTICE,
    limits="Whether a part was left out or never meant cannot be seen. Missing parts that leave no "
    "loose end and nothing without a supply (a bypass capacitor, a bleeder) are not noticed here.",
    thresholds=(supplies.FILTER_F, supplies.SERIES_OHMS),
)
def incomplete(case: Case) -> Iterator[Outcome]:
    """Collect all that is missing into one finding."""
    circuit = case.circuit
    bare, idle, loose = _bare(circuit), _idle_tubes(circuit), _loose_ends(circuit)
    gaps = [*_unfed(circuit), *_no_line(circuit), *_open_sections(circuit)]
    sure = bool(gaps or bare or (idle and loose))
    if not sure and not any(True for _ in working(circuit)):
        if idle:
            text = "only its heater is drawn; nothing else about it could be judged"
            yield incomplete.not_judged(tuple(idle), text)
        return
    gaps += _declared([*bare, *idle])
    if gaps:
        yield _missing(case, gaps, loose, sure)


def _missing(case: Case, gaps: list[_Gap], loose: list[str], sure: bool) -> Finding:
    ends = f"; loose ends at {listed(loose[:TOLD])}" if loose else ""
    words = [g.words for g in gaps[:TOLD]]
    if len(gaps) > TOLD:
        words.append(f"and {len(gaps) - TOLD} more")
    return incomplete.finding(
        case,
        tuple(dict.fromkeys(place for gap in gaps for place in gap.at)),
        f"not all of the circuit is drawn: {'; '.join(words)}{ends}",
        _remedy(case.circuit),
        level="notice" if sure else "advice",
        evidence={"missing": figure(len(gaps), ""), "loose_ends": figure(len(loose), "")},
        certainty="likely",
    )


def _remedy(circuit: Circuit) -> str:
    spare = [] if has_plate_supply(circuit) else _supply_parts(circuit)
    feed = f" (of the supply: {listed(spare)})" if spare else ""
    return (
        f"Write down the rest{feed}, or give one name to what is joined on paper; only then "
        "do findings around the gap count"
    )


def _unfed(circuit: Circuit) -> Iterator[_Gap]:
    """Supply points that nothing feeds, with the plates and screens that hang on them."""
    switched = {i.nets for c in cut_off(circuit) for i in c.islands}
    islands = [i for i in dead_islands(circuit) if i.nets not in switched]
    every = not has_plate_supply(circuit) or _all_dead(circuit, islands)
    dead = [i for i in islands if every or len(i.hanging) > 1]
    if not dead:
        return
    words = [w for w in map(_on, dead) if w]
    at = [name for i in dead for name in i.names]
    at += [section for i in dead for section in i.hanging]
    yield _Gap(tuple(at), f"no supply feeds {listed(words)}")


def _all_dead(circuit: Circuit, islands: Iterable[Island]) -> bool:
    """Whether more than one section is in use and none of them has its plate fed."""
    plates = {s.name for _, s in working(circuit) if wired(circuit, s.net("plate"))}
    dead = {name for i in islands for name, es in i.hanging.items() if "plate" in es}
    return len(plates) > 1 and plates <= dead


def _on(island: Island) -> str:
    what = listed(f"{name}.{e}" for name, es in island.hanging.items() for e in es)
    return f"{' or '.join(island.names)} (with {what})" if island.names else what


def _no_line(circuit: Circuit) -> Iterator[_Gap]:
    """Lines that two or more grids hang on, and nothing else: a bias or control line not drawn."""
    ways, seen = Ways.of(circuit), set[str]()
    for _, section in working(circuit):
        net = section.net("grid")
        if net is None or net in seen or not wired(circuit, net) or ways.held(section, net):
            continue
        island = [n for n in reach(circuit, [net], LANDMARKS) if n not in LANDMARKS]
        seen |= set(island)
        pairs = [(s, e) for n in island for s, e in circuit.electrodes_at(n) if e in SIGNAL_GRIDS]
        lines = [n for i in island if _is_line(circuit, i) for n in circuit.names.get(i, ())]
        names = [n for n in lines if is_own(n)]
        if names and len({s.name for s, _ in pairs}) > 1:
            what = listed(f"{s.name}.{e}" for s, e in pairs)
            at = (*names, *(s.name for s, _ in pairs))
            yield _Gap(at, f"nothing gives {' or '.join(names)} (with {what}) a voltage")


def _is_line(circuit: Circuit, net: str) -> bool:
    """Whether a net is a bias or control line: no grid on it, and no signal by a capacitor."""
    signal = any(b.kind is PartKind.CAPACITOR and b.other(net) != GROUND for b in circuit.at(net))
    return not signal and not circuit.electrodes_at(net)


def _open_sections(circuit: Circuit) -> Iterator[_Gap]:
    """Sections in use of which two or more electrodes are wired to nothing, or lead nowhere."""
    ways = Ways.of(circuit)
    for _, section in working(circuit):
        present = [e for e in ELECTRODES if e in section.electrodes and not _wired(section, e)]
        bare = [e for e in present if not wired(circuit, section.net(e))]
        if len(bare) > 1:
            yield _Gap((section.name,), f"the {listed(bare)} of {section.name} are not wired")
        elif not ways.returned(section.cathode_nets):
            dead = [e for e in present if not _leads(ways, section, e)]
            if len(dead) > 1:
                words = f"no direct current reaches the {listed(dead)} of {section.name}"
                yield _Gap((section.name,), words)


def _leads(ways: Ways, section: Section, electrode: str) -> bool:
    """Whether direct current gets from an electrode to where it belongs."""
    net = section.electrodes[electrode]
    if electrode == "cathode":
        return ways.returned(section.cathode_nets)
    return ways.held(section, net) if electrode == "grid" else ways.fed(net)


def _wired(section: Section, electrode: str) -> bool:
    """Whether an electrode shares its net with another one of the same section."""
    net = section.net(electrode)
    return sum(n == net for n in section.electrodes.values()) > 1


def _bare(circuit: Circuit) -> list[str]:
    """Pots and output transformers that are declared, and no lead of which is wired."""
    pots = dict.fromkeys(b.owner for b in circuit.branches.values() if b.kind is PartKind.POT)
    leads = {p: [circuit.points[f"{p}.{x}"] for x in ("top", "wiper", "bottom")] for p in pots}
    leads |= {o.name: [net for _, net in o.leads] for o in circuit.outputs.values()}
    leads |= {c.name: list(c.nets) for c in circuit.coils()}
    return [name for name, nets in leads.items() if not _touched(circuit, name, nets)]


def _idle_tubes(circuit: Circuit) -> list[str]:
    return [t.name for t in circuit.tubes.values() if _only_heater(circuit, t.name)]


def _declared(names: list[str]) -> list[_Gap]:
    verb = "are" if len(names) > 1 else "is"
    return [_Gap(tuple(names), f"{listed(names)} {verb} declared and not wired")] if names else []


def _touched(circuit: Circuit, owner: str, nets: list[str]) -> bool:
    """Whether anything but the part itself is on one of its leads."""
    return any(
        net in LANDMARKS
        or any(b.owner != owner for b in circuit.at(net))
        or circuit.electrodes_at(net)
        or any(not n.startswith(f"{owner}.") for n in circuit.names.get(net, ()))
        for net in nets
    )


def _only_heater(circuit: Circuit, tube: str) -> bool:
    """Whether no electrode of a tube is wired (a filament that is only heated counts as none)."""
    found = circuit.tubes[tube]
    if found.directly_heated:
        return not any(
            wired(circuit, s.net(e)) for s in found.sections for e in s.electrodes if e[0] != "f"
        )
    return not any(drawn(circuit, s) for s in found.sections)


def _supply_parts(circuit: Circuit) -> list[str]:
    """Supply windings and rectifier tubes that are declared and lead nowhere."""
    found = []
    for transformer in circuit.transformers.values():
        for winding in transformer.secondaries:
            high = (si(winding.volts, "volt") or 0.0) >= HIGH_VOLTS
            if high and not _touched(circuit, winding.name, list(winding.nets)):
                found.append(winding.name)
    tubes = (t for t in circuit.tubes.values() if t.sections[0].kind is SectionKind.RECTIFIER)
    return found + [t.name for t in tubes if _only_heater(circuit, t.name)]


def _loose_ends(circuit: Circuit) -> list[str]:
    return [
        name
        for net, name in wired_points(circuit).items()
        if "." not in name and len(attachments(circuit, net)) < 2
    ]


RULES = (incomplete,)
