"""Does the diagnosis find the fault? Random single faults in random copies of each sample.

A trial: a copy of the sample with every part somewhere within its tolerance (``copies``), one
suspect drawn evenly from all there are, its size (where it has one) evenly in the logarithm between
its least and greatest, ten readings with 1 % noise and the load of a 10 megohm meter. Which
reading comes next is what the tool itself suggests at that moment, from nothing onwards. The
truth is solved at the drawn size and values, nonlinearly; the diagnosis knows the nominal drawing,
sizes on a grid, and tolerances to first order.
"""

from __future__ import annotations

import math
import zlib
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING

from tests.diagnosed.copies import copy_of

from coldcheck.bench.diagnosis import APART, Diagnosis
from coldcheck.bench.library import library_of, scaled
from coldcheck.bench.readings import AC
from coldcheck.bench.suspects import GOOD, suspects_of
from coldcheck.circuit import build_circuit
from coldcheck.drawing import read_drawing
from coldcheck.solve.fault import DEAD, WEAK, Fault
from coldcheck.solve.fault_spread import Shown, SpreadSolver, read_dc
from coldcheck.solve.settling import EMISSION_SHARE

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from coldcheck.bench.library import Library
    from coldcheck.bench.suspects import Suspect
    from coldcheck.circuit.model import Circuit

SAMPLES = Path(__file__).parents[2] / "samples"
TRIALS, READINGS, NOISE, METER_OHM = 200, 10, 0.01, 10e6
FAULTS_A_COPY = 8
"""A copy is solved once and then has eight faults in turn."""

FEEDING = ("winding", "fuse", "heater", "thermistor", "lamp")
"""Kinds of branches that can take the heaters' voltage away."""

TRIES = 20


@dataclass(frozen=True, slots=True)
class Trial:
    """What came of one fault.

    hidden
        Its ten readings do not differ from a sound circuit's by more than what cannot be told
        apart.
    alone
        It stood first by itself, or first of its group.
    first, third
        It was in the first group, in one of the first three places or groups.
    group
        Suspects in the first group.
    """

    fault: str
    size: float
    hidden: bool
    alone: bool
    first: bool
    third: bool
    group: int
    answer: str


def circuit_of(sample: str) -> Circuit:
    """A sample's circuit."""
    return build_circuit(read_drawing(str(SAMPLES / f"{sample}.tube")))


def samples() -> list[str]:
    """The names of all samples."""
    return sorted(p.stem for p in SAMPLES.glob("*.tube"))


def trials(
    sample: str, count: int = TRIALS, seed: int = 6, library: Library | None = None
) -> Iterator[Trial]:
    """The trials of a sample; the same for the same seed."""
    circuit = circuit_of(sample)
    library = library or library_of(circuit, suspects_of(circuit))
    random = Random(zlib.crc32(sample.encode()) + seed)
    done = 0
    while done < count:
        solver, tubes = _copy(circuit, random)
        for _ in range(min(FAULTS_A_COPY, count - done)):
            yield _trial(library, solver, tubes, random)
            done += 1


def run(task: tuple[str, int]) -> tuple[str, list[Trial]]:
    """A sample's trials, for a process of its own."""
    sample, count = task
    return sample, list(trials(sample, count))


def _copy(circuit: Circuit, random: Random) -> tuple[SpreadSolver, tuple[Fault, ...]]:
    for _ in range(TRIES):
        copy, tubes = copy_of(circuit, random)
        solver = SpreadSolver(copy)
        if solver.good().converged:
            return solver, tubes
    raise RuntimeError("no copy of the sample could be solved")


def _trial(
    library: Library, solver: SpreadSolver, tubes: tuple[Fault, ...], random: Random
) -> Trial:
    for _ in range(TRIES):
        suspect, size, faults = _drawn(library, random)
        cold = _cold(solver, suspect, faults)
        warm = [t for t in tubes if t.part not in cold]
        together = _together(warm, faults)
        truth = solver.shown(together, deviations=False)
        if isinstance(truth, Shown):
            bench = Bench(solver, together, truth, random)
            return _judged(library, suspect, size, _diagnosed(library, bench))
    raise RuntimeError("no fault of the sample could be solved")


def _drawn(library: Library, random: Random) -> tuple[Suspect, float, tuple[Fault, ...]]:
    known = [s for s in library.suspects if s is not GOOD and s.key not in library.unsolved]
    suspect = random.choice(known)
    if not suspect.sized:
        return suspect, 0.0, suspect.cases[0].faults
    ends = [math.log(c.size) for c in suspect.cases]
    size = math.exp(random.uniform(min(ends), max(ends)))
    (fault,) = suspect.cases[0].faults
    return suspect, size, (Fault(fault.kind, fault.part, size),)


def _cold(solver: SpreadSolver, suspect: Suspect, faults: tuple[Fault, ...]) -> set[str]:
    """The tubes whose heaters get too little with the faults: they have no emission to differ."""
    branch = solver.circuit.branches.get(suspect.parts[0])
    if suspect.kind != "contact" and (branch is None or branch.kind not in FEEDING):
        return set()
    heated = solver.solve(faults).readings
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
    random: Random

    def read(self, kind: str, net: str) -> float:
        """A reading with noise; what has no number reads nothing."""
        at = self.truth.nets.index(net)
        if kind == AC:
            volts = float(self.truth.ac[at])
        else:
            volts = read_dc(self.solver, self.faults, self.truth, at, METER_OHM)
        shown = 0.0 if math.isnan(volts) else volts * (1 + NOISE * self.random.gauss(0, 1))
        return round(shown, 3)


def _diagnosed(library: Library, bench: Bench) -> Diagnosis:
    diagnosis = Diagnosis(library)
    for _ in range(READINGS):
        (wanted,) = diagnosis.next_points(1)
        channel = library.channels.index(wanted.channel)
        kind, net = wanted.channel.kind, wanted.channel.net
        diagnosis.take_value(channel, scaled(kind, bench.read(kind, net)))
    return diagnosis


def _judged(library: Library, suspect: Suspect, size: float, diagnosis: Diagnosis) -> Trial:
    groups = diagnosis.groups()
    ranked = [r.suspect.key for g in groups for r in g]
    keys = [{r.suspect.key for r in g} for g in groups]
    key = suspect.key
    first = key in keys[0]
    third = any(key in k for k in keys[:3]) or key in [
        r.suspect.key for r in diagnosis.ranked()[:3]
    ]
    return Trial(
        key, size, _hidden(library, suspect, size, diagnosis), ranked[0] == key, first, third,
        len(keys[0]), ranked[0],
    )  # fmt: skip


def _hidden(library: Library, suspect: Suspect, size: float, diagnosis: Diagnosis) -> bool:
    """Whether the readings that were taken would not tell this fault from none."""
    place = library.suspects.index(suspect)
    models = [m for m, owner in enumerate(library.owner) if owner == place]
    nearest = min(models, key=lambda m: abs(math.log((library.size[m] or 1) / (size or 1))))
    return bool(diagnosis.apart([nearest], 0)[0] <= APART)
