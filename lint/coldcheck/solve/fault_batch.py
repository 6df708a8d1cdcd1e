"""Many faults of one circuit at once, on the factors of the good circuit.

The method is that of :mod:`coldcheck.solve.fault_cycle`, fault by fault; only here each step is
taken for all faults together that are still under way, in arrays with one more index. So a fault
costs its arithmetic and not the calls that arrange it. Those that do not arrive are left to the
ways that go one by one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.solve import fault_cycle as one
from coldcheck.solve.fault_stack import Loaded, Stack
from coldcheck.solve.mixing import Mixer
from coldcheck.solve.response import difference
from coldcheck.solve.starts import CURRENT_TOLERANCE, Start, Steady

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from coldcheck.solve.fault_change import Change
    from coldcheck.solve.fault_cycle import Base

    Array = NDArray[np.float64]
    Complex = NDArray[np.complex128]
    Places = NDArray[np.intp]

SAME = 0.05
"""Tubes whose slopes moved by less than this share keep the good circuit's in the AC network."""

RIPPLE_A = 1e-8
"""What the last correction may have been off by, amperes, before it was mended once more. That is
little, since it decides where a net stands that next to nothing holds (a screen cut off)."""

ROUND = 2e-3
"""Passes that stay within this (relative) of each other and come no nearer go round the answer:
the best of them is taken."""

LEAST_S = 1e-7
"""Slopes below this, siemens, count as none in that."""

STALL, NOISE, LEAST_SHARE = 10, 1e-7, 1e-3
"""For damped steps: see :mod:`coldcheck.solve.steady`."""

LATER_STEPS = 24
"""Whole steps of a later pass, which begins near: it takes some five, rarely twenty."""

SIZES = (16, 32, 64, 128)
"""Numbers of conducting instants that systems are filled up to, so that equal ones stack."""

ARRIVED, NEWTON, PASSES = "arrived", "newton", "passes"
"""How a fault can end: with an answer, Newton's method lost in its first pass, passes that do not
come nearer."""


