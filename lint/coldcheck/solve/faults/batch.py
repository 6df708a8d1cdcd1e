"""Many faults of one circuit at once, on the factors of the good circuit.

The method is that of `equations`, fault by fault; only here each step is
taken for all faults together that are still under way, in arrays with one more index. So a fault
costs its arithmetic and not the calls that arrange it. Those that do not arrive are left to the
ways that go one by one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.solve.cycle.mixing import Mixer
from coldcheck.solve.cycle.response import difference
from coldcheck.solve.cycle.starts import CURRENT_TOLERANCE, Start, Steady
from coldcheck.solve.faults import equations as one
from coldcheck.solve.faults.newton import Steps, size_of, solved
from coldcheck.solve.faults.stack import Loaded, Stack

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from coldcheck.solve.faults.change import Change
    from coldcheck.solve.faults.equations import Base

    Array = NDArray[np.float64]
    Complex = NDArray[np.complex128]
    Places = NDArray[np.intp]

SAME = 0.05
"""Tubes whose slopes moved by less than this share keep the good circuit's in the AC network."""

RIPPLE_A = 1e-8
"""What the last correction may have been off by, amperes, before it was mended once more. That is
little, since it decides where a net stands that next to nothing holds (a screen cut off)."""

MOVED = (0, 6, 18)
"""Numbers of electrodes with other slopes that faults are sorted by, so that equal ones stack."""

ROUND = 2e-3
"""Passes that stay within this (relative) of each other and come no nearer go round the answer:
the best of them is taken."""

LEAST_S = 1e-7
"""Slopes below this, siemens, count as none in that."""

ARRIVED, NEWTON, PASSES = "arrived", "newton", "passes"
"""How a fault can end: with an answer, Newton's method lost in its first pass, passes that do not
come nearer."""


class FaultBatch(Steps):
    """F faults of the good circuit of ``base``; each array's first index is the fault.

    ``exact`` is what the last correction may be off by, amperes.
    """

    def __init__(
        self,
        base: Base,
        loaded: Loaded,
        changes: Sequence[Change],
        cold: Sequence[frozenset[str]],
        starts: Sequence[Start],
        exact: float = RIPPLE_A,
    ) -> None:
        good, self.exact = base.cycle, exact
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
        moved = np.abs(self.slopes[who] - self.base.slopes).max(axis=2, initial=0.0) > 0
        for part in self.good.bank.slices:  # a section is in with all its electrodes
            moved[:, part] = moved[:, part].any(axis=1, keepdims=True)
        count = moved.sum(axis=1)
        order = np.argsort(~moved, axis=1, kind="stable")
        size = np.select([count <= s for s in MOVED], MOVED, self.q)
        for group in (np.flatnonzero(size == some) for some in np.unique(size)):
            most = count[group].max()
            self._load(who[group], order[group, :most], np.arange(most) < count[group, None])

    def _load(self, who: Places, tubes: Places, filled: NDArray[np.bool_]) -> None:
        """Woodbury's formula with the faults' terms and some electrodes each, (f, k)."""
        seen, at, r = self.loaded.seen, self.p + tubes, self.at.shape[2]
        felt = np.concatenate([self.felt[who], seen[:, at].transpose(1, 0, 2, 3)], axis=2)
        outward = seen[:, :, at].transpose(2, 0, 1, 3)
        outward = np.concatenate([self.caused[who], outward], axis=3)
        below = np.take_along_axis(outward[..., :r], at[:, None, :, None], axis=2)
        within = np.concatenate([self.mutual[who], below], axis=2)
        beside = np.take_along_axis(felt, at[:, None, None, :], axis=3)
        within = np.concatenate([within, beside], axis=3)
        here = np.arange(len(who))[:, None, None], tubes[:, :, None], tubes[:, None, :]
        delta = (self.slopes[who] - self.base.slopes)[here]
        delta = (delta * filled[:, :, None] * filled[:, None, :])[:, None]
        y_within, y_felt = np.empty_like(within), np.empty_like(felt)
        for product, part in ((y_within, within), (y_felt, felt)):
            product[:, :, :r] = self.extra[who][:, :, :, None] * part[:, :, :r]
            product[:, :, r:] = delta @ part[:, :, r:]
        gain = solved(np.eye(within.shape[2]) + y_within, y_felt)
        p = self.p
        ports = seen[:, :p, :p] - outward[:, :, :p] @ gain[..., :p]
        self.kernel[who] = one.to_time(ports.transpose(0, 2, 3, 1), self.n)
        self.spectrum[who] = np.fft.rfft(self.kernel[who], axis=-1)
        for k, j in enumerate(who):
            self.gain[j], self.outward[j], self.chosen[j] = gain[k], outward[k], tubes[k]

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
            enters[:, :, k] -= back[:, r:] @ self.base.valve_at[:, self.chosen[j]].T
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
            moved = size_of((now[0] - before[0], now[1] - before[1]), *now)
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
            if there and self.wrong[k] < self.exact:
                self.status[k], on[place] = ARRIVED, False
            elif turn > one.PATIENCE and min(past[-one.PATIENCE :]) > 0.5 * min(
                past[: -one.PATIENCE]
            ):
                near = max(past[-one.PATIENCE :]) < ROUND and self._from_best(k) < ROUND
                self.status[k], on[place] = ARRIVED if near else PASSES, False
                self.mean[k], self.wave[k], self.correction[k] = self.best[k]
        return going[on], moved[on]

    def _from_best(self, k: int) -> float:
        """How far (relative) a fault has gone from its best pass."""
        here = self.mean[k], self.wave[k]
        away = [now - then for now, then in zip(here, self.best[k], strict=False)]
        return float(size_of((away[0][None], away[1][None]), here[0][None], here[1][None])[0])

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
            self.slopes[going[far]] = self._kept(seen[far])
            self.correction[going[far]] = rest[far] - self.slopes[going[far]] @ swing[far]
            self.load(going[far])
        for place, k in enumerate(going):
            if done[place]:
                self.status[k] = ARRIVED
            elif far[place]:
                mixers[k] = Mixer()
            else:
                self.correction[k] = mixers[k].next(self.correction[k], wanted[place])
        return np.asarray(going[~done])

    def _kept(self, seen: Array) -> Array:
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
        middle = (self.mean[who] @ self.base.valve_at)[:, :, None]
        taken, slopes = self._tubes(who, np.concatenate([middle + swing, middle], axis=2))
        return taken[:, :, :-1] - taken[:, :, -1:], swing, self._matrix(slopes, slice(-1))

    # -- answers --------------------------------------------------------------------------

    def _answers(self, who: Places) -> list[Steady]:
        """See :meth:`Cycle.answer`; one a fault."""
        if not len(who):
            return []
        wave = self.wave[who]
        volts, amps, _, _ = self.stack.curves(who, wave)
        x = self.mean[who][:, :, None] + self.ac_of(who, amps)
        middle, across = x.mean(axis=2) @ self.base.valve_at, self.base.valve_at.T @ x
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
        flow += good.port_at @ amps + self.base.valve_at @ valve_amps
        flow -= self.stack.steady[who][:, :, None]
        worst = np.abs(flow[:, : len(network.nets)]).max(axis=(1, 2), initial=0.0)
        return np.asarray(worst)
