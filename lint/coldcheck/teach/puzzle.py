"""Readings of a set with one faulty part, and faults to choose from.

The readings are those the circuit would give with the fault, worked out by the solver; every other
answer offered would show otherwise at one of the points at least, by more than parts spread.
"""

from __future__ import annotations

import random
from functools import cache
from typing import TYPE_CHECKING, Self, assert_never

from coldcheck.anatomy.neighbourhood import is_own
from coldcheck.bench.faults.listing import every_fault
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing import parse_drawing
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import volt_digits
from coldcheck.records import dataclass
from coldcheck.settings.apply import circuit_of
from coldcheck.settings.model import DEFAULTS
from coldcheck.solve.faults import fault as f
from coldcheck.solve.faults.solver import FaultSolver
from coldcheck.teach.choices import Degree
from coldcheck.teach.clean import samples
from coldcheck.teach.neutral import bare
from coldcheck.verdict.pairs import folder

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from coldcheck.circuit.model import Circuit
    from coldcheck.settings.model import Settings
    from coldcheck.solve.faults.fault import Fault
    from coldcheck.solve.solution import Solution

CHOICES = 4
MOST_POINTS = 14
"""Points a pupil is given readings of."""

SURELY_VOLTS, SURELY_SHARE = 1.0, 0.15
"""How far two readings are apart that parts and tubes within their tolerance do not explain:
volts, and of the larger one (common practice: charts allow 10 to 20 %)."""

DEAD = 0.5
"""Volts below which a point has nothing to tell in any case."""

NIL = 0.05
"""Volts below which a meter is said to show none."""

PER_SET = 3
"""Puzzles made of one sample before the next has its turn."""

BLOWS = 1.6
"""Times its current in the sound set from which a fuse or a winding would not last."""


@dataclass(frozen=True, slots=True)
class Reading:
    """DC volts to gnd at a point: in the sound set, and as read; ``None``: no steady number."""

    point: str
    sound: float | None
    read: float | None


@dataclass(frozen=True, slots=True)
class Puzzle:
    """A sound drawing, readings of it with a fault, and faults to choose from.

    others
        For each choice, in order, what the points would show with it.
    """

    circuit: Circuit
    readings: tuple[Reading, ...]
    choices: tuple[Fault, ...]
    fault: Fault
    others: tuple[tuple[float | None, ...], ...]
    degree: Degree

    @property
    def answer(self) -> int:
        """The number of the right choice, from 1."""
        return self.choices.index(self.fault) + 1

    @property
    def hints(self) -> tuple[str, ...]:
        """Where it shows most, and what kind of fault it is."""
        most = max(self.readings, key=_moved)
        kind = f.Fault(self.fault.kind, "a part", self.fault.magnitude).name
        return (f"Begin at {most.point}.", f"The fault is: {kind}.")


def worded(volts: float | None) -> str:
    """A reading as one writes it down."""
    if volts is None:
        return "none steady"
    return f"{volt_digits(volts)} V" if abs(volts) >= NIL else "0 V"


@dataclass(frozen=True, slots=True)
class Bench:
    """A sound circuit with what each of its faults would show: solutions by fault."""

    circuit: Circuit
    sound: Solution
    faulty: Mapping[Fault, Solution]

    @classmethod
    def of(cls, text: str, name: str, settings: Settings = DEFAULTS) -> Self:
        """From a drawing's text. Raises ValueError for one without a warm state."""
        drawing = parse_drawing(text, name)
        circuit = circuit_of(drawing, settings)
        if drawing.problems or circuit.problems:
            raise ValueError(f"{name} could not be read")
        solver = FaultSolver(circuit)
        faults = [fault for fault in every_fault(circuit) if _usual(circuit, fault)]
        sound = solver.good()
        if not sound.converged:
            raise ValueError(f"its warm state is not solved: {sound.reason}")
        solved = zip(faults, solver.solve_all(faults), strict=True)
        return cls(circuit, sound, {x: s for x, s in solved if s.converged and _lasts(s, sound)})

    def volts(self, solution: Solution, point: str) -> float | None:
        """DC to gnd of a point."""
        wave = solution.wave(self.circuit.points[point])
        return None if wave is None else wave.dc

    def row(self, solution: Solution, points: Sequence[str]) -> tuple[float | None, ...]:
        """DC to gnd of some points."""
        return tuple(self.volts(solution, point) for point in points)


def puzzles(seed: int, count: int, degree: Degree) -> Iterator[Puzzle]:
    """``count`` puzzles of the samples, the same for the same arguments."""
    chance = random.Random(seed)
    names = list(samples(folder().parent)) * PER_SET
    chance.shuffle(names)
    made = (_puzzle(_sample(name), degree, chance) for name in names)
    return _first(count, made)


def puzzles_of(bench: Bench, seed: int, count: int, degree: Degree) -> Iterator[Puzzle]:
    """``count`` puzzles of one drawing; fewer where it has not so many faults that show."""
    chance = random.Random(seed)
    return _first(count, (_puzzle(bench, degree, chance) for _ in bench.faulty))


