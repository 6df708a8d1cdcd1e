"""Faulty circuits integrated in time, many at once, with the meter that reads them in them.

Nothing here knows the solver's matrices, harmonics or low-rank changes: charge on capacitors, flux
in chokes and cores, Ohm's law, step by step by the second-order backward difference from a set
that works until cycle after cycle is the same. What it shares with the solver: the laws of tubes
and silicon, and what a drawing means where it says nothing (a winding's copper, a fuse's ohms).
"""

from __future__ import annotations

import math
from copy import copy
from dataclasses import dataclass, field

import numpy as np

from coldcheck.circuit.kinds import Contact
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.solve.cycle.diodes import SILICON_IS, SILICON_NVT, SILICON_RS
from coldcheck.solve.cycle.network import (
    branch_ohms,
    choke,
    no_load_factor,
    output_ohms,
    plain,
    winding_ohms,
)
from coldcheck.solve.signal.small_signal import frequency_of
from coldcheck.solve.solution import WARM, State
from coldcheck.solve.tubes.laws import law_for

STEPS = 80
"""Of a cycle."""

SETTLING, AGAIN, READING = 60, 60, 15
"""Cycles before the first look, before the next, and with a meter on a point."""

HEARING, HEARD = 400, 3
"""Of a cycle, with a signal of some kilohertz on, and cycles of it with a meter on a point."""

STILL_V, STILL = 0.03, 0.002
"""What a point may move by from one look to the next: volts, and of its volts."""

MOVING = ("x", "before", "u", "failed")
"""What changes of copies while they are integrated."""

LEAP, LEAST_STEP, SLOW, FARTHEST = 30, 1e-4, (0.3, 0.998), 100.0
"""Cycles between looks at what creeps, the least step, the ratios of steps that are a creeping
and no swing, and the farthest that it is put, volts."""

INSULATION_S, CORE_H, CONTACT, FUSE = 2e-10, 1.0, 0.01, 0.05
SCALE = 200.0
GIVEN_UP = 300
"""Instants without an answer after which a copy is left out."""

CLIPPED, NEWTON, ARRIVED = 60.0, 60, 1e-5
LIKE_A_RESISTOR = (
    PartKind.RESISTOR, PartKind.POT, PartKind.SPEAKER, PartKind.HEATER, PartKind.LAMP,
    PartKind.SIGNAL, PartKind.THERMISTOR,
)  # fmt: skip


@dataclass(slots=True)
class Wrong:
    """What is wrong with a copy: the parts' values as they are, by names of branches and tubes.

    ``times`` multiplies a value, ``across`` is ohms beside a part, ``into`` ohms in series,
    ``between`` ohms from net to net, ``emission`` a tube's share, ``gas`` amperes out of a
    section's grid, ``turns`` a winding's share of its voltage; ``cut`` are parts that are open.
    """

    times: dict[str, float] = field(default_factory=dict)
    across: dict[str, float] = field(default_factory=dict)
    into: dict[str, float] = field(default_factory=dict)
    between: dict[tuple[str, str], float] = field(default_factory=dict)
    emission: dict[str, float] = field(default_factory=dict)
    gas: dict[str, float] = field(default_factory=dict)
    turns: dict[str, float] = field(default_factory=dict)
    cut: set[str] = field(default_factory=set)

    def and_(self, other):
        """Both at once."""
        names = ("times", "across", "into", "between", "emission", "gas", "turns")
        both = {n: {**getattr(self, n), **getattr(other, n)} for n in names}
        both["emission"] = dict(self.emission)
        for tube, share in other.emission.items():
            both["emission"][tube] = share * both["emission"].get(tube, 1.0)
        return Wrong(**both, cut=self.cut | other.cut)


