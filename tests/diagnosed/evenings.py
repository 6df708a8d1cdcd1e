"""Evenings at the bench: faults from experience, readings from an independent integration.

Each trial is a copy of a drawing (values, tubes and mains anywhere within their tolerances) with
one fault of :mod:`tests.diagnosed.experience`, or two, integrated in time until it is at rest
(:mod:`tests.diagnosed.integrated`). The diagnosis asks for fourteen readings, each of which is
taken with a 10 megohm meter in the integrated circuit, with 1 % of noise; ohms with the plug
pulled.
What does not come to rest within the time given is left out, and counted.
"""

from __future__ import annotations

import zlib
from dataclasses import asdict, dataclass
from pathlib import Path
from random import Random

import numpy as np
from tests.diagnosed.copies import copy_of
from tests.diagnosed.experience import drawn
from tests.diagnosed.integrated import HEARD, READING, Bench, Sheet, Wrong, settle, stamped

from coldcheck.bench.diagnosis.channels import scaled
from coldcheck.bench.diagnosis.diagnosis import Diagnosis
from coldcheck.bench.diagnosis.doubles import wanted, with_pairs
from coldcheck.bench.diagnosis.known import Known
from coldcheck.bench.diagnosis.library import models_for
from coldcheck.bench.diagnosis.readings import AC, DC, OHM, SIGNAL
from coldcheck.bench.diagnosis.suspects import GOOD, TWO
from coldcheck.bench.instruments.instruments import DC_METER
from coldcheck.circuit import build_circuit
from coldcheck.circuit.model import GROUND
from coldcheck.drawing import read_drawing
from coldcheck.drawing.kinds import PartKind
from coldcheck.solve.faults.spread import SpreadSolver

SAMPLES = Path(__file__).parents[2] / "samples"
SEED = 8128
"""Of the recorded figures, which nobody had looked at: the method was worked on with 11 to 13, 2024
and 4711."""

NOISE, METER_OHM = 0.01, 10e6
READINGS, LARGEST, CONFIDENT, BEYOND = 14, 5, 0.9, 0.5
PAIRS_FROM = 9
EVENINGS = {"harbour-light": (40, 12), "twin-quay": (32,)}
"""Samples, and how many trials of each with one fault, and with two where that was recorded."""

ASIDE = {"breakwater": (24,)}
"""Those that are not in the record, and run when they are named: they take longest."""


@dataclass(frozen=True)
class Evening:
    """What came of one trial.

    first, third
        The true cause (or one of two) is first or in a group of at most five there; is there or
        among the first three suspects. ``both``: of two, both are in the first three.
    shown
        Whether anything showed: the answer is not "nothing that these readings show".
    outside
        The answer is that it is nothing that is known.
    share
        What was told of the first group; 0 where nothing was. ``wrong``: told at 90 % and not so.
    """

    fault: str
    answer: str
    first: bool
    third: bool
    both: bool
    shown: bool
    outside: bool
    share: float
    wrong: bool


def circuit_of(sample):
    """A sample's circuit."""
    return build_circuit(read_drawing(str(SAMPLES / f"{sample}.tube")))


def evenings(sample, count, seed, faults=1):
    """The trials of a sample with one or two faults each, and how many never came to rest."""
    circuit = circuit_of(sample)
    known = Known(circuit, DC_METER)
    library = known.library()
    good = SpreadSolver(circuit).shown(())
    volts = dict(zip(good.nets, np.nan_to_num(good.volts).tolist(), strict=True))
    random = Random(zlib.crc32(f"{sample} {faults}".encode()) + seed)
    sheet = Sheet(circuit)
    start = np.zeros(sheet.size)
    for net, v in volts.items():
        start[sheet.nets[net]] = v
    copies, truths, wrongs = [], [], []
    for _ in range(count):
        copy, tubes = copy_of(circuit, random)
        truth = [drawn(circuit, volts, random) for _ in range(faults)]
        wrong = truth[0].wrong
        for more in truth[1:]:
            wrong = wrong.and_(more.wrong)
        for tube in tubes:
            share = wrong.emission.get(tube.part, 1.0) * tube.magnitude
            wrong.emission[tube.part] = share
        copies.append(copy)
        truths.append(truth)
        wrongs.append(wrong)
    bench = Bench(sheet, copies, wrongs, start)
    rests = settle(bench, {c.net for c in library.channels if c.kind == DC})
    found = _asked(bench, library, known, wrongs, random)
    kept = [(t, d) for t, d, ok in zip(truths, found, rests, strict=True) if ok]
    return [_judged(t, d) for t, d in kept], int((~rests).sum())