def _first(count: int, made: Iterator[Puzzle | None]) -> Iterator[Puzzle]:
    """As many, none of a fault that was there before."""
    seen: set[tuple[str, Fault]] = set()
    for puzzle in made:
        if len(seen) == count:
            return
        if puzzle is None or (puzzle.circuit.drawing.file, puzzle.fault) in seen:
            continue
        seen.add((puzzle.circuit.drawing.file, puzzle.fault))
        yield puzzle


@cache
def _sample(name: str) -> Bench:
    text = (folder().parent / f"{name}.tube").read_text(encoding="utf-8")
    return Bench.of(bare(text, promises=False), name)


def _usual(circuit: Circuit, fault: Fault) -> bool:
    """Faults of parts that one meets: resistors open, capacitors short or leak, tubes age.

    Windings, and what is seen at once (a socket empty, a switch thrown), are left out.
    """
    branch = circuit.branches.get(fault.part)
    if fault.kind in (f.WEAK, f.GASSY, f.HEATER_CATHODE):
        return True
    if branch is None or "." in fault.part:
        return False
    if branch.kind is PartKind.CAPACITOR:
        return fault.kind in (f.OPEN, f.SHORT, f.LEAK)
    return branch.traits.steady and fault.kind == f.OPEN


def _lasts(faulty: Solution, sound: Solution) -> bool:
    """Whether nothing would open or burn before one has read anything."""
    for name, branch in sound.circuit.branches.items():
        if branch.kind in (PartKind.FUSE, PartKind.WINDING):
            was, now = sound.current(name), faulty.current(name)
            if was is not None and now is not None and now.rms > BLOWS * was.rms + 1e-3:
                return False
    return True


def apart(a: float | None, b: float | None) -> bool:
    """Whether a meter tells two readings apart whatever the tolerances."""
    if a is None or b is None:
        return False
    return abs(a - b) > max(SURELY_VOLTS, SURELY_SHARE * max(abs(a), abs(b)))


def _points(circuit: Circuit) -> list[str]:
    """Plates, screens, cathodes and the points with names of their own, each net once."""
    leads = [f"{s.name}.{e}" for s in circuit.sections() for e in s.electrodes if e in _READ]
    named = [p for p in circuit.points if is_own(p) and p in circuit.names]
    nets: dict[str, str] = {}
    for point in (*named, *leads):
        if point in circuit.points and circuit.points[point] not in LANDMARKS:
            nets.setdefault(circuit.points[point], point)
    return list(nets.values())


_READ = ("plate", "screen", "cathode", "plate1", "f1")
"""Electrodes at which a meter reads what is there; a grid's it would pull down."""


def _puzzle(bench: Bench, degree: Degree, chance: random.Random) -> Puzzle | None:
    points = [p for p in _points(bench.circuit) if bench.volts(bench.sound, p) is not None]
    sound = bench.row(bench.sound, points)
    rows = {fault: bench.row(s, points) for fault, s in bench.faulty.items()}
    shows = [x for x, row in rows.items() if _differ(row, sound)]
    if not shows:
        return None
    right = chance.choice(shows)
    others = [x for x in shows if _differ(rows[x], rows[right])]
    chance.shuffle(others)
    others = _chosen(others, rows, right, degree)
    if len(others) < CHOICES - 1:
        return None
    choices = [right, *others]
    chance.shuffle(choices)
    kept = _kept(sound, [rows[x] for x in choices])
    return Puzzle(
        bench.circuit,
        tuple(Reading(points[n], sound[n], rows[right][n]) for n in kept),
        tuple(choices),
        right,
        tuple(tuple(rows[x][n] for n in kept) for x in choices),
        degree,
    )


def _differ(a: Sequence[float | None], b: Sequence[float | None]) -> bool:
    return any(apart(x, y) for x, y in zip(a, b, strict=True))


def _chosen(
    others: list[Fault],
    rows: Mapping[Fault, Sequence[float | None]],
    right: Fault,
    degree: Degree,
) -> list[Fault]:
    """Wrong answers: far from what is read where the drill is easy, near where it is hard."""

    def far(fault: Fault) -> int:
        return sum(apart(a, b) for a, b in zip(rows[fault], rows[right], strict=True))

    match degree:
        case Degree.EASY:
            others.sort(key=lambda x: -far(x))
        case Degree.FAIR:
            pass
        case Degree.HARD:
            others.sort(key=far)
        case _:
            assert_never(degree)
    return others[: CHOICES - 1]


def _kept(sound: Sequence[float | None], rows: list[Sequence[float | None]]) -> list[int]:
    """The points that tell most, in the order of the drawing."""
    told = [sum(apart(row[n], sound[n]) for row in rows) for n in range(len(sound))]
    alive = [n for n in range(len(sound)) if any(abs(r[n] or 0.0) > DEAD for r in (sound, *rows))]
    best = sorted(alive, key=lambda n: (-told[n], n))[:MOST_POINTS]
    return sorted(best)


def _moved(reading: Reading) -> float:
    if reading.sound is None or reading.read is None:
        return 0.0
    return abs(reading.read - reading.sound) / (SURELY_VOLTS + abs(reading.sound))