class Sheet:
    """The rows of a drawing and where its nonlinear parts are; the same for all its copies."""

    def __init__(self, circuit):
        names = sorted({n for b in circuit.branches.values() for n in (b.a, b.b)})
        tubes = {n for s in circuit.sections() for n in s.electrodes.values()}
        self.nets = {n: k for k, n in enumerate(sorted({*names, *tubes} - {"gnd"}))}
        self.size = len(self.nets)
        self.rows = {}
        wound = [b for t in circuit.transformers.values() for w in t.windings for b in w.branches]
        wound += [b for o in circuit.outputs.values() for _, b in o.branches]
        chokes = [b for b in circuit.branches.values() if b.kind is PartKind.INDUCTOR]
        cores = [*circuit.transformers, *circuit.outputs]
        for name in [b.name for b in (*wound, *chokes)] + [f"core {c}" for c in cores] + ["mains"]:
            self.rows[name] = self.size
            self.size += 1
        assert not circuit.coil_sets, "no drawing for this"
        assert not circuit.relays, "no drawing for this"
        self.frequency = plain(circuit.mains.frequency, "hertz", 60.0)
        self._signals(circuit)
        self._devices(circuit)
        self._heated(circuit)

    def _signals(self, circuit):
        """Amperes into the rows by each source (size, S) at its peak, and their hertz."""
        sources = [b for b in circuit.branches.values() if b.kind is PartKind.SIGNAL]
        self.hertz = np.array([frequency_of(circuit, b) for b in sources])
        self.tones = np.zeros((self.size, len(sources)))
        for column, b in enumerate(sources):
            volts = math.sqrt(2) * plain(b.value, "volt", 0.0)
            self.tones[self.nets[b.a], column] = volts / branch_ohms(b, State(WARM, WARM))

    def _devices(self, circuit):
        self.ports, self.valves, columns = [], [], []
        for b in circuit.branches.values():
            if b.kind is PartKind.DIODE:
                self.ports.append((b.name, "silicon", None))
                columns.append({b.a: 1.0, b.b: -1.0})
            assert b.kind not in (PartKind.ZENER, PartKind.LED), "no drawing for this"
        for s in circuit.sections():
            cathodes = {n: -1.0 / len(s.cathode_nets) for n in s.cathode_nets}
            if s.kind is SectionKind.RECTIFIER:
                for plate in s.plates:
                    self.ports.append((s.tube, "vacuum", s.type.law.parameters["perveance"]))
                    columns.append({s.electrodes[plate]: 1.0, **cathodes})
        for s in circuit.sections():
            if s.kind is SectionKind.RECTIFIER:
                continue
            law = law_for(s.type)
            cathodes = {n: -1.0 / len(s.cathode_nets) for n in s.cathode_nets}
            self.valves.append((s.tube, law, len(columns)))
            for e in law.electrodes:
                ends = dict(cathodes)
                ends[s.electrodes[e]] = ends.get(s.electrodes[e], 0.0) + 1.0
                columns.append(ends)
        self.at = np.zeros((self.size, len(columns)))
        for k, ends in enumerate(columns):
            for net, weight in ends.items():
                if net != "gnd":
                    self.at[self.nets[net], k] += weight

    def _heated(self, circuit):
        """Of tubes whose heater is drawn: what is across it (size, T), half its volts, its place.

        Halves in parallel have the same volts: the first is taken.
        """
        drawn = [(k, t.heater) for k, t in enumerate(circuit.tubes.values())
                 if t.heater is not None and t.heater.branches]  # fmt: skip
        across = np.zeros((self.size, len(drawn)))
        for column, (_, heater) in enumerate(drawn):
            series = heater.branches[:1] if heater.mode == "parallel" else heater.branches
            for net, sign in ((n, s) for b in series for n, s in ((b.a, 1.0), (b.b, -1.0))):
                if net != "gnd":
                    across[self.nets[net], column] += sign
        least = np.array([0.5 * plain(h.volts, "volt", 0.0) for _, h in drawn])
        self.heaters = across, least, [k for k, _ in drawn]


