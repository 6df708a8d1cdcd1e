"""Stages of an amplifier that drive each other in a ring."""

from __future__ import annotations

from typing import TYPE_CHECKING

from numpy.linalg import LinAlgError

from coldcheck.anatomy.coupling import coupled, givers, still_nets
from coldcheck.anatomy.feedback_loops import return_ratio, ways_back
from coldcheck.anatomy.modes import growing_modes, linear_of, supply_nets
from coldcheck.anatomy.neighbourhood import amplifiers, own_text
from coldcheck.anatomy.oscillators import fed_back
from coldcheck.anatomy.starting import by_parts
from coldcheck.circuit.latches import latches
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering
from coldcheck.drawing.wording import listed
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import Rule, rule
from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import Unsolvable
from coldcheck.solve.signal.linearised import Linearised
from coldcheck.solve.signal.stability import LARGEST, growing, quietens
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome

PASSES = (PartKind.RESISTOR, PartKind.CAPACITOR)


@dataclass(frozen=True, slots=True)
class Ring:
    """What grows, 1/s; the stages it goes through, and the points; ``links`` are parts between."""

    mode: complex
    sections: tuple[Section, ...]
    nets: tuple[str, ...]
    links: tuple[Branch, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """The stages' names."""
        return tuple(s.name for s in self.sections)


@rule(
    "signal.stages-sustain-each-other",
    title="Stages of an amplifier that drive each other in a ring",
    level="notice",
    blame=Blame.WIRING,
    states="the nominal state",
    needs="a solved nominal state, all values, and a signal that the drawing brings to the stages",
    criterion=(
        "By the small-signal estimate about the nominal state a disturbance below 1 kHz grows by "
        "itself, also with the supply points held still, through two stages or more, with a "
        "capacitor on the way, and one of them gets a signal from elsewhere."
    ),
    why=(
        "What one stage does comes round to it by another, in step and larger: by a cathode "
        "resistor without a capacitor that two stages in a row share, or by a part that leads back "
        "from a plate to a grid of the wrong side. The amplifier oscillates with nothing at its "
        "input. With the shared cathode held still, or the way back taken off, it is quiet."
    ),
    source=(Citation("arithmetic", "stability of the linear network (eigenvalues)"), PRACTICE),
    limits=(
        "Oscillators, binaries and rings without a capacitor (triggers) are meant to do it, and "
        "positive feedback that another rule reports is not reported again. Rings by way of a "
        "transformer or coil are left out: how they end rests on inductances that drawings seldom "
        "have. Capacitances of tubes and wiring are not in the estimate."
    ),
)
def stages_sustain_each_other(case: Case) -> Iterator[Outcome]:
    """Look for modes that grow with the supply held, and for the points they need."""
    warm = case.solutions.get("warm")
    if warm is None or not warm.converged or len(case.circuit.graph) > LARGEST:
        return  # motor-boating says so
    try:
        ring = _ring(case)
        told = ring is not None and _told(case, ring)
    except (Unsolvable, ValueError, LinAlgError):
        return  # the same
    if ring is not None and not told and _is_amplifier(case.circuit, ring):
        yield _finding(case, ring)


def _ring(case: Case) -> Ring | None:
    """The ring of stages that sustains itself without the supply."""
    if not growing_modes(case).size:
        return None
    circuit, linear, held = case.circuit, linear_of(case), supply_nets(case.circuit)
    modes = growing(linear, held)
    if not modes.size:
        return None
    ends = quietens(linear, held, _ends(circuit))
    nets = (*ends, *quietens(linear, held, _beside(circuit, ends)))
    links = (b for b in circuit.branches.values() if _between(b, nets))
    return Ring(
        complex(modes[0]), tuple(_through(circuit, nets)), nets,
        tuple(b for b in links if _needs(case, b, held, modes.size)),
    )  # fmt: skip


def _ends(circuit: Circuit) -> list[str]:
    """The points that plates, grids and cathodes of amplifying stages are on."""
    ends = [
        n for _, s in amplifiers(circuit) for n in (s.net("plate"), s.net("grid"), *s.cathode_nets)
    ]
    return [n for n in dict.fromkeys(ends) if n is not None and n not in LANDMARKS]


def _beside(circuit: Circuit, nets: Collection[str]) -> list[str]:
    """The points one resistor or capacitor away."""
    far = (b.other(n) for n in nets for b in circuit.at(n) if b.kind in PASSES)
    return [n for n in dict.fromkeys(far) if n not in nets and n not in LANDMARKS]


def _through(circuit: Circuit, nets: tuple[str, ...]) -> Iterator[Section]:
    """The stages that a ring passes: in at one electrode, out at another."""
    for _, section in amplifiers(circuit):
        ways_in = {section.net("grid"), *section.cathode_nets} & set(nets)
        ways_out = {section.net("plate"), *section.cathode_nets} & set(nets)
        if len(ways_in | ways_out) > 1:
            yield section


def _between(branch: Branch, nets: tuple[str, ...]) -> bool:
    return branch.kind in PASSES and {branch.a, branch.b} <= set(nets)


def _needs(case: Case, branch: Branch, held: tuple[str, ...], many: int) -> bool:
    """Whether a ring is broken with a part taken out, the stages as they were."""
    linear = Linearised(case.circuit.without({branch.name}), case.warm)
    return growing(linear, held).size < many


def _told(case: Case, ring: Ring) -> bool:
    """Whether it is feedback that adds, which has a rule of its own."""
    ratios = (
        return_ratio(case.circuit, case.warm, back)
        for back in ways_back(case.circuit)
        if {back.near, back.far} & set(ring.nets)
    )
    return any(r is not None and r.real >= 1 for r in ratios)


def _is_amplifier(circuit: Circuit, ring: Ring) -> bool:
    """Whether a ring is of several stages, none meant to oscillate, and gets a signal."""
    meant = {s.name for pair in latches(circuit) for s in pair}
    meant |= {s.name for s in fed_back(circuit)}
    meant |= {n for d in by_parts(circuit) for n in (d.section.name, *d.others)}
    capacitor = any(b.kind is PartKind.CAPACITOR for b in ring.links)
    several = len(ring.sections) > 1 and capacitor and not meant & set(ring.names)
    coils = any(b.traits.coil for n in ring.nets for b in circuit.at(n))
    return several and not coils and any(_driven(circuit, s, ring) for s in ring.sections)


def _driven(circuit: Circuit, section: Section, ring: Ring) -> bool:
    """Whether something else than the ring brings a signal to a stage's grid."""
    grid = section.net("grid")
    if grid is None:
        return False
    given = givers(circuit, coupled(circuit, [grid], still_nets(circuit)))
    return any(name not in ring.names for name, _ in given)


def _finding(case: Case, ring: Ring) -> Finding:
    circuit, seconds = case.circuit, 1 / ring.mode.real
    shared = _shared(circuit, ring)
    names = listed(ring.names)
    by = f"the cathode resistor {shared[0].owner} they share" if shared else _by(circuit, ring)
    return stages_sustain_each_other.finding(
        case,
        (*(b.owner for b in shared), *ring.names, *(b.owner for b in ring.links)),
        f"{names} drive each other by {by}: what one does comes back to it in step and larger, "
        f"2.7 times every {engineering(seconds, 's')}, and they oscillate with nothing at the "
        "input",
        _remedy(circuit, ring, shared),
        state="warm",
        evidence={"grows_e_fold_in": figure(seconds, "s")},
        blame=Blame.SLIP if shared else None,
    )


def _shared(circuit: Circuit, ring: Ring) -> list[Branch]:
    """The resistor to gnd at a cathode of several stages of a ring."""
    points = [n for s in ring.sections for n in dict.fromkeys(s.cathode_nets) if n in ring.nets]
    common = [n for n in dict.fromkeys(points) if points.count(n) > 1]
    return [
        b for n in common for b in circuit.at(n)
        if b.kind is PartKind.RESISTOR and b.other(n) == GROUND
    ]  # fmt: skip


def _by(circuit: Circuit, ring: Ring) -> str:
    return listed(b.owner for b in ring.links) or listed(own_text(circuit, n) for n in ring.nets)


def _remedy(circuit: Circuit, ring: Ring, shared: list[Branch]) -> str:
    if shared:
        one = shared[0]
        return (
            f"Give {listed(ring.names)} a cathode resistor each in place of {one.owner}; a "
            "capacitor across it would have to hold it still at the lowest that couples them"
        )
    return (
        f"Take off what leads back round the ring ({_by(circuit, ring)}), or bring it to a point "
        "that moves the other way"
    )


RULES: tuple[Rule, ...] = (stages_sustain_each_other,)
