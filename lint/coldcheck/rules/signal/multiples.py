"""Tuned circuits behind a doubler that are tuned to what goes into it."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from coldcheck.anatomy.cans import Tuned, tuned
from coldcheck.anatomy.coupling import coupled, still_nets
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering
from coldcheck.drawing.wording import listed
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Coil
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

OFF = Threshold(
    "times a tank may be off twice the frequency before its doubler", 1.3, "",
    Citation("practice", "a core or trimmer shifts a can by a tenth or so"),
)  # fmt: skip
SMOOTHS = 0.5
"""Share of a period from which a capacitor behind two diodes smooths, and they double nothing."""


@dataclass(frozen=True, slots=True)
class _Doubled:
    """A tank, the two diodes that double it, and the tank at the plate of the stage behind."""

    before: Tuned
    diodes: tuple[Branch, Branch]
    section: str
    behind: Tuned


@rule(
    "signal.doubler-tank-off",
    title="Tank behind a doubler that is not tuned to twice the frequency",
    level="notice",
    states="the drawing alone",
    needs="the inductance of both coils and the capacitors across them",
    criterion="Two diodes from the ends of a winding whose middle holds still meet in one point "
    "that only resistors hold, or a capacitor too small to smooth; a capacitor takes what is there "
    "to a grid, and the coil at the plate of that tube resonates more than "
    f"{OFF.value:g} times off twice the frequency of the coil on the winding's core, strays and "
    "trimmers counted.",
    why="Two diodes that take both half waves hand on twice the frequency and nothing of the "
    "first. A tank tuned to the first passes next to none of it: the carrier that is to be made is "
    "missing.",
    source=(Citation("arithmetic", "f = 1 / (2 pi sqrt(L C)); full-wave rectified"), PRACTICE),
    limits="Doublers that are a tube driven hard, and multiples of more than two, are not judged: "
    "there the drawing does not say which multiple is meant.",
    thresholds=(OFF,),
)
def doubler_tank_off(case: Case) -> Iterator[Outcome]:
    """Look behind each pair of diodes on a tuned core."""
    for found in _doubled(case.circuit):
        wanted = 2 * found.before.hertz
        low, high = 2 * found.before.low, 2 * found.before.high
        apart = max(low / found.behind.high, found.behind.low / high)
        if apart > OFF.value:
            yield _finding(case, found, wanted, apart)


def _doubled(circuit: Circuit) -> Iterator[_Doubled]:
    still = still_nets(circuit)
    for coil_set in circuit.coil_sets.values():
        tanks = [t for c in coil_set.coils if not c.assumed and (t := tuned(circuit, c, still))]
        if len(tanks) != 1:
            continue
        for pair, point in _pairs(circuit, coil_set.coils, still):
            if _plain(circuit, point, pair, tanks[0].hertz):
                for section, behind in _plates(circuit, point, still):
                    yield _Doubled(tanks[0], pair, section, behind)


def _pairs(
    circuit: Circuit, coils: Collection[Coil], still: Collection[str]
) -> Iterator[tuple[tuple[Branch, Branch], str]]:
    """Two diodes the same way round from the ends of a winding with its middle still."""
    for coil in coils:
        one, *taps, other = coil.nets
        if not set(taps) & set(still):
            continue
        at = [b for n in (one, other) for b in circuit.at(n) if b.kind is PartKind.DIODE]
        for first, second in combinations(at, 2):
            ends = {first.a, second.a}, {first.b, second.b}
            for from_, to in (ends, ends[::-1]):
                if from_ == {one, other} and len(to) == 1 and not to & set(still):
                    yield (first, second), next(iter(to))


def _plain(circuit: Circuit, net: str, pair: tuple[Branch, Branch], hertz: float) -> bool:
    """Whether what stands at a net is still both half waves: nothing there smooths them."""
    others = [b for b in circuit.at(net) if b not in pair]
    loads = [b.ohms for b in others if b.kind is PartKind.RESISTOR]
    farads = sum(
        b.farads or 1.0
        for b in others
        if b.kind is PartKind.CAPACITOR and b.other(net) in LANDMARKS
    )
    return bool(loads) and all(loads) and farads * min(x or 0.0 for x in loads) < SMOOTHS / hertz


def _plates(circuit: Circuit, point: str, still: frozenset[str]) -> Iterator[tuple[str, Tuned]]:
    """The tubes whose grid hears a point, each with the tank on its plate."""
    heard = coupled(circuit, [point], still)
    for _, section in working(circuit):
        plate = section.net("plate")
        if section.net("grid") not in heard or plate is None:
            continue
        for coil in (c for s in circuit.coil_sets.values() for c in s.coils):
            tank = None if coil.assumed else tuned(circuit, coil, still)
            if tank is not None and plate in coil.nets:
                yield section.name, tank


def _finding(case: Case, found: _Doubled, wanted: float, apart: float) -> Finding:
    before, behind = found.before, found.behind
    farad = behind.farad * (behind.hertz / wanted) ** 2
    parts = [b.name for b in behind.across]
    diodes = listed([b.owner for b in found.diodes])
    return doubler_tank_off.finding(
        case,
        (*parts, behind.coil.name, found.section),
        f"{behind.coil.name} at the plate of {found.section} resonates at "
        f"{engineering(behind.hertz, 'Hz')} with {listed(parts)}; {diodes} make "
        f"{engineering(wanted, 'Hz')} of the {engineering(before.hertz, 'Hz')} of "
        f"{before.coil.name}, and next to nothing of that gets through",
        f"Use about {engineering(farad, 'F')} across {behind.coil.name}",
        evidence={
            "resonance": figure(behind.hertz, "Hz"),
            "doubled": figure(wanted, "Hz"),
        },
        limit=OFF.figure,
        certainty="certain",
        excess=apart / OFF.value,
    )


RULES: tuple[Rule, ...] = (doubler_tank_off,)