def stamped(sheet, circuit, wrong):
    """G, C, what is constant and what follows the mains sine, of one copy."""
    m = sheet.size
    g, c, still, sine = np.zeros((m, m)), np.zeros((m, m)), np.zeros(m), np.zeros(m)

    def admit(into, a, b, amount):
        for p, q in ((a, b), (b, a)):
            if p != "gnd":
                into[sheet.nets[p], sheet.nets[p]] += amount
                if q != "gnd":
                    into[sheet.nets[p], sheet.nets[q]] -= amount

    def carry(row, a, b, ohms):
        for net, sign in ((a, 1.0), (b, -1.0)):
            if net != "gnd":
                g[sheet.nets[net], row] += sign
                g[row, sheet.nets[net]] += sign
        g[row, row] -= ohms

    for k in sheet.nets.values():
        g[k, k] += INSULATION_S
    for b in circuit.branches.values():
        if b.name in wrong.across:
            admit(g, b.a, b.b, 1 / wrong.across[b.name])
        if b.name in wrong.cut:
            if b.name in sheet.rows:
                g[sheet.rows[b.name], sheet.rows[b.name]] = 1.0
            continue
        factor, more = wrong.times.get(b.name, 1.0), wrong.into.get(b.name, 0.0)
        if b.kind is PartKind.CAPACITOR:
            admit(c, b.a, b.b, factor * plain(b.value, "farad", 0.0))
        elif b.kind is PartKind.INDUCTOR:
            henries, ohms = choke(b)
            row = sheet.rows[b.name]
            carry(row, b.a, b.b, ohms + more)
            c[row, row] -= henries
        elif b.kind is PartKind.FUSE:
            admit(g, b.a, b.b, 1 / (FUSE + more))
        elif b.traits.contact is not Contact.NONE:
            if b.closed_with(frozenset()):
                admit(g, b.a, b.b, 1 / (CONTACT + more))
        elif b.kind in LIKE_A_RESISTOR:
            ohms = branch_ohms(b, State(WARM, WARM))
            admit(g, b.a, b.b, 1 / max(factor * ohms + more, CONTACT))
    for (a, b), ohms in wrong.between.items():
        admit(g, a, b, 1 / ohms)
    for name, transformer in circuit.transformers.items():
        core = sheet.rows[f"core {name}"]
        _emf(sheet, g, c, core, transformer, wrong, carry)
    for name, output in circuit.outputs.items():
        core = sheet.rows[f"core {name}"]
        load = plain(output.primary, "ohm", 5000.0)
        henries = plain(output.inductance, "henry", load / (2 * math.pi * 20.0))
        copper, parts = output_ohms(output), []
        for ratio, b in output.branches:
            if b.name in wrong.cut:
                continue
            carry(sheet.rows[b.name], b.a, b.b, plain(b.resistance, "ohm", copper[b.name]))
            parts.append((sheet.rows[b.name], ratio * wrong.turns.get(b.name, 1.0)))
        _wound(g, c, core, parts, henries)
    row = sheet.rows["mains"]
    line, neutral, earth = (circuit.points.get(n) for n in ("line", "neutral", "earth"))
    carry(row, line, neutral, 1e-3)
    sine[row] = math.sqrt(2) * plain(circuit.mains.voltage, "volt", 0.0)
    if earth is not None:
        admit(g, neutral, earth, 1 / CONTACT)
    for section in circuit.sections():
        amps = wrong.gas.get(section.name)
        if amps:
            ends = [(section.electrodes["grid"], 1.0)]
            ends += [(n, -1.0 / len(section.cathode_nets)) for n in section.cathode_nets]
            for net, sign in ends:
                if net != "gnd":
                    still[sheet.nets[net]] += sign * amps
    return g, c, still, sine


def _emf(sheet, g, c, core, transformer, wrong, carry):
    parts = []
    for w in transformer.windings:
        boost = 1.0 if w.primary else no_load_factor(transformer, w.name)
        for b in w.branches:
            if b.name in wrong.cut:
                continue
            row = sheet.rows[b.name]
            carry(row, b.a, b.b, winding_ohms(b, transformer) + wrong.into.get(b.name, 0.0))
            turns = plain(b.value, "volt", 0.0) * boost * wrong.turns.get(b.name, 1.0)
            parts.append((row, turns))
    primary = plain(transformer.primaries[0].volts, "volt", 1.0)
    _wound(g, c, core, parts, CORE_H / primary**2)


def _wound(g, c, core, parts, henries):
    """Windings on a core: each has its turns' share of ``e``.

    The core's own unknown is ``e``: v = turns e + R i; henries * sum(turns di/dt) = e.
    """
    for row, turns in parts:
        g[row, core] -= turns
        c[core, row] += turns * henries
    g[core, core] -= 1.0


