"""What stands where: each net at its DC, each tube from cathode to plate, each heater's window.

Figures only; how high a volt is drawn is the report's business.
"""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

from coldcheck.anatomy.heater_lines import heater_lines, insulated
from coldcheck.anatomy.lift_window import level_of, lift_windows, liftable, section_room
from coldcheck.bench.chart.points import shown_name
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass
from coldcheck.solve.solution import COLD, HIGH, PULLED, WARM

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.heater_lines import HeaterLine
    from coldcheck.anatomy.lift_room import Room
    from coldcheck.anatomy.lift_window import LiftWindow
    from coldcheck.circuit.model import Circuit, Section
    from coldcheck.solve.solution import Solution

SWINGS = 4.0
"""A net whose AC reaches this many times as far as its DC is no rung: a winding, the mains."""


@dataclass(frozen=True, slots=True)
class Rung:
    """Nets on one level: their names, the DC and the lowest and highest instant, volts to gnd."""

    names: tuple[str, ...]
    dc: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Window:
    """Where a heater line stands and may stand beside one cathode, DC volts to gnd.

    at, low, high
        The line's DC and its extreme instants; ``None`` where it floats.
    least, most
        The lift that this section allows in this state; ``None`` where no limit on file says.
    sets_least, sets_most
        Whether that end is the one that closes the line's window over all states.
    """

    line: str
    at: float | None
    low: float | None
    high: float | None
    least: float | None
    most: float | None
    sets_least: bool
    sets_most: bool

    @property
    def outside(self) -> bool:
        """Whether the line stands where this section does not allow it."""
        if self.at is None:
            return False
        below = self.least is not None and self.at < self.least
        return below or (self.most is not None and self.at > self.most)


@dataclass(frozen=True, slots=True)
class Link:
    """A section from cathode to plate, DC volts to gnd; ``None`` where there is no number."""

    section: str
    type: str
    cathode: float
    plate: float | None
    grid: float | None
    screen: float | None
    window: Window | None


@dataclass(frozen=True, slots=True)
class Column:
    """One state; without a solution only the reason."""

    state: str
    reason: str
    rungs: tuple[Rung, ...] = ()
    links: tuple[Link, ...] = ()


@dataclass(frozen=True, slots=True)
class Ladder:
    """States side by side; ``left_out`` are the nets that swing through gnd."""

    file: str
    title: str
    columns: tuple[Column, ...]
    windows: tuple[LiftWindow, ...]
    left_out: tuple[str, ...]


def ladder(case: Case, states: Sequence[str] = ()) -> Ladder:
    """The ladder of some states; of those that tell most where none are named."""
    windows = lift_windows(case)
    names = tuple(states) or telling(case, windows)
    columns = tuple(_column(case, case.solutions[name], windows) for name in names)
    shown = [case.solutions[n] for n in names if case.solutions[n].converged]
    left = {shown_name(case.circuit, n): None for s in shown for n in s.waves if _swings(s, n)}
    drawing = case.circuit.drawing
    return Ladder(drawing.file, drawing.title, columns, windows, tuple(left))


def telling(case: Case, windows: Sequence[LiftWindow]) -> tuple[str, ...]:
    """Cold, warm, high line, the states that close a window, and the tube whose lack moves most."""
    closing = [e.state for w in windows for e in (w.room.low, w.room.high) if e is not None]
    without = (s for s in case.solved(PULLED) if not _rectifier_out(case.circuit, s))
    pulled = max(without, key=lambda s: _moved(case.warm, s), default=None)
    usual = [s.state.name for s in case.solutions.values() if s.state.kind in (COLD, WARM, HIGH)]
    order = (COLD, WARM, HIGH)
    usual.sort(key=lambda n: order.index(case.solutions[n].state.kind))
    named = [*usual, *closing, *([] if pulled is None else [pulled.state.name])]
    return tuple(dict.fromkeys(n for n in named if n in case.solutions))


def _rectifier_out(circuit: Circuit, solution: Solution) -> bool:
    """Without its rectifier nothing stands anywhere, which nobody needs a picture of."""
    out = [s for s in circuit.sections() if s.tube in solution.state.pulled]
    return any(s.kind is SectionKind.RECTIFIER for s in out)


def _moved(warm: Solution, other: Solution) -> float:
    """How far the net that moves most does, volts."""
    both = warm.waves.keys() & other.waves.keys()
    return max((abs(warm.waves[n].dc - other.waves[n].dc) for n in both), default=0.0)