def _asked(bench, library, known, wrongs, random):
    models = models_for(known.models(), library)
    taken = [[] for _ in bench.circuits]
    asking = [Diagnosis(library) for _ in bench.circuits]
    for turn in range(READINGS):
        channels = [library.channels.index(d.next_points(1)[0].channel) for d in asking]
        values = _read(bench, [library.channels[k] for k in channels], wrongs)
        for k, (channel, value) in enumerate(zip(channels, values, strict=True)):
            noisy = value * (1 + NOISE * random.gauss(0, 1))
            taken[k].append((channel, scaled(library.channels[channel].kind, noisy)))
            asking[k].take_value(*taken[k][-1])
            if turn + 1 in (PAIRS_FROM, READINGS) and wanted(asking[k]):
                asking[k] = Diagnosis(library)
                for one in taken[k]:
                    asking[k].take_value(*one)
                asking[k] = with_pairs(asking[k], models)
    return asking


def _read(bench, channels, wrongs):
    """What the meter shows of each copy at its own point."""
    out = np.zeros(len(channels))
    heard = [k for k, c in enumerate(channels) if c.kind == SIGNAL]
    seen = [k for k, c in enumerate(channels) if c.kind in (DC, AC)]
    for who, alone, cycles in ((heard, bench.hearing, HEARD), (seen, bench.part, READING)):
        if who:
            some, at = alone(np.array(who)), [bench.sheet.nets[channels[k].net] for k in who]
            some.load(at, METER_OHM)
            mean, rms = some.cycles(cycles)
            volts = [mean if channels[k].kind == DC else rms for k in who]
            out[who] = np.nan_to_num(
                [v[row, net] for row, (v, net) in enumerate(zip(volts, at, strict=True))]
            )
    for k, channel in enumerate(channels):
        if channel.kind == OHM:
            out[k] = ohms(bench.sheet, bench.circuits[k], wrongs[k], channel)
    return out.tolist()


def ohms(sheet, circuit, wrong, channel):
    """An ohmmeter to gnd or another net, plugs pulled: neither tubes nor silicon conduct."""
    unplugged = {b.name for b in circuit.branches.values() if b.kind is PartKind.SIGNAL}
    g, *_ = stamped(sheet, circuit, wrong.and_(Wrong(cut=unplugged)))
    for name, row in sheet.rows.items():  # cores have no emf, the mains is not there
        if name.startswith("core "):
            g[:, row] = g[row, :] = 0.0
            g[row, row] = 1.0
    row = sheet.rows["mains"]
    g[:, row] = g[row, :] = 0.0
    g[row, row] = 1.0
    tips = np.zeros(sheet.size)
    tips[sheet.nets[channel.net]] = 1.0
    if channel.other != GROUND:
        tips[sheet.nets[channel.other]] = -1.0
    return float(tips @ np.linalg.solve(g, tips))


def says(suspect, truth):
    """Whether a suspect is the true cause, or one of two that are."""
    if suspect.kind == TWO:
        return any(_names(key, truth) for key in suspect.key.split(" + "))
    return suspect.kind in truth.kinds and truth.part in suspect.parts


def _names(key, truth):
    words = key.split(" ")
    return truth.part in words and any(k in words for k in truth.kinds)


def _judged(truth, diagnosis):
    groups, ranked = diagnosis.groups(), diagnosis.ranked()
    leading = [r.suspect for r in groups[0]]
    outside = diagnosis.outside >= BEYOND or all(r.refuted for r in groups[0])
    shown = GOOD not in leading
    three = [r.suspect for r in ranked[:3]] + (leading if len(leading) <= LARGEST else [])

    def holds(some, t):
        return any(says(s, t) for s in some)

    known = [t for t in truth if t.kinds]
    first = shown and not outside and len(leading) <= LARGEST
    first = first and any(holds(leading, t) for t in known)
    third = shown and not outside and any(holds(three, t) for t in known)
    both = not outside and bool(known) and all(holds(three, t) for t in truth)
    share = 0.0 if outside or not shown else sum(r.share for r in groups[0])
    wrong = share >= CONFIDENT and not any(holds(leading, t) for t in known)
    names = " & ".join(t.name for t in truth)
    answer = leading[0].key + (f" and {len(leading) - 1} more" if len(leading) > 1 else "")
    return Evening(names, answer, first, third, both, shown, outside, share, wrong)


def run(task):
    """A sample's trials, for a process of its own."""
    sample, count, seed, faults = task
    found, restless = evenings(sample, count, seed, faults)
    return sample, faults, restless, [asdict(e) for e in found]
