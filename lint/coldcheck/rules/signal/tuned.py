"""Tuned circuits that are to pass one frequency and are tuned to two."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy import cans as anatomy
from coldcheck.anatomy.cans import Tuned, cans
from coldcheck.anatomy.coupling import still_nets
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.tubes_types import SIGNAL_GRIDS, SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering
from coldcheck.drawing.wording import listed
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, CoilSet, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

APART = Threshold(
    "times two tuned circuits of one frequency may be apart", 1.3, "",
    Citation("practice", "a core or trimmer shifts a can by a tenth or so"),
)  # fmt: skip
CONVERTS = (SectionKind.CONVERTER, SectionKind.MIXER)


@rule(
    "signal.can-detuned",
    title="Tuned circuit far from its neighbour",
    level="notice",
    states="the drawing alone",
    needs="the inductance of both coils and the capacitors across them",
    criterion="Two loosely coupled coils of one can, or the coil at the grid and the one at the "
    "plate of the stage behind a converter, resonate more than "
    f"{APART.value:g} times apart, whatever strays, trimmers and the parts beside them do.",
    why="Both are to pass one frequency. No core or trimmer reaches that far: the can passes next "
    "to nothing, and the set is as good as deaf. A decade in the capacitor is a factor of 3.2 in "
    "the frequency.",
    source=(Citation("arithmetic", "f = 1 / (2 pi sqrt(L C))"), PRACTICE),
    limits="Coils whose inductance is not written, capacitors from an end to elsewhere, coils "
    "coupled closely and tuning by hand are not judged. From grid to plate only windings "
    "whose other ends lead to no further coil are compared, behind a tube made to convert.",
    thresholds=(APART, anatomy.LOOSE, anatomy.STRAY_F),
)
def can_detuned(case: Case) -> Iterator[Outcome]:
    """Compare the coils of each can, then those around each stage."""
    still = still_nets(case.circuit)
    found = list(cans(case.circuit, still))
    every = [t for _, coils in found for t in coils]
    within = [p for _, coils in found for p in _pairs(coils)]
    inside = [p for p in within if p[0].apart(p[1]) > APART.value]
    told = {t.coil.name for pair in inside for t in pair}
    beside = _around(case.circuit, found, still)
    around = (p for p in beside if not {t.coil.name for t in p} & told)
    for one, other in (*inside, *around):
        yield _finding(case, one, other, every)


def _pairs(coils: list[Tuned]) -> Iterator[tuple[Tuned, Tuned]]:
    yield from ((a, b) for n, a in enumerate(coils) for b in coils[n + 1 :])


def _around(
    circuit: Circuit, found: list[tuple[CoilSet, list[Tuned]]], still: Collection[str]
) -> Iterator[tuple[Tuned, Tuned]]:
    """The tuned circuits at grid and plate of the stage behind a converter that are far apart."""
    converted = [t for s, coils in found if _behind_converter(circuit, s) for t in coils]
    every = [t for _, coils in found for t in coils]
    for _, section in working(circuit):
        if section.kind in CONVERTS or _injected(circuit, section, converted, still):
            continue
        before, behind = (
            _at(circuit, section, converted, "grid"),
            _at(circuit, section, every, "plate"),
        )
        yield from ((a, b) for a in before for b in behind if a.apart(b) > APART.value)


def _behind_converter(circuit: Circuit, coil_set: CoilSet) -> bool:
    nets = {n for c in coil_set.coils for n in c.nets}
    return any(s.kind in CONVERTS and s.net("plate") in nets for s in circuit.sections())


def _injected(
    circuit: Circuit, section: Section, coils: Collection[Tuned], still: Collection[str]
) -> bool:
    """Whether a capacitor brings a grid something beside its coil: an oscillator's voltage."""
    grid, across = section.net("grid"), {b.name for t in coils for b in t.across}
    near = [] if grid is None else circuit.at(grid)
    return any(
        b.kind is PartKind.CAPACITOR and b.name not in across and b.other(grid or "") not in still
        for b in near
    )


def _at(
    circuit: Circuit, section: Section, coils: Collection[Tuned], electrode: str
) -> list[Tuned]:
    """The tuned windings with one end on an electrode and no further coil on the other."""
    net, still = section.net(electrode), still_nets(circuit)
    found = [(t, t.coil.nets[0], t.coil.nets[-1]) for t in coils]
    ends = [(t, b if a == net else a) for t, a, b in found if net in (a, b)]
    return [t for t, far in ends if far in still or not _another_coil(circuit, far, t)]


def _another_coil(circuit: Circuit, net: str, own: Tuned) -> bool:
    """Whether another coil of a can hangs on the end of one."""
    mine = {b.name for _, b in own.coil.parts}
    others = {b.name for c in circuit.coils() for _, b in c.parts} - mine
    return any(b.name in others for b in circuit.at(net))