def _column(case: Case, solution: Solution, windows: Sequence[LiftWindow]) -> Column:
    if not solution.converged:
        return Column(solution.state.name, solution.reason)
    return Column(
        solution.state.name,
        "",
        tuple(_rungs(case.circuit, solution)),
        tuple(_links(case, solution, windows)),
    )


def _rungs(circuit: Circuit, solution: Solution) -> Iterator[Rung]:
    """From the top; nets that stand alike (to a tenth of a volt) on one rung."""
    levels: dict[tuple[float, float, float], list[str]] = {}
    for net, wave in solution.waves.items():
        if not _swings(solution, net) and _worth(circuit, net):
            key = (_near(wave.dc), _near(wave.low), _near(wave.high))
            levels.setdefault(key, []).append(shown_name(circuit, net))
    for (dc, low, high), names in sorted(levels.items(), reverse=True):
        first = sorted(dict.fromkeys(names), key=lambda n: (n != GROUND, n))
        yield Rung(tuple(first), dc, low, high)


def _near(volts: float) -> float:
    """To a tenth of a volt, and never a minus zero."""
    return round(volts, 1) + 0.0


def _worth(circuit: Circuit, net: str) -> bool:
    """Not a lead that nothing is on, nor a name of gnd."""
    return net == GROUND or (net not in LANDMARKS and _used(circuit, net))


def _used(circuit: Circuit, net: str) -> bool:
    ends = len(circuit.at(net)) + len(circuit.electrodes_at(net))
    return ends > 1 or any(b.kind is not PartKind.WINDING for b in circuit.at(net))


def _swings(solution: Solution, net: str) -> bool:
    """Whether it is a live end of a winding or of the mains, and not a level of anything."""
    wave = solution.waves[net]
    reach = max(wave.high - wave.dc, wave.dc - wave.low)
    return reach > SWINGS * abs(wave.dc) and reach > LEAST_SWING_V


LEAST_SWING_V = 30.0
"""Below this a net may swing through gnd and still have its rung: a heater line."""


def _links(case: Case, solution: Solution, windows: Sequence[LiftWindow]) -> Iterator[Link]:
    lines = {t.name: line for line in heater_lines(case.circuit) for t in line.tubes}
    found = {w.winding: w for w in windows}
    for section in case.circuit.sections():
        cathode = _mean(solution, section.cathode_nets)
        if cathode is None or section.tube in solution.state.pulled:
            continue
        line = lines.get(section.tube)
        window = None if line is None else _window(case, solution, section, line, found)
        plate, grid, screen = (
            _rung_dc(solution, section.net(e)) for e in ("plate", "grid", "screen")
        )
        kind = case.circuit.tubes[section.tube].type.name
        yield Link(section.name, kind, cathode, plate, grid, screen, window)


def _mean(solution: Solution, nets: Sequence[str]) -> float | None:
    waves = [solution.waves.get(n) for n in nets]
    known = [w.dc for w in waves if w is not None]
    return sum(known) / len(known) if known and len(known) == len(waves) else None


def _rung_dc(solution: Solution, net: str | None) -> float | None:
    wave = None if net is None else solution.waves.get(net)
    return None if net is None or wave is None or _swings(solution, net) else wave.dc


def _window(
    case: Case,
    solution: Solution,
    section: Section,
    line: HeaterLine,
    windows: Mapping[str, LiftWindow],
) -> Window | None:
    tube = case.circuit.tubes[section.tube]
    if not liftable(line) or not insulated(tube):
        return None
    room = section_room(case, line, tube, section, solution)
    whole = windows[line.name].room if line.name in windows else None
    waves = [w for n in line.windings[0].nets if (w := solution.waves.get(n)) is not None]
    return Window(
        line.name,
        level_of(line, solution),
        min((w.low for w in waves), default=None),
        max((w.high for w in waves), default=None),
        room.least if isfinite(room.least) else None,
        room.most if isfinite(room.most) else None,
        *_closes(whole, section, solution),
    )


def _closes(whole: Room | None, section: Section, solution: Solution) -> tuple[bool, bool]:
    ends = (None, None) if whole is None else (whole.low, whole.high)
    here = (section.name, solution.state.name)
    low, high = ((e is not None and (e.section, e.state) == here) for e in ends)
    return low, high


def rung_range(columns: Sequence[Column]) -> tuple[float, float]:
    """The lowest and highest volts that any column has to show, windows apart; 0 is inside."""
    every = [0.0]
    for column in columns:
        every += [v for r in column.rungs for v in (r.low, r.high)]
        heaters = [x.window for x in column.links if x.window is not None]
        every += [v for w in heaters for v in (w.low, w.high) if v is not None]
    return min(every), max(every)
