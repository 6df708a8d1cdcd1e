"""Does the diagnosis find the fault? Random single faults in random copies of each sample.

A trial: a copy of the sample with every part somewhere within its tolerance (``copies``), one
suspect drawn evenly from all there are, its size (where it has one) evenly in the logarithm between
its least and greatest, ten readings with 1 % noise, DC with the load of a 10 megohm meter. They are
taken in two ways:

``asked``
    Each where the tool itself suggests it at that moment, from nothing onwards; volts and, with
    the power off, ohms.
``round``
    A round settled beforehand, the same for every fault of a sample: DC at plates, cathodes,
    screens, then grids and rails, ten points in that order (:func:`round_of`).

The truth is solved at the drawn size and values by the ordinary solver, nothing linear and nothing
taken over from the good circuit but the start; the diagnosis knows the nominal drawing, sizes on a
grid, and tolerances to first order. What the copies are drawn from are the same tolerances, and the
laws of the parts are the same.
"""

from __future__ import annotations

import math
import zlib
from dataclasses import dataclass, replace
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING

from tests.diagnosed.copies import copy_of

from coldcheck.bench.chart.ohmmeter import Ohmmeter
from coldcheck.bench.diagnosis.channels import scaled
from coldcheck.bench.diagnosis.diagnosis import APART, Diagnosis
from coldcheck.bench.diagnosis.library import library_of
from coldcheck.bench.diagnosis.readings import AC, DC, OHM
from coldcheck.bench.diagnosis.rewired import rewired
from coldcheck.bench.diagnosis.suspects import GOOD, suspects_of
from coldcheck.circuit import build_circuit
from coldcheck.circuit.paths import Change
from coldcheck.drawing import read_drawing
from coldcheck.drawing.kinds import PartKind
from coldcheck.solve.cycle.settling import EMISSION_SHARE
from coldcheck.solve.faults.fault import DEAD, THROWN, WEAK, Fault, altered
from coldcheck.solve.faults.spread import Shown, SpreadSolver, read_dc

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from coldcheck.bench.diagnosis.library import Library
    from coldcheck.bench.diagnosis.suspects import Case, Suspect
    from coldcheck.circuit.model import Circuit

SAMPLES = Path(__file__).parents[2] / "samples"
TRIALS, READINGS, NOISE, METER_OHM = 200, 10, 0.01, 10e6
SEED = 4711
"""Of the recorded table. The method was worked on with others."""

FAULTS_A_COPY = 8
"""A copy is solved once and then has eight faults in turn."""

FEEDING = (PartKind.WINDING, PartKind.FUSE, PartKind.HEATER, PartKind.THERMISTOR, PartKind.LAMP)
"""Kinds of branches that can take the heaters' voltage away."""

TRIES = 20
ELECTRODES = ("plate", "plate1", "cathode", "screen", "grid", "f1")
WAYS = ("asked", "round")


class Ordinary(SpreadSolver):
    """Solves every fault by the ordinary route, without the low-rank updates the library uses."""

    def _known(self, state: str):
        good = super()._known(state)
        good.base = None
        return good


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of ten readings.

    hidden
        They do not differ from a sound circuit's by more than what cannot be told apart.
    alone
        The true fault stood first by itself, or first of its group.
    first
        It was in the first group.
    third
        It was in the first group or among the first three suspects, each counted by itself.
    group
        Suspects in the first group.
    """

    hidden: bool
    alone: bool
    first: bool
    third: bool
    group: int
    answer: str


@dataclass(frozen=True, slots=True)
class Trial:
    """A fault and what came of it, by either way of taking readings."""

    fault: str
    kind: str
    size: float
    outcomes: tuple[Outcome, ...]


def circuit_of(sample: str) -> Circuit:
    """A sample's circuit."""
    return build_circuit(read_drawing(str(SAMPLES / f"{sample}.tube")))