class Bench:
    """Copies of a drawing with something wrong in each, all integrated together."""

    def __init__(self, sheet, circuits, wrongs, start):
        self.sheet, self.circuits = sheet, list(circuits)
        self.steps, self.h = STEPS, 1 / sheet.frequency / STEPS
        self.parts = [stamped(sheet, c, w) for c, w in zip(circuits, wrongs, strict=True)]
        self.emission = [dict(w.emission) for w in wrongs]
        self.x = np.tile(start, (len(wrongs), 1))
        self.before = self.x.copy()
        self.u = np.zeros((len(wrongs), sheet.at.shape[1]))
        self.u[:] = start @ sheet.at
        self.time, self.failed = 0, np.zeros(len(wrongs), dtype=int)
        self.driven = False
        self._grouped()
        self.load(np.full(len(wrongs), -1), 1e7)

    def part(self, who):
        """Some of the copies as they are now, to go on by themselves; :meth:`put` takes them in."""
        some = copy(self)
        some.circuits, some.parts = ([of[k] for k in who] for of in (self.circuits, self.parts))
        for name in (*MOVING, "p", "y", "z", "still", "sine", "tones", "share"):
            setattr(some, name, getattr(self, name)[who])
        return some

    def put(self, who, some):
        """Take copies in that have gone on by whole cycles."""
        for name in MOVING:
            getattr(self, name)[who] = getattr(some, name)

    def hearing(self, who):
        """Some of the copies, at rest till now, with the drawing's signals on: smaller steps."""
        some = self.part(who)
        some.steps, some.h, some.time = HEARING, self.h * STEPS / HEARING, 0
        some.before = some.x + (some.before - some.x) * STEPS / HEARING
        some.driven = True
        return some

    def load(self, net, ohms):
        """Put a meter of so many ohms on a net of each copy (-1: none), and factor."""
        h, at = self.h, self.sheet.at
        self.p, self.y, self.z, self.still, self.sine = [], [], [], [], []
        self.tones = []
        for (g, c, still, sine), place in zip(self.parts, net, strict=True):
            g = g.copy()
            if place >= 0:
                g[place, place] += 1 / ohms
            inverse = np.linalg.inv(g + 1.5 / h * c)
            self.p.append(inverse @ c / (2 * h))
            self.y.append(inverse @ at)
            self.still.append(inverse @ still)
            self.sine.append(inverse @ sine)
            self.tones.append(inverse @ self.sheet.tones)
        for name in ("p", "y", "still", "sine", "tones"):
            setattr(self, name, np.array(getattr(self, name)))
        self.z = at.T @ self.y

    def cycles(self, count):
        """Go on for so many cycles; mean and rms about it of every unknown over the last one."""
        sums = squares = 0.0
        for step in range(count * self.steps):
            self._step()
            if step >= (count - 1) * self.steps:
                sums, squares = sums + self.x, squares + self.x**2
        mean = sums / self.steps
        return mean, np.sqrt(np.maximum(squares / self.steps - mean**2, 0.0))

    def _step(self):
        self.time += 1
        angle = 2 * math.pi * self.time / self.steps
        free = self.still + self.sine * math.sin(angle)
        if self.driven:
            free += self.tones @ np.sin(2 * math.pi * self.sheet.hertz * self.time * self.h)
        free += (self.p @ (4 * self.x - self.before)[:, :, None])[:, :, 0]
        amps = self._newton(free @ self.sheet.at)
        self.before, self.x = self.x, free - (self.y @ amps[:, :, None])[:, :, 0]

    def cool(self):
        """Take the emission from tubes whose heaters get less than half their volts (rms)."""
        across, least, tubes = self.sheet.heaters
        squares = 0.0
        for _ in range(STEPS):
            self._step()
            squares = squares + (self.x @ across) ** 2
        self.share[:, tubes] *= np.sqrt(squares / STEPS) >= least

    def _newton(self, open_):
        going = np.flatnonzero(self.failed < GIVEN_UP)
        amps = np.zeros_like(open_)
        for turn in range(NEWTON):
            u = self.u[going]
            v, i, dv, di = self._laws(going, u)
            amps[going] = i
            off = v + (self.z[going] @ i[:, :, None])[:, :, 0] - open_[going]
            slope = self.z[going] @ di
            slope[:, range(v.shape[1]), range(v.shape[1])] += dv
            step = -np.linalg.solve(slope, off[:, :, None])[:, :, 0]
            most = np.abs(step).max(axis=1)
            step *= np.minimum(1.0, CLIPPED / np.maximum(most, 1e-12))[:, None]
            if turn > 20:
                step *= 0.5
            self.u[going] = u + step
            going = going[most > ARRIVED * (1 + np.abs(u).max(axis=1))]
            if not len(going):
                break
        self.failed[going] += 1
        return amps

    def _laws(self, who, u):
        v, i, dv = u.copy(), np.zeros_like(u), np.ones_like(u)
        di = np.zeros((*u.shape, u.shape[1]))
        for at, amps, ohms in self._one_way(who, u):
            i[:, at], v[:, at] = amps, u[:, at] - SCALE * amps
            di[:, at, at], dv[:, at] = 1 / (ohms + SCALE), ohms / (ohms + SCALE)
        for law, firsts, tubes in self.alike:
            wide = len(law.electrodes)
            at = firsts[:, None] + np.arange(wide)
            share = self.share[who][:, tubes]
            amps, slopes = law.currents(u[:, at].reshape(-1, wide).T)
            i[:, at] = share[:, :, None] * amps.T.reshape(*share.shape, wide)
            slopes = share[:, :, None, None] * slopes.transpose(2, 0, 1).reshape(
                *share.shape, wide, wide
            )
            di[:, at[:, :, None], at[:, None, :]] = slopes
        return v, i, dv, di

    def _one_way(self, who, u):
        if len(self.silicon):
            yield self.silicon, *silicon(u[:, self.silicon])
        if len(self.vacuum):
            share = self.share[who][:, self.heated] * self.perveance
            yield self.vacuum, *vacuum(u[:, self.vacuum], share)

    def _grouped(self):
        """Parts of one law together, and the emission of each tube in each copy."""
        ports = self.sheet.ports
        self.silicon = np.array([k for k, p in enumerate(ports) if p[1] == "silicon"], dtype=int)
        self.vacuum = np.array([k for k, p in enumerate(ports) if p[1] == "vacuum"], dtype=int)
        names = list(self.circuits[0].tubes)
        self.heated = np.array([names.index(ports[k][0]) for k in self.vacuum], dtype=int)
        self.perveance = np.array([ports[k][2] for k in self.vacuum])
        self.share = np.array([[e.get(n, 1.0) for n in names] for e in self.emission])
        laws = list(dict.fromkeys(law for _, law, _ in self.sheet.valves))
        every = [[(first, t) for t, law, first in self.sheet.valves if law == one] for one in laws]
        self.alike = [
            (law, np.array([f for f, _ in some]), np.array([names.index(t) for _, t in some]))
            for law, some in zip(laws, every, strict=True)
        ]


