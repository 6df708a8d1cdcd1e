"""The warm-up as a sequence of states between ``cold`` and ``warm``.

Silicon conducts at once and a filament within a second or two; an indirectly heated cathode takes
10 to 30 s, and which of two is first depends on the types and on the specimens (common practice).
So every order that matters is a state of its own:

1. ``warming: silicon first`` - filaments dark, where silicon and directly heated tubes meet;
2. ``cold`` - filaments emit, nothing else does;
3. ``warming: rectifier first`` - indirectly heated rectifiers emit, every other cathode is cold;
4. ``warming: small tubes first`` and ``warming: output tubes first`` - rectifiers and one of the
   two groups emit.

Each is a periodic steady state: capacitors are taken as charged by the time a step ends, and
surges within a step are not covered.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass
from coldcheck.solve.solution import COLD, WARM, WARMING, State

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from coldcheck.circuit.model import Circuit, Section, Tube
    from coldcheck.solve.solution import Solution

SILICON_FIRST = f"{WARMING}: silicon first"
RECTIFIER_FIRST = f"{WARMING}: rectifier first"
SMALL_FIRST = f"{WARMING}: small tubes first"
OUTPUT_FIRST = f"{WARMING}: output tubes first"

UNLOADED = (SILICON_FIRST, COLD, RECTIFIER_FIRST)
"""States in which the supply stands but no indirectly heated tube draws from it yet."""

SMALL_W = 5.0
"""Plate dissipation up to which a tube counts as small; its heater is light and quick."""


def warming_states(circuit: Circuit) -> tuple[State, ...]:
    """The steps of the warm-up that this circuit has, besides ``cold`` and ``warm``."""
    return tuple(_steps(circuit))


def _steps(circuit: Circuit) -> Iterator[State]:
    tubes = circuit.tubes.values()
    filaments = frozenset(t.name for t in tubes if t.directly_heated)
    if filaments and any(b.kind is PartKind.DIODE for b in circuit.branches.values()):
        yield State(SILICON_FIRST, WARMING, warm=False, unheated=filaments)
    slow = [t for t in tubes if t.type.cathode == "indirect"]
    others = frozenset(t.name for t in slow if not rectifies(t))
    if len(others) < len(slow) and others:
        yield State(RECTIFIER_FIRST, WARMING, unheated=others)
    output = frozenset(n for n in others if not small(circuit.tubes[n]))
    if output and others > output:
        yield State(SMALL_FIRST, WARMING, unheated=output)
        yield State(OUTPUT_FIRST, WARMING, unheated=others - output)


def rectifies(tube: Tube) -> bool:
    """Whether a tube is a rectifier of the supply."""
    return any(s.kind is SectionKind.RECTIFIER for s in tube.sections)


def small(tube: Tube) -> bool:
    """Whether a tube is a signal tube rather than an output tube; one without a rating is."""
    rated = (tube.type.rating("plate-dissipation", s.type.name) for s in tube.sections)
    return all(r is None or r.value <= SMALL_W for r in rated)


def emits(tube: Tube, state: State) -> bool:
    """Whether a cathode emits in a state, its heater being whole: a filament needs no warm-up."""
    if tube.name in state.pulled | state.unheated:
        return False
    return state.warm or tube.type.cathode in ("filament", "cold")


@dataclass(frozen=True, slots=True)
class Peak:
    """The highest voltage on the way from switch-on to warm at nominal mains, and its step.

    volts
        Capacitors: the largest instant, as a positive number. Heaters: heater minus cathode at
        the worst instant, signed. Grids: grid minus cathode at the most positive instant.
    """

    at: str
    volts: float
    state: str


@dataclass(frozen=True, slots=True)
class WarmUp:
    """What each capacitor (by branch), heater and grid (by section) sees on the way to warm.

    ``steps`` are the states looked at, in the order they may come; ``missing`` those not solved.
    """

    steps: tuple[str, ...]
    missing: tuple[str, ...]
    capacitors: tuple[Peak, ...]
    heaters: tuple[Peak, ...]
    grids: tuple[Peak, ...]


STEPS = (SILICON_FIRST, COLD, RECTIFIER_FIRST, SMALL_FIRST, OUTPUT_FIRST, WARM)


def warm_up(circuit: Circuit, solutions: Mapping[str, Solution]) -> WarmUp:
    """Collect the worst of every step; what has no number in any step is left out."""
    steps = tuple(name for name in STEPS if name in solutions)
    solved = [solutions[name] for name in steps if solutions[name].converged]
    capacitors = [
        b for b in circuit.branches.values() if b.kind is PartKind.CAPACITOR and b.a != b.b
    ]
    sections = list(circuit.sections())
    return WarmUp(
        steps,
        tuple(name for name in steps if not solutions[name].converged),
        _highest((b.name, s, _capacitor_volts(s, b.a, b.b)) for b in capacitors for s in solved),
        _highest((x.name, s, _heater_volts(s, x)) for x in sections for s in solved),
        _highest(((x.name, s, grid_volts(s, x)) for x in sections for s in solved), float),
    )


def _highest(
    found: Iterable[tuple[str, Solution, float | None]], by: Callable[[float], float] = abs
) -> tuple[Peak, ...]:
    """The worst of each place: the largest, or (``by`` float) the most positive."""
    worst: dict[str, Peak] = {}
    for at, solution, volts in found:
        if volts is None:
            continue
        old = worst.get(at)
        if old is None or by(volts) > by(old.volts):
            worst[at] = Peak(at, volts, solution.state.name)
    return tuple(worst.values())


def _capacitor_volts(solution: Solution, a: str, b: str) -> float | None:
    wave = solution.between(a, b)
    return None if wave is None else wave.peak


def _heater_volts(solution: Solution, section: Section) -> float | None:
    found = solution.readings.get(section.name)
    if found is None or found.heater_cathode_low is None or found.heater_cathode_high is None:
        return None
    return max(found.heater_cathode_low, found.heater_cathode_high, key=abs)


def grid_volts(solution: Solution, section: Section) -> float | None:
    """The most positive instant of the control grid against the middle of the cathode, volts."""
    grid = solution.wave(section.electrodes["grid"]) if "grid" in section.electrodes else None
    ends = [solution.wave(n) for n in section.cathode_nets]
    known = [w.samples for w in ends if w is not None]
    if grid is None or len(known) < len(ends):
        return None
    return float((grid.samples - sum(known) / len(known)).max())