def samples() -> list[str]:
    """The names of all samples."""
    return sorted(p.stem for p in SAMPLES.glob("*.tube"))


def trials(
    sample: str, count: int = TRIALS, seed: int = SEED, library: Library | None = None
) -> Iterator[Trial]:
    """The trials of a sample; the same for the same seed."""
    circuit = circuit_of(sample)
    library = library or library_of(circuit, suspects_of(circuit))
    walk = only(library, round_of(circuit, library))
    random = Random(zlib.crc32(sample.encode()) + seed)
    done = 0
    while done < count:
        solver, tubes = _copy(circuit, random)
        for _ in range(min(FAULTS_A_COPY, count - done)):
            yield _trial(library, walk, solver, tubes, random)
            done += 1


def run(task: tuple[str, int, int]) -> tuple[str, list[Trial]]:
    """A sample's trials, for a process of its own."""
    sample, count, seed = task
    return sample, list(trials(sample, count, seed))


def round_of(circuit: Circuit, library: Library) -> tuple[int, ...]:
    """The channels of a technician's round: DC at the electrodes, then at what has a name."""
    nets = [s.electrodes[e] for e in ELECTRODES for s in circuit.sections() if e in s.electrodes]
    named = [c.net for c in library.channels if "." not in c.point]
    found = [library.channel(DC, net) for net in dict.fromkeys([*nets, *named])]
    return tuple(k for k in found if k is not None)[:READINGS]


def only(library: Library, kept: Sequence[int]) -> Library:
    """The library with these channels alone, in this order."""
    at = list(kept)
    return replace(
        library, channels=tuple(library.channels[k] for k in at), mean=library.mean[:, at],
        covariance=library.covariance[:, at][:, :, at], noise=library.noise[:, at],
    )  # fmt: skip


def _copy(circuit: Circuit, random: Random) -> tuple[SpreadSolver, tuple[Fault, ...]]:
    for _ in range(TRIES):
        copy, tubes = copy_of(circuit, random)
        solver = Ordinary(copy)
        if solver.good().converged:
            return solver, tubes
    raise RuntimeError("no copy of the sample could be solved")


def _trial(
    library: Library,
    walk: Library,
    solver: SpreadSolver,
    tubes: tuple[Fault, ...],
    random: Random,
) -> Trial:
    for _ in range(TRIES):
        suspect, case = drawn(library, random)
        bench = bench_of(solver, suspect, case, tubes, random)
        if bench is not None:
            taken = (_asked(library, bench), _walked(walk, bench))
            found = tuple(_judged(suspect, case.size, d) for d in taken)
            return Trial(suspect.key, suspect.kind, case.size, found)
    raise RuntimeError("no fault of the sample could be solved")


def drawn(library: Library, random: Random) -> tuple[Suspect, Case]:
    """One of the suspects, at a size between its least and its greatest."""
    known = [s for s in library.suspects if s is not GOOD and s.key not in library.unsolved]
    suspect = random.choice(known)
    if not suspect.sized:
        return suspect, suspect.cases[0]
    ends = [math.log(c.size) for c in suspect.cases]
    size = math.exp(random.uniform(min(ends), max(ends)))
    (fault,) = suspect.cases[0].faults
    return suspect, replace(
        suspect.cases[0], size=size, faults=(Fault(fault.kind, fault.part, size),)
    )


def bench_of(
    solver: SpreadSolver, suspect: Suspect, case: Case, tubes: Sequence[Fault], random: Random
) -> Bench | None:
    """The copy with the fault on the bench; ``None`` where it cannot be solved."""
    at = solver if case.wiring is None else Ordinary(rewired(solver.circuit, case.wiring))
    cold = _cold(at, suspect, case)
    together = _together([t for t in tubes if t.part not in cold], case.faults)
    truth = at.shown(together, deviations=False)
    if not isinstance(truth, Shown):
        return None
    thrown = frozenset(x.part for x in case.faults if x.kind == THROWN)
    ohms = Ohmmeter(altered(at.circuit, case.faults), Change(thrown=thrown))
    return Bench(at, together, truth, ohms, random)