class FaultBatch:
    """F faults of the good circuit of ``base``; each array's first index is the fault."""

    def __init__(
        self,
        base: Base,
        loaded: Loaded,
        changes: Sequence[Change],
        cold: Sequence[frozenset[str]],
        starts: Sequence[Start],
    ) -> None:
        good = base.cycle
        self.base, self.loaded, self.good = base, loaded, good
        self.p, self.q, self.n = len(good.ports), good.bank.size, good.n
        self.stack = Stack.of(good, changes, cold)
        faults = len(changes)
        self.at = self.stack.at(good.network.size)
        self.g = base.g + (self.at * self.stack.siemens[:, None]) @ self.at.transpose(0, 2, 1)
        self.mean = np.stack([s.mean for s in starts])
        self.wave = np.stack([s.wave for s in starts])
        emission = self.stack.emission
        self.slopes = emission[:, :, None] * base.slopes
        rest = emission[:, :, None] * np.stack([s.rest for s in starts])
        self.correction = rest - self.slopes @ np.stack([s.swing for s in starts])
        self.steps, self.status = np.zeros(faults, dtype=int), [""] * faults
        self.wrong, self.least = np.full(faults, np.inf), np.full(faults, np.inf)
        self.best: list[tuple[Array, ...]] = [()] * faults
        self.kernel = np.zeros((faults, self.p, self.p, self.n))
        self.spectrum = np.zeros((faults, self.p, self.p, self.n // 2 + 1), dtype=complex)
        self.open_ac = np.zeros_like(self.wave)
        self._terms()

    def _terms(self) -> None:
        stack, loaded, symbol = self.stack, self.loaded, self.base.symbol
        self.felt = stack.seen(loaded.answers)
        self.caused = stack.caused(loaded.backward)
        self.mutual = stack.mutual(loaded.within)
        self.extra = stack.siemens[:, None] + symbol[:, None] * stack.farads[:, None]
        self.chosen: list[Places] = [np.zeros(0, dtype=int)] * len(stack.steady)
        self.gain: list[Complex] = [np.zeros(0, dtype=complex)] * len(stack.steady)
        self.outward: list[Complex] = list(self.gain)

    # -- the AC side ----------------------------------------------------------------------

    def load(self, who: Places) -> None:
        """Put the tubes' slopes of some faults in; see :meth:`FaultCycle.impedance`."""
        if not len(self.base.symbol):
            return
        delta = self.slopes[who] - self.base.slopes
        moved = np.abs(delta).max(axis=(1, 2), initial=0.0) > 0
        for group, some in ((who[~moved], False), (who[moved], True)):
            if len(group):
                self._load(group, some)

    def _load(self, who: Places, tubes: bool) -> None:
        p, q, r = self.p, self.q if tubes else 0, self.at.shape[2]
        seen, at = self.loaded.seen, slice(p, p + q)
        shape = (len(who), len(seen))
        felt = np.concatenate(
            [self.felt[who], np.broadcast_to(seen[:, at], (*shape, q, seen.shape[2]))], axis=2
        )
        outward = np.concatenate(
            [self.caused[who], np.broadcast_to(seen[:, :, at], (*shape, seen.shape[1], q))], axis=3
        )
        within = np.concatenate([self.mutual[who], outward[:, :, at, :r]], axis=2)
        within = np.concatenate([within, felt[:, :, :, at]], axis=3)
        y_within, y_felt = np.empty_like(within), np.empty_like(felt)
        for product, part in ((y_within, within), (y_felt, felt)):
            product[:, :, :r] = self.extra[who][:, :, :, None] * part[:, :, :r]
            if q:
                delta = (self.slopes[who] - self.base.slopes)[:, None]
                product[:, :, r:] = delta @ part[:, :, r:]
        gain = _solved(np.eye(r + q) + y_within, y_felt)
        ports = seen[:, :p, :p] - outward[:, :, :p] @ gain[..., :p]
        self.kernel[who] = one.to_time(ports.transpose(0, 2, 3, 1), self.n)
        self.spectrum[who] = np.fft.rfft(self.kernel[who], axis=-1)
        for k, j in enumerate(who):
            self.gain[j], self.outward[j] = gain[k], outward[k]

    def seen_ac(self, who: Places, port_amps: Array) -> Array:
        """AC volts (f, s, N) at ports and electrodes, with the corrections there are."""
        if not len(self.base.symbol):
            return np.zeros((len(who), self.p + self.q, self.n))
        drive = self._drive(port_amps, self.correction[who])
        every = drive.transpose(1, 2, 0)
        found = (self.loaded.seen @ every).transpose(2, 0, 1)
        for k, j in enumerate(who):
            found[k] -= (self.outward[j] @ (self.gain[j] @ drive[k, :, :, None]))[:, :, 0]
        return one.to_time(found.transpose(0, 2, 1), self.n)

    def _drive(self, port_amps: Array, correction: Array) -> Complex:
        """Harmonics of what enters at ports, electrodes and the mains: (f, K, s + 1)."""
        mains = np.zeros((len(port_amps), 1, self.n))
        amps = np.concatenate([port_amps, correction, mains], axis=1)
        drive = -np.fft.rfft(amps, axis=-1)[:, :, 1:]
        drive[:, -1, 0] += -0.5j * self.n
        return np.ascontiguousarray(drive.transpose(0, 2, 1))

    def ac_of(self, who: Places, port_amps: Array) -> Array:
        """All unknowns' AC part, (f, m, N)."""
        size, r = self.good.network.size, self.at.shape[2]
        if not len(self.base.symbol):
            return np.zeros((len(who), size, self.n))
        drive, loaded = self._drive(port_amps, self.correction[who]), self.loaded
        enters = (drive @ loaded.into.T).transpose(1, 2, 0)
        for k, j in enumerate(who):
            back = (self.gain[j] @ drive[k, :, :, None])[:, :, 0]
            enters[:, :, k] -= back[:, :r] @ self.at[j].T
            if back.shape[1] > r:
                enters[:, :, k] -= back[:, r:] @ self.good.valve_at.T
        return one.to_time((loaded.within @ enters).transpose(2, 1, 0), self.n)

    # -- passes ---------------------------------------------------------------------------

    def solve(self) -> list[Steady | None]:
        """The answers, ``None`` where there is none; ``status`` says how each fault ended."""
        with np.errstate(all="ignore"):
            everyone = np.arange(len(self.status))
            self.load(everyone)
            self._repeat(everyone)
            arrived = np.array([k for k in everyone if self.status[k] == ARRIVED], dtype=int)
            answers: list[Steady | None] = [None] * len(everyone)
            for k, answer in zip(arrived, self._answers(arrived), strict=True):
                answers[k] = answer
        return answers

    def _repeat(self, going: Places) -> None:
        """Newton's method, the tubes' curvature, and again: see :meth:`FaultCycle.solve`."""
        history: list[list[float]] = [[] for _ in going]
        mixers = [Mixer() for _ in going]
        for turn in range(one.MAX_PASSES):
            if not len(going):
                return
            goal = one.LATER_STEP if turn else one.FIRST_STEP
            before = self.mean[going], self.wave[going]
            self.open_ac[going] = self.seen_ac(going, np.zeros_like(before[1]))[:, : self.p]
            arrived = self._arrive(going, goal)
            for k in going[~arrived]:
                self.status[k] = PASSES if turn else NEWTON
            going, before = going[arrived], (before[0][arrived], before[1][arrived])
            now = self.mean[going], self.wave[going]
            moved = _size((now[0] - before[0], now[1] - before[1]), *now)
            going, moved = self._settled(going, moved, history, turn)
            if len(going):
                going = self._corrected(going, moved, mixers, turn, goal)
        for k in going:
            self.status[k] = PASSES

    def _settled(
        self, going: Places, moved: Array, history: list[list[float]], turn: int
    ) -> tuple[Places, Array]:
        """Take out those that moved no more, and those that do not come nearer."""
        on = np.ones(len(going), dtype=bool)
        for place, (k, size) in enumerate(zip(going, moved.tolist(), strict=True)):
            past = history[k]
            past.append(size)
            there = bool(turn) and size < one.ARRIVED
            if there and self.wrong[k] < RIPPLE_A:
                self.status[k], on[place] = ARRIVED, False
            elif turn > one.PATIENCE and min(past[-one.PATIENCE :]) > 0.5 * min(
                past[: -one.PATIENCE]
            ):
                near = max(past[-one.PATIENCE :]) < ROUND
                self.status[k], on[place] = ARRIVED if near else PASSES, False
                self.mean[k], self.wave[k], self.correction[k] = self.best[k]
        return going[on], moved[on]

    def _corrected(
        self, going: Places, moved: Array, mixers: list[Mixer], turn: int, goal: float
    ) -> Places:
        """The next corrections, with other slopes where they have moved."""
        rest, swing, seen = self._curvature(going)
        wanted = rest - self.slopes[going] @ swing
        wrong = np.abs(wanted - self.correction[going]).max(axis=(1, 2), initial=0.0)
        for place, k in enumerate(going):
            if wrong[place] < self.least[k] or not self.best[k]:
                held = self.mean[k], self.wave[k], self.correction[k]
                self.best[k], self.least[k] = tuple(x.copy() for x in held), wrong[place]
        self.wrong[going] = wrong
        done = (wrong < CURRENT_TOLERANCE) & (moved < goal)
        far = ~done & (moved > one.FIRST_STEP) & (turn < 2)
        if far.any():
            self.slopes[going[far]] = self._kept(seen[far], going[far])
            self.correction[going[far]] = rest[far] - self.slopes[going[far]] @ swing[far]
            self.load(going[far])
        for place, k in enumerate(going):
            if done[place]:
                self.status[k] = ARRIVED
            elif far[place]:
                mixers[k] = Mixer()
            else:
                self.correction[k] = mixers[k].next(self.correction[k], wanted[place])
        return going[~done]

    def _kept(self, seen: Array, who: Places) -> Array:
        """New slopes (f, q, q); the good circuit's for sections that have about those still."""
        out = seen.copy()
        for part in self.good.bank.slices:
            own = self.base.slopes[part, part]
            apart = np.abs(seen[:, part, part] - own).max(axis=(1, 2))
            near = apart < SAME * np.abs(own).max() + LEAST_S
            out[near, part, part] = own
        return out

    def _curvature(self, who: Places) -> tuple[Array, Array, Array]:
        """See :meth:`FaultCycle._curvature`."""
        amps = self.stack.curves(who, self.wave[who])[1]
        swing = self.seen_ac(who, amps)[:, self.p :]
        middle = (self.mean[who] @ self.good.valve_at)[:, :, None]
        taken, slopes = self._tubes(who, np.concatenate([middle + swing, middle], axis=2))
        return taken[:, :, :-1] - taken[:, :, -1:], swing, self._matrix(slopes, slice(-1))

    def _tubes(self, who: Places, volts: Array) -> tuple[Array, tuple[Places, Places, Array]]:
        """Currents (f, q, t) at volts (f, q, t), and the slopes' rows, columns and values."""
        faults, q, instants = volts.shape
        emission = self.stack.emission[who]
        flat = volts.transpose(1, 0, 2).reshape(q, faults * instants)
        amps, (rows, columns, values) = self.good.bank.each_instant(flat)
        taken = amps.reshape(q, faults, instants).transpose(1, 0, 2) * emission[:, :, None]
        each = values.reshape(len(rows), faults, instants).transpose(1, 0, 2)
        return taken, (rows, columns, each * emission[:, rows, None])

    def _matrix(self, slopes: tuple[Places, Places, Array], instants: slice) -> Array:
        """The slopes' means over some instants as matrices, (f, q, q)."""
        rows, columns, values = slopes
        out = np.zeros((len(values), self.q, self.q))
        out[:, rows, columns] = values[:, :, instants].mean(axis=2)
        return out

    # -- Newton's method ------------------------------------------------------------------

    def _arrive(self, who: Places, goal: float) -> NDArray[np.bool_]:
        """Whole steps, in the first pass also damped ones from its start; who arrived."""
        bias = self.correction.mean(axis=2)
        start = self.mean[who], self.wave[who]
        arrived = self._whole(who, bias, goal)
        if goal >= one.FIRST_STEP and not arrived.all():  # later it is the correction's fault
            lost, again = ~arrived, who[~arrived]
            self.mean[again], self.wave[again] = start[0][lost], start[1][lost]
            arrived[lost] = self._damped(again, bias, goal)
        return arrived

    def _whole(self, who: Places, bias: Array, goal: float) -> NDArray[np.bool_]:
        """As :meth:`FaultCycle._arrive` goes; says which faults arrived."""
        arrived, sizes = np.zeros(len(self.status), dtype=bool), _Sizes(len(self.status))
        last, under_way = np.zeros_like(self.mean), who
        for used in range(one.MAX_STEPS if goal >= one.FIRST_STEP else LATER_STEPS):
            step = self._step(under_way, bias)
            size = _size(step, self.mean[under_way], self.wave[under_way])
            lost, there = sizes.stalled(under_way, size, one.GIVE_UP, 0.7), size < goal
            moved = np.clip(step[0], -one.FARTHEST, one.FARTHEST)
            before = last[under_way]
            along = np.einsum("fm,fm->f", moved, before)
            back = along < -one.TO_AND_FRO * np.einsum("fm,fm->f", before, before)
            share = np.where(back & (used >= one.SURE) & ~there, 0.5, 1.0)
            kept = ~lost
            self._move(under_way[kept], (moved[kept], step[1][kept]), share[kept])
            last[under_way[kept]] = moved[kept]
            arrived[under_way] = there & kept
            under_way = under_way[kept & ~there]
            if not len(under_way):
                break
        return arrived[who]

    def _damped(self, who: Places, bias: Array, goal: float) -> NDArray[np.bool_]:
        """Damped steps, as :meth:`Cycle._newton` takes them; says which faults arrived."""
        arrived, sizes = np.zeros(len(self.status), dtype=bool), _Sizes(len(self.status))
        under_way = who
        for _ in range(one.MAX_STEPS):
            step = self._step(under_way, bias)
            size = _size(step, self.mean[under_way], self.wave[under_way])
            lost, there = sizes.stalled(under_way, size, STALL, 0.5), size < goal
            share = np.where(there, 1.0, self._share(under_way, bias, step, size))
            self._move(under_way[~lost], (step[0][~lost], step[1][~lost]), share[~lost])
            arrived[under_way] = there & ~lost
            under_way = under_way[~lost & ~there]
            if not len(under_way):
                break
        return arrived[who]

    def _share(
        self, who: Places, bias: Array, step: tuple[Array, Array], size: Array
    ) -> Array:
        """The largest of 1, 1/2, 1/4, ... of a step after which the next would be shorter, (f,)."""
        share, left = np.ones(len(who)), np.flatnonzero(np.isfinite(size))
        while len(left):
            some, part = who[left], share[left]
            mean = self.mean[some] + part[:, None] * step[0][left]
            wave = self.wave[some] + part[:, None, None] * step[1][left]
            following = self._step(some, bias, (mean, wave))
            after = _size(following, self.mean[some], self.wave[some])
            enough = np.maximum((1 - part / 4) * size[left], NOISE)
            left = left[~(after < enough) & (part >= LEAST_SHARE)]
            share[left] /= 2
        return share

    def _move(self, who: Places, step: tuple[Array, Array], share: Array) -> None:
        self.mean[who] += share[:, None] * step[0]
        self.wave[who] += share[:, None, None] * step[1]
        self.steps[who] += 1

    def _step(
        self, who: Places, bias: Array, trial: tuple[Array, Array] | None = None
    ) -> tuple[Array, Array]:
        """One Newton step of means (f, m) and port variables (f, p, N).

        For the errors at a ``trial`` point where one is given, with the slopes as they are.
        """
        good, mean, wave = self.good, self.mean[who], self.wave[who]
        taken, slopes = self._at_means(who, mean, bias)
        curves = self.stack.curves(who, wave)
        dv, di = curves[2:]
        if trial is not None:
            mean, wave = trial
            taken, _ = self._at_means(who, mean, bias)
            curves = self.stack.curves(who, wave)
        volts, amps = curves[:2]
        means = (self.g[who] @ mean[:, :, None])[:, :, 0] - self.stack.steady[who]
        means += taken @ good.valve_at.T
        means += amps.mean(axis=2) @ good.port_at.T
        matrix = self.g[who] + good.valve_at @ (slopes @ good.valve_at.T)
        ports = np.broadcast_to(good.port_at, (len(who), *good.port_at.shape))
        found = _solved(matrix, np.concatenate([means[:, :, None], ports], axis=2))
        base, into = found[:, :, 0], found[:, :, 1:]
        if not self.p:
            return -base, np.zeros_like(wave)
        error = volts - (mean @ good.port_at)[:, :, None] - self.open_ac[who]
        error += self._spread(who, amps)
        mutual = (good.port_at.T @ into) / self.n
        right = -error - (base @ good.port_at)[:, :, None]
        change = self._ports(who, mutual, dv, di, right)
        return -base - (into @ (di * change).mean(axis=2)[:, :, None])[:, :, 0], change

    def _at_means(self, who: Places, mean: Array, bias: Array) -> tuple[Array, Array]:
        """The tubes' mean currents (f, q), what their curvature adds to them (``bias``) included,
        and slopes (f, q, q), at mean values (f, m).
        """
        taken, slopes = self._tubes(who, (mean @ self.good.valve_at)[:, :, None])
        return taken[:, :, 0] + bias[who], self._matrix(slopes, slice(None))

    def _spread(self, who: Places, amps: Array) -> Array:
        """What port currents do to the ports through the network, (f, p, N) volts."""
        seen = np.einsum("fpqk,fqk->fpk", self.spectrum[who], np.fft.rfft(amps, axis=-1))
        return np.asarray(np.fft.irfft(seen, n=self.n, axis=-1))

    def _ports(self, who: Places, mutual: Array, dv: Array, di: Array, right: Array) -> Array:
        """See :meth:`FaultCycle._ports`: systems of about the same size go together."""
        faults, flat = len(who), np.zeros((len(who), self.p * self.n))
        slope_v, slope_i = dv.reshape(faults, -1), di.reshape(faults, -1)
        wanted, on = right.reshape(faults, -1), slope_i > 0
        counts = on.sum(axis=1)
        order = np.argsort(~on, axis=1, kind="stable")
        size = np.select([counts <= s for s in SIZES], SIZES, flat.shape[1])
        for group in (np.flatnonzero(size == some) for some in np.unique(size)):
            most = counts[group].max()
            here = group[:, None], order[group, :most]
            filled = np.arange(most) < counts[group, None]
            matrix = self._couples(who[group], mutual[group], here[1])
            matrix *= (slope_i[here] * filled)[:, None, :]
            place = np.arange(most)
            matrix[:, place, place] += slope_v[here]
            flat[here] = _solved(matrix, wanted[here][:, :, None])[:, :, 0] * filled
        amps = (slope_i * flat).reshape(di.shape)
        seen = self._spread(who, amps) + (mutual @ amps.sum(axis=2)[:, :, None])
        out = (right - seen) / np.where(di > 0, 1.0, dv)
        return np.where(di > 0, flat.reshape(di.shape), out)

    def _couples(self, who: Places, mutual: Array, at: Places) -> Array:
        """What currents at the given ports and instants (f, k) do to each other, (f, k, k) ohms."""
        full = self.kernel[who] + mutual[:, :, :, None]
        twice = np.concatenate([full, full], axis=3)  # so that a lag may be negative
        port, instant = np.divmod(at, self.n)
        row = 2 * self.n * self.p * port + instant + self.n
        column = 2 * self.n * port - instant
        place = row[:, :, None] + column[:, None, :]
        place += (np.arange(len(who)) * twice[0].size)[:, None, None]
        return np.asarray(twice.ravel()[place])

    # -- answers --------------------------------------------------------------------------

    def _answers(self, who: Places) -> list[Steady]:
        """See :meth:`Cycle.answer`; one a fault."""
        if not len(who):
            return []
        good, wave = self.good, self.wave[who]
        volts, amps, _, _ = self.stack.curves(who, wave)
        x = self.mean[who][:, :, None] + self.ac_of(who, amps)
        middle, across = x.mean(axis=2) @ good.valve_at, good.valve_at.T @ x
        taken, _ = self._tubes(who, np.concatenate([across, middle[:, :, None]], axis=2))
        valve_amps, swing = taken[:, :, :-1], across - middle[:, :, None]
        error = self._kirchhoff(who, x, amps, valve_amps)
        rest = valve_amps - taken[:, :, -1:]
        return [
            Steady(
                x[k], volts[k], amps[k], across[k], valve_amps[k], float(error[k]),
                int(self.steps[j]), Start(x[k].mean(axis=1), wave[k], rest[k], swing[k]),
            )
            for k, j in enumerate(who)
        ]  # fmt: skip

    def _kirchhoff(self, who: Places, x: Array, amps: Array, valve_amps: Array) -> Array:
        """Largest sum of currents at any net and instant, (f,) amperes."""
        network, at, good = self.good.network, self.at[who], self.good
        rate = difference(x, network.frequency)
        flow = self.g[who] @ x + self.base.c @ rate
        flow += (at * self.stack.farads[who][:, None]) @ (at.transpose(0, 2, 1) @ rate)
        flow += good.port_at @ amps + good.valve_at @ valve_amps
        flow -= self.stack.steady[who][:, :, None]
        return np.abs(flow[:, : len(network.nets)]).max(axis=(1, 2), initial=0.0)


class _Sizes:
    """The sizes of each fault's steps so far, (F, steps)."""

    def __init__(self, faults: int) -> None:
        self.known = np.full((faults, 0), np.inf)

    def stalled(self, who: Places, size: Array, patience: int, share: float) -> NDArray[np.bool_]:
        """Write the sizes (f,) down; which faults had none below ``share`` of an older one."""
        self.known = np.pad(self.known, ((0, 0), (0, 1)), constant_values=np.inf)
        self.known[who, -1] = size
        near = self.known[who, -patience:].min(axis=1)
        past = self.known[who, :-patience].min(axis=1, initial=np.inf)
        return ~np.isfinite(size) | (near > share * past)


def _solved(matrix: NDArray[np.generic], right: NDArray[np.generic]) -> NDArray[np.generic]:
    """Solutions of many systems; NaN for those that have none."""
    try:
        return np.linalg.solve(matrix, right)
    except np.linalg.LinAlgError:
        return np.stack([_alone(a, b) for a, b in zip(matrix, right, strict=True)])


def _alone(matrix: NDArray[np.generic], right: NDArray[np.generic]) -> NDArray[np.generic]:
    try:
        return np.linalg.solve(matrix, right)
    except np.linalg.LinAlgError:
        return np.full_like(right, np.nan)


def _size(step: tuple[Array, Array], mean: Array, wave: Array) -> Array:
    """Largest relative change of any unknown, (f,)."""
    means = (np.abs(step[0]) / (1.0 + np.abs(mean))).max(axis=1, initial=0.0)
    waves = (np.abs(step[1]) / (1.0 + np.abs(wave))).max(axis=(1, 2), initial=0.0)
    return np.maximum(means, waves)
