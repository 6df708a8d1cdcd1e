"""Whether a stage that drives itself begins to oscillate: its loop gain, at its best setting."""

from __future__ import annotations

from itertools import chain, islice
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.anatomy.controls import ends_of, pots_on, unwarmed
from coldcheck.anatomy.coupling import coupled, still_nets
from coldcheck.anatomy.oscillators import at_grid, ring, wound
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import Unsolvable
from coldcheck.solve.engine import Solver
from coldcheck.solve.signal.linearised import Linearised
from coldcheck.solve.signal.oscillation import in_phase

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit, Section
    from coldcheck.solve.signal.oscillation import Around
    from coldcheck.solve.solution import Solution, State

BYPASSES = (1e-6, 2.2e-6, 4.7e-6, 10e-6, 22e-6, 47e-6, 100e-6, 220e-6)
"""Capacitors one tries at a cathode, farads (IEC 60063, E3)."""


MOST_LOOPS, MOST_POTS = 24, 4
"""As many are looked at: each pot at its ends is two states more to solve."""

TELLS = 1.01
"""A control that changes a loop gain by less has nothing to do with it."""


@dataclass(frozen=True, slots=True)
class Driven:
    """A stage that drives its own grid, ``others`` with it, and the nets its signal is on.

    ``core`` is the coil it does so by; ``None`` where capacitors and resistors do it.
    """

    section: Section
    others: tuple[str, ...]
    nets: frozenset[str]
    core: str | None


@dataclass(frozen=True, slots=True)
class Start:
    """The gain of a loop at its best setting: ``turned`` pots stand at an end."""

    driven: Driven
    around: Around
    linear: Linearised
    turned: tuple[str, ...] = ()

    @property
    def gain(self) -> float:
        """What comes back in phase over what was there."""
        return self.around.gain.real


def loops(circuit: Circuit) -> Iterator[Driven]:
    """The stages whose loop gain says whether they oscillate, each loop once."""
    yield from islice(chain(by_parts(circuit), _by_windings(circuit)), MOST_LOOPS)


def _by_windings(circuit: Circuit) -> Iterator[Driven]:
    """The stages on coils of which all is written that says how much comes back."""
    for stage in wound(circuit):
        coils = circuit.coil_sets.get(stage.core)
        if coils is None or stage.section.kind not in (SectionKind.TRIODE, SectionKind.PENTODE):
            continue
        said = coils.coupling is not None or len(coils.coils) == 1
        if said and not any(c.assumed for c in coils.coils):
            yield Driven(stage.section, (), _nets(circuit, (stage.section,)), stage.core)


def by_parts(circuit: Circuit) -> Iterator[Driven]:
    """Of each ring the stage before whose grid most capacitors stand: they set the frequency."""
    rings = {
        frozenset(s.name for s in r): r for _, x in working(circuit) if (r := ring(circuit, x))
    }
    for stages in rings.values():
        first = max(stages, key=lambda s: _capacitors(circuit, s))
        others = tuple(s.name for s in stages if s is not first)
        yield Driven(first, others, _nets(circuit, stages), None)


def _capacitors(circuit: Circuit, section: Section) -> int:
    nets = at_grid(circuit, section)
    found = {b.name for n in nets for b in circuit.at(n) if b.kind is PartKind.CAPACITOR}
    return len(found)


def _nets(circuit: Circuit, stages: tuple[Section, ...]) -> frozenset[str]:
    ends = [n for s in stages for e in ("plate", "grid") if (n := s.net(e)) is not None]
    cathodes = {n for s in stages for n in s.cathode_nets} - set(LANDMARKS)
    return coupled(circuit, ends, still_nets(circuit)) | cathodes


def best(case: Case, driven: Driven, enough: float) -> Start | None:
    """The largest loop gain over switches, filaments and pots, tried until it is ``enough``.

    ``None`` where nothing comes back in phase. Raises Unsolvable or LinAlgError for the warm state.
    """
    top = _gain(case.circuit, driven, case.warm)
    for solution in case.solved():
        if _running(solution.state) and not _enough(top, enough):
            top = _better(top, _try(case.circuit, driven, solution))
    cold = unwarmed(case.circuit, driven.nets)
    if cold is not case.circuit and not _enough(top, enough):
        top = _better(top, _resolved(cold, driven, case.warm.state))
    for pot in pots_on(case.circuit, driven.nets)[:MOST_POTS]:
        if top is None or _enough(top, enough):
            return top
        top = _turned(top, pot)
    return top


def _turned(top: Start, pot: str) -> Start:
    """The better of a start and those with one more pot at an end."""
    found = top
    for circuit in ends_of(top.linear.circuit, pot):
        other = _resolved(circuit, top.driven, top.linear.solution.state, (*top.turned, pot))
        if other is not None and other.gain > TELLS * found.gain:
            found = other
    return found


def _better(one: Start | None, other: Start | None) -> Start | None:
    if one is None or other is None:
        return one or other
    return max(one, other, key=lambda s: s.gain)


def _enough(start: Start | None, enough: float) -> bool:
    return start is not None and start.gain >= enough


def _running(state: State) -> bool:
    return state.warm and state.line == 1 and not state.pulled and not state.unheated


def _gain(
    circuit: Circuit, driven: Driven, solution: Solution, turned: tuple[str, ...] = ()
) -> Start | None:
    linear = Linearised(circuit, solution)
    around = in_phase(linear, driven.section)
    return None if around is None else Start(driven, around, linear, turned)


def _try(
    circuit: Circuit, driven: Driven, solution: Solution, turned: tuple[str, ...] = ()
) -> Start | None:
    """The gain in another setting than the drawn one; what cannot be known there is left out."""
    try:
        return _gain(circuit, driven, solution, turned)
    except (Unsolvable, np.linalg.LinAlgError):
        return None


def _resolved(
    circuit: Circuit, driven: Driven, state: State, turned: tuple[str, ...] = ()
) -> Start | None:
    return _try(circuit, driven, Solver(circuit).solve(state), turned)


def bypass_for(start: Start, enough: float) -> float | None:
    """The smallest capacitor from a stage's cathode to gnd with which it has enough, farads."""
    cathode = start.driven.section.cathode_nets[0]
    alone = start.driven.core is None and not start.driven.others
    if not alone or cathode in LANDMARKS:
        return None
    for farads in BYPASSES:
        around = in_phase(start.linear, start.driven.section, farads)
        if around is not None and around.gain.real >= enough:
            return farads
    return None


def bypasses(circuit: Circuit, section: Section) -> tuple[str, ...]:
    """The capacitors from a stage's cathode to gnd, by name."""
    at = [b for n in section.cathode_nets if n not in LANDMARKS for b in circuit.at(n)]
    return tuple(b.name for b in at if b.kind is PartKind.CAPACITOR and GROUND in (b.a, b.b))