def _finding(case: Case, one: Tuned, other: Tuned, every: Collection[Tuned]) -> Finding:
    odd, right = sorted((one, other), key=lambda t: _company(t, every))
    both = _company(odd, every) == _company(right, every)
    names = [b.name for t in ((odd, right) if both else (odd,)) for b in t.across]
    cures = [_cure(odd, right), *([_cure(right, odd)] if both else [])]
    return can_detuned.finding(
        case,
        (*names, *dict.fromkeys((odd.coil.name, right.coil.name))),
        f"{odd.coil.name} resonates at {engineering(odd.hertz, 'Hz')} with "
        f"{listed(b.name for b in odd.across)}, {right.coil.name} at "
        f"{engineering(right.hertz, 'Hz')} with {listed(b.name for b in right.across)}: nothing "
        "that both are to pass gets through",
        f"Use {' or '.join(cures)}",
        evidence={"resonance": figure(odd.hertz, "Hz"), "neighbour": figure(right.hertz, "Hz")},
        limit=APART.figure,
        certainty="certain",
        excess=one.apart(other) / APART.value,
    )


def _cure(odd: Tuned, right: Tuned) -> str:
    """The capacitance with which a coil resonates where another does."""
    wanted = odd.farad * (odd.hertz / right.hertz) ** 2
    return f"about {engineering(wanted, 'F')} across {odd.coil.name}"


def _company(one: Tuned, every: Collection[Tuned]) -> int:
    """How many tuned circuits of the drawing may resonate where this one does."""
    return sum(one.apart(t) <= APART.value for t in every)


FOOT = Threshold(
    "times its variable capacitor that the foot of a tuned circuit is held with at least", 2.0, "",
    Citation("practice", "10 to 100 nF; in series with 400 pF they shift it by a percent or so"),
)  # fmt: skip


@rule(
    "signal.tuned-foot-too-small",
    title="Foot of a tuned circuit held with too small a capacitor",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the values of the variable capacitor and of those at the foot of the coil",
    criterion="A coil is on a grid, a variable capacitor leads from there to gnd, the coil's other "
    "end is fed through resistors, and the capacitors from there to gnd are less than "
    f"{FOOT.value:g} times the variable one.",
    why="The capacitor at the foot is in series with the variable one. It is to be so large that "
    "it counts for nothing; smaller, it takes the tuning range away. On a gain control line it is "
    "to hold the audio off as well.",
    source=(PRACTICE, Citation("arithmetic", "capacitors in series")),
    limits="Padders of oscillators, whose coil a capacitor parts from the grid, are left alone.",
    thresholds=(FOOT,),
)
def tuned_foot_too_small(case: Case) -> Iterator[Outcome]:
    """Look at the far end of each coil on a grid with a variable capacitor."""
    circuit = case.circuit
    for _, section in working(circuit):
        for grid in {n for e in SIGNAL_GRIDS if (n := section.net(e)) and n not in LANDMARKS}:
            most = sum(_farad(b) for b in _to_gnd(circuit, grid) if _variable(b))
            for coil in (b for b in circuit.at(grid) if b.traits.coil) if most else ():
                held = _to_gnd(circuit, coil.other(grid))
                farad = sum(_farad(b) for b in held)
                if farad and farad < FOOT.value * most and _fed_by_resistor(circuit, coil, grid):
                    yield _foot(case, section, coil, held, (farad, most))


def _variable(branch: Branch) -> bool:
    words = () if branch.part is None else branch.part.words
    return "variable" in words or "ganged" in words


def _farad(branch: Branch) -> float:
    return branch.farads or 0.0


def _to_gnd(circuit: Circuit, net: str) -> list[Branch]:
    near = circuit.at(net) if net not in LANDMARKS else ()
    return [b for b in near if b.kind is PartKind.CAPACITOR and b.other(net) == GROUND]


def _fed_by_resistor(circuit: Circuit, coil: Branch, grid: str) -> bool:
    foot = coil.other(grid)
    near = (b for b in circuit.at(foot) if b.kind is PartKind.RESISTOR)
    return any(b.other(foot) not in LANDMARKS for b in near)


def _foot(
    case: Case, section: Section, coil: Branch, held: list[Branch], farads: tuple[float, float]
) -> Finding:
    farad, most = farads
    first = max(held, key=_farad).name
    return tuned_foot_too_small.finding(
        case,
        (first, coil.owner, section.name),
        f"{first}, {engineering(farad, 'F')}, holds the foot of {coil.name}, which "
        f"{engineering(most, 'F')} tune: it is in series with them, and the circuit does not "
        "cover its band",
        f"Use 10 to 100 nF for {first}",
        evidence={"foot": figure(farad, "F"), "variable": figure(most, "F")},
        limit=FOOT.figure,
        certainty="certain",
        excess=FOOT.value * most / farad,
    )


RULES: tuple[Rule, ...] = (can_detuned, tuned_foot_too_small)