def silicon(w):
    """Amperes of a silicon diode behind ``SCALE`` ohms at w volts, and the diode's slope, ohms."""
    ohms = SCALE + SILICON_RS
    low = np.log1p(np.maximum(w, 0.0) / (ohms * SILICON_IS))
    u = np.minimum(np.maximum(w, 0.0) / SILICON_NVT, low)
    for _ in range(6):  # nvt u + ohms Is (e^u - 1) = w
        rise = ohms * SILICON_IS * np.exp(u)
        u = u - (SILICON_NVT * u + rise - ohms * SILICON_IS - w) / (SILICON_NVT + rise)
    on = w > 0
    amps = np.where(on, SILICON_IS * np.expm1(np.where(on, u, 0.0)), 0.0)
    slope = SILICON_NVT / (amps + SILICON_IS) + SILICON_RS
    return amps, np.where(on, slope, 1e9)


def vacuum(w, k):
    """Amperes of a diode i = k v^1.5 behind ``SCALE`` ohms at w volts, and its slope, ohms."""
    on, k = (w > 0) & (k > 0), np.maximum(k, 1e-12)
    x = np.where(on, w, 1.0)
    s = np.minimum(np.sqrt(x), (x / (SCALE * k)) ** (1 / 3))
    for _ in range(6):  # SCALE k s^3 + s^2 = w with s^2 the volts
        s = s - (SCALE * k * s**3 + s * s - x) / (3 * SCALE * k * s * s + 2 * s)
    amps = np.where(on, k * s**3, 0.0)
    return amps, np.where(on, 1 / (1.5 * k * s), 1e9)


def settle(bench, looked_at, again=6):
    """Integrate until no net that is looked at moves; which copies have come to rest.

    A winding between diodes that are off most of the time wanders, and nobody reads it. What goes
    on creeping (the middle of two capacitors in series) is put where its steps lead; whether it
    rests there the next look says.
    """
    nets = [bench.sheet.nets[net] for net in looked_at]
    bench.cycles(SETTLING)
    bench.cool()
    going = np.arange(len(bench.circuits))
    for _ in range(again):
        some = bench.part(going)
        old, mean = (some.cycles(many)[0][:, nets] for many in (1, AGAIN))
        moves = np.abs(mean - old) > STILL_V + STILL * np.abs(mean)
        moving = moves.any(axis=1) | ~np.isfinite(some.x).all(axis=1)
        bench.put(going, some)
        going = going[moving]
        if not len(going):
            break
        some = bench.part(going)
        _leap(some)
        bench.put(going, some)
    rests = bench.failed < GIVEN_UP
    rests[going] = False
    return rests


def _leap(bench):
    """Put copies where three looks at the same instant of a cycle lead, by Aitken's formula."""
    looks = [bench.x]
    for _ in range(2):
        bench.cycles(LEAP)
        looks.append(bench.x)
    first, second = looks[1] - looks[0], looks[2] - looks[1]
    ratio = second / np.where(np.abs(first) > LEAST_STEP, first, np.inf)
    slow = (ratio > SLOW[0]) & (ratio < SLOW[1])
    leap = np.where(slow, second * ratio / (1 - np.where(slow, ratio, 0.0)), 0.0)
    leap = np.clip(leap, -FARTHEST, FARTHEST)
    bench.x, bench.before = bench.x + leap, bench.before + leap
    bench.cycles(SETTLING)