def _cold(solver: SpreadSolver, suspect: Suspect, case: Case) -> set[str]:
    """The tubes whose heaters get too little with the fault: they have no emission to differ."""
    branch = solver.circuit.branches.get(suspect.parts[0])
    feeds = branch is not None and branch.kind in FEEDING
    if suspect.kind not in ("contact", "lead", "exchanged") and not feeds:
        return set()
    heated = (solver.solve(case.faults) if case.faults else solver.good()).readings
    found = set()
    for section in solver.circuit.sections():
        heater, reading = solver.circuit.tubes[section.tube].heater, heated.get(section.name)
        volts = None if reading is None else reading.heater_v
        if heater is None or volts is None:
            continue
        if volts < EMISSION_SHARE * float(heater.volts.m_as("volt")):
            found.add(section.tube)
    return found


def _together(tubes: Sequence[Fault], faults: tuple[Fault, ...]) -> tuple[Fault, ...]:
    """The tubes' own emission and the fault; a weak tube is weak by that much."""
    gone = {x.part for x in faults if x.kind in (DEAD, WEAK)}
    return (*(t for t in tubes if t.part not in gone), *faults)


@dataclass(slots=True)
class Bench:
    """A faulty copy with a meter: what it reads."""

    solver: SpreadSolver
    faults: tuple[Fault, ...]
    truth: Shown
    ohms: Ohmmeter
    random: Random

    def read(self, kind: str, net: str) -> float:
        """A reading with noise; what has no number reads nothing."""
        value = self._exact(kind, net)
        if value is None or math.isnan(value):
            return 0.0
        return round(value * (1 + NOISE * self.random.gauss(0, 1)), 3)

    def _exact(self, kind: str, net: str) -> float | None:
        if kind == OHM:
            return self.ohms.read(net).nominal
        if net not in self.truth.nets:
            return None
        at = self.truth.nets.index(net)
        if kind == AC:
            return float(self.truth.ac[at])
        return read_dc(self.solver, self.faults, self.truth, at, METER_OHM)


def _asked(library: Library, bench: Bench) -> Diagnosis:
    diagnosis = Diagnosis(library)
    for _ in range(READINGS):
        (wanted,) = diagnosis.next_points(1)
        _take(diagnosis, bench, library.channels.index(wanted.channel))
    return diagnosis


def _walked(walk: Library, bench: Bench) -> Diagnosis:
    diagnosis = Diagnosis(walk)
    for channel in range(len(walk.channels)):
        _take(diagnosis, bench, channel)
    return diagnosis


def _take(diagnosis: Diagnosis, bench: Bench, place: int) -> None:
    channel = diagnosis.library.channels[place]
    value = bench.read(channel.kind, channel.net)
    diagnosis.take_value(place, scaled(channel.kind, value))


def _judged(suspect: Suspect, size: float, diagnosis: Diagnosis) -> Outcome:
    groups, ranked = diagnosis.groups(), diagnosis.ranked()
    leading, key = [r.suspect.key for r in groups[0]], suspect.key
    first = key in leading
    third = first or key in [r.suspect.key for r in ranked[:3]]
    hidden = _hidden(suspect, size, diagnosis)
    return Outcome(hidden, leading[0] == key, first, third, len(leading), leading[0])


def _hidden(suspect: Suspect, size: float, diagnosis: Diagnosis) -> bool:
    """Whether the readings that were taken would not tell this fault from none."""
    library = diagnosis.library
    place = library.suspects.index(suspect)
    models = [m for m, owner in enumerate(library.owner) if owner == place]
    nearest = min(models, key=lambda m: abs(math.log((library.size[m] or 1) / (size or 1))))
    return bool(diagnosis.apart([nearest], 0)[0] <= APART)
