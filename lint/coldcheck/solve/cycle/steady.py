"""The periodic steady state: Newton's method on the nonlinear ports and the mean values.

Rectifiers and diodes are solved at all N instants of the cycle together (their linear
surroundings seen through a circulant impedance). Tubes with grids are solved at their mean
voltages; what their curvature makes of the ripple is fed back as a source and corrected until
Kirchhoff's current law holds at every net and instant. So nets without ripple cost one unknown,
not N, and long time constants cost nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from coldcheck.solve.cycle.bank import ValveBank
from coldcheck.solve.cycle.devices import incidence
from coldcheck.solve.cycle.means import mean_matrix
from coldcheck.solve.cycle.mixing import Mixer
from coldcheck.solve.cycle.portstep import PortStep
from coldcheck.solve.cycle.response import difference
from coldcheck.solve.cycle.starts import LabelledStart, NotConverged, Start, Steady, resampled
from coldcheck.solve.work import TooMuchWork

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from coldcheck.solve.cycle.devices import Port, Valve
    from coldcheck.solve.cycle.diodes import Curve
    from coldcheck.solve.cycle.network import Network
    from coldcheck.solve.cycle.response import Response
    from coldcheck.solve.cycle.swings import Swings
    from coldcheck.solve.work import Work

    Array = NDArray[np.float64]
    Complex = NDArray[np.complex128]

MAX_STEPS = 60
STALL = 10
"""Newton steps, and below passes, without halving the error before giving up."""

WHOLE_STALL = 5
"""The same for whole steps: they soon show whether they arrive."""

MAX_PASSES = 60
PATIENCE = 15
RUNAWAY = 1e3
SETTLING = 3
STEP_TOLERANCES = (1e-3, 1e-6, 1e-8)
"""Relative steps at which Newton stops in the first, second and later passes."""

NOISE = 1e-7
"""Relative steps below this are rounding, not progress to be damped."""

SCALE_OHM = 200.0


class Cycle:
    """One state's equations. N instants; N is 1 when nothing follows the mains."""

    def __init__(
        self,
        network: Network,
        ports: Sequence[Port],
        valves: Sequence[Valve],
        response: Response | None,
        shunts: tuple[Array, Array],
        instants: int,
        work: Work,
    ) -> None:
        self.network, self.ports, self.work = network, ports, work
        self.bank = ValveBank(network, valves)
        self.response, self.shunts, self.n = response, shunts, instants
        self.port_at = _dense(incidence(network, [p.ends for p in ports]))
        self.valve_at = self.bank.at
        self.steady = np.zeros(network.size)
        for row, volts in network.steady:
            self.steady[row] += volts
        self.hum = np.zeros(network.size)
        for row, volts in network.hum:
            self.hum[row] += volts
        self.linear = mean_matrix(network)
        self.loaded: Any = None
        self._loads_at: Array | None = None
        self._last: tuple[Array, tuple[Array, Array, Array, Array]] | None = None
        self.curves: dict[Curve, list[int]] = {}
        for k, port in enumerate(ports):
            self.curves.setdefault(port.curve, []).append(k)

    def port_curves(self, wave: Array) -> tuple[Array, Array, Array, Array]:
        """Volts, amperes and slopes along the port variables, each (p, N).

        The last answer is kept: the residual, the step and the answer at one place all ask.
        """
        if self._last is None or self._last[0] is not wave:
            self._last = wave, self._curves_at(wave)
        return self._last[1]

    def _curves_at(self, wave: Array) -> tuple[Array, Array, Array, Array]:
        out = [np.zeros_like(wave) for _ in range(4)]
        for curve, rows in self.curves.items():
            flat = wave[rows].ravel()
            for target, got in zip(out, curve.solve(flat, SCALE_OHM), strict=True):
                target[rows] = got.reshape(len(rows), -1)
        return out[0], out[1], out[2], out[3]

    # -- the AC side ----------------------------------------------------------------------

    def impedance(self, slopes: Any) -> Array:
        """Load the tubes' AC slopes; the impedance the ports see, by lag: (p, p, N) ohms."""
        self.loaded = slopes
        if self.response is None:
            return np.zeros((len(self.ports), len(self.ports), self.n))
        self._load(slopes)
        seen = self.response.between(self.port_at).transpose(1, 2, 0)
        return _to_time(np.ascontiguousarray(seen), self.n)

    def _load(self, slopes: Any) -> None:
        """Put the tubes' slopes and the state's changed conductances into the AC network."""
        shunt_at, shunt_y = self.shunts
        if self.response is None:
            return
        if self.bank.sparse:
            from scipy.sparse import block_diag, hstack

            columns: list[Any] = [self.valve_at, shunt_at]
            at = hstack(columns).tocsc()
            self.response.load(at, block_diag([slopes, shunt_y]).tocsc())
            return
        q = self.bank.size
        if self._loads_at is None:
            self._loads_at = np.concatenate([self.valve_at, shunt_at], axis=1)
        y = np.zeros((q + len(shunt_y), q + len(shunt_y)))
        y[:q, :q], y[q:, q:] = slopes, shunt_y
        self.response.load(self._loads_at, y)

    def ac_of(self, port_amps: Array, correction: Array) -> Array:
        """All unknowns' AC part (m, N) for given port currents and tube corrections (., N)."""
        if self.response is None:
            return np.zeros((self.network.size, self.n))
        drive = -self.port_at @ _to_harmonics(port_amps) - self.valve_at @ _to_harmonics(correction)
        drive[:, 0] += self.hum * (-0.5j * self.n)
        answer = self.response.solve(np.ascontiguousarray(drive.T)[:, :, None])[:, :, 0]
        return _to_time(answer.T, self.n)

    # -- Newton ---------------------------------------------------------------------------

    def solve(self, start: Start | None = None) -> Steady:
        """Solve from a start (or from nothing). Raises NotConverged."""
        with np.errstate(over="ignore", invalid="ignore"):
            return self._passes(start or self._nothing())

    def _passes(self, begin: Start) -> Steady:
        """Newton on ports and means, then the tubes' correction, until the currents balance."""
        mean, wave = begin.mean, begin.wave
        held = begin.slopes is not None  # another state's, already factored
        slopes = begin.slopes if held else self.bank.linear(self.valve_at.T @ mean)[1]
        correction = begin.correction(slopes)
        steps, mixer, history = 0, Mixer(), [np.inf]
        for turn in range(MAX_PASSES):
            if turn < (1 if held else SETTLING):  # later they stay: the mixing sees one function
                kernel = self.impedance(slopes)
            open_ac = self.port_at.T @ self.ac_of(np.zeros_like(wave), correction)
            goal = STEP_TOLERANCES[min(turn, len(STEP_TOLERANCES) - 1)]
            bias = correction.mean(axis=1)
            mean, wave, used = self._newton(mean, wave, kernel, open_ac, bias, goal)
            steps += used
            answer, seen = self.answer(self.waves(mean, wave, correction), wave, steps)
            residual = answer.residual
            history.append(residual)
            if answer.balanced:
                return answer
            stalled = min(history[-PATIENCE:]) > 0.5 * min(history[:-PATIENCE], default=np.inf)
            if stalled or not residual < RUNAWAY * min(history[1:]):
                break
            if turn + 1 < SETTLING and not held:
                slopes = seen
                correction = answer.start.correction(slopes)
            else:
                correction = mixer.next(correction, answer.start.correction(slopes))
        raise NotConverged(f"current still {history[-1]:.2g} A in error after {steps} steps")

    def label(self, answer: Steady) -> LabelledStart:
        """Name the rows of an answer's start."""
        start = answer.start
        waves = dict(zip(self._port_names(), start.wave, strict=True))
        tubes = zip(self.bank.names(), start.rest, start.swing, strict=True)
        known = {name: (rest, swing) for name, rest, swing in tubes}
        slopes = self.loaded if self.bank.sparse else None
        return LabelledStart(start.mean, waves, known, answer.unknowns, slopes, self.network.nets)

    def adapt(self, labelled: LabelledStart) -> Start:
        """A start for this state: what both states have, and nothing for the rest."""
        start = self._nothing()
        same = labelled.nets is None or labelled.nets == self.network.nets
        if same:
            shared = min(len(start.mean), len(labelled.mean))
            start.mean[:shared] = labelled.mean[:shared]
        else:  # of another circuit: the nets both have, by name
            for net in self.network.nets.keys() & (labelled.nets or {}).keys():
                start.mean[self.network.nets[net]] = labelled.mean[(labelled.nets or {})[net]]
        for k, name in enumerate(self._port_names()):
            if name in labelled.wave:
                start.wave[k] = resampled(labelled.wave[name], self.n)
        for k, name in enumerate(self.bank.names()):
            if name in labelled.tubes:
                rest, swing = labelled.tubes[name]
                start.rest[k], start.swing[k] = resampled(rest, self.n), resampled(swing, self.n)
        if labelled.slopes is not None and same:
            start.slopes = self.bank.slopes_from(list(labelled.tubes), labelled.slopes)
        return start

    def _port_names(self) -> list[tuple[str, str]]:
        return [(p.owner, p.electrode) for p in self.ports]

    def _nothing(self) -> Start:
        ports, tubes = (len(self.ports), self.n), (self.bank.size, self.n)
        return Start(np.zeros(self.network.size), np.zeros(ports), np.zeros(tubes), np.zeros(tubes))

    def _newton(
        self, mean: Array, wave: Array, kernel: Array, open_ac: Array, bias: Array, goal: float
    ) -> tuple[Array, Array, int]:
        """Newton's method with whole steps, which nearly always arrive and soonest; else damped."""
        try:
            return self._steps(mean, wave, kernel, open_ac, bias, goal, damped=False)
        except (NotConverged, TooMuchWork, np.linalg.LinAlgError):
            return self._steps(mean, wave, kernel, open_ac, bias, goal, damped=True)

    def _steps(
        self, mean: Array, wave: Array, kernel: Array, open_ac: Array, bias: Array, goal: float,
        *, damped: bool,
    ) -> tuple[Array, Array, int]:  # fmt: skip
        """Damping by natural monotonicity: Deuflhard, "Newton Methods", 2004, ch. 3."""
        spectrum, sizes = np.fft.rfft(kernel, axis=-1), list[float]()
        stall = STALL if damped else WHOLE_STALL
        residual, slopes = self._residual(mean, wave, spectrum, open_ac, bias)
        for used in range(1, MAX_STEPS + 1):
            direction = self._direction(wave, slopes, kernel)
            step = direction.step(residual)
            size = _size(step, mean, wave)
            sizes.append(size)
            if not np.isfinite(size) or min(sizes[-stall:]) > 0.5 * min(sizes[:-stall] or [np.inf]):
                break
            if size < goal:
                return mean + step[0], wave + step[1], used
            damping = 1.0
            while True:
                trial = mean + damping * step[0], wave + damping * step[1]
                residual, slopes = self._residual(*trial, spectrum, open_ac, bias)
                if not damped or damping < 1e-3:
                    break
                after = _size(direction.step(residual), mean, wave)
                if after < max((1 - damping / 4) * size, NOISE):
                    break
                damping /= 2
            mean, wave = trial
        raise NotConverged(f"Newton's method stopped after {used} steps")

    def _residual(
        self, mean: Array, wave: Array, spectrum: Complex, open_ac: Array, bias: Array
    ) -> tuple[tuple[Array, Array], Any]:
        """Errors of the mean equations (m,) and of the port voltages (p, N); the tubes' slopes."""
        valve_amps, slopes = self.bank.linear(self.valve_at.T @ mean)
        volts, amps, _, _ = self.port_curves(wave)
        means = self.linear.times(mean) - self.steady + self.port_at @ amps.mean(axis=1)
        means += self.valve_at @ (valve_amps + bias)
        spread = np.einsum("pqk,qk->pk", spectrum, np.fft.rfft(amps, axis=-1))
        across = (self.port_at.T @ mean)[:, None] + open_ac
        return (means, volts - across + np.fft.irfft(spread, n=self.n, axis=-1)), slopes

    def _direction(self, wave: Array, slopes: Any, kernel: Array) -> _Direction:
        """The Newton step as a function of the residual, factored at port variables (p, N)."""
        solve = self.linear.with_slopes(self.valve_at, slopes)
        _, _, dv, di = self.port_curves(wave)
        return _Direction(solve, self.port_at, kernel, dv, di, self.work)

    def respond(self, answer: Steady, swings: Swings) -> Array:
        """How the means (m, k) move when ``swings`` are added to the equations.

        First order, at an answer of this cycle; the ripple's share reaches the means through
        the rectifiers.
        """
        _, slopes = self.bank.linear(self.valve_at.T @ answer.start.mean)
        kernel = self.impedance(slopes)
        direction = self._direction(answer.start.wave, slopes, kernel)
        volts = swings.volts(len(self.ports), self.n) + self._seen_at_ports(swings)
        return direction.means(swings.means(self.network.size), volts)

    def _seen_at_ports(self, swings: Swings) -> Array:
        """AC volts (p, N, k) that currents taken from the rows leave at the ports."""
        ports, k = len(self.ports), swings.columns
        if self.response is None or not ports or not swings.rows:
            return np.zeros((ports, self.n, k))
        rows, columns, samples = swings.entries()
        each = self.response.toward(self.port_at).T[rows] * _to_harmonics(samples)[:, None]
        seen = np.zeros((k, *each.shape[1:]), dtype=complex)
        begins = np.flatnonzero(np.diff(columns, prepend=-1))
        seen[columns[begins]] = np.add.reduceat(each, begins, axis=0)
        return _to_time(seen, self.n).transpose(1, 2, 0)

    # -- the whole law, at all instants ---------------------------------------------------

    def waves(self, mean: Array, wave: Array, correction: Array) -> Array:
        """All unknowns (m, N) for given means, port variables and tube corrections."""
        _, amps, _, _ = self.port_curves(wave)
        return np.asarray(mean[:, None] + self.ac_of(amps, correction))

    def answer(self, x: Array, wave: Array, steps: int) -> tuple[Steady, Any]:
        """All that unknowns (m, N) and port variables (p, N) say; the tubes' mean slopes.

        The residual is the worst error of Kirchhoff's current law with the whole laws, at any
        net and instant.
        """
        volts, amps, _, _ = self.port_curves(wave)
        mean = x.mean(axis=1)
        valve_volts, middle = self.valve_at.T @ x, self.valve_at.T @ mean
        valve_amps, seen = self.bank.over_cycle(valve_volts)
        at_mean, _ = self.bank.linear(middle)
        start = Start(mean, wave, valve_amps - at_mean[:, None], valve_volts - middle[:, None])
        error = self.kirchhoff(x, amps, valve_amps)
        return Steady(x, volts, amps, valve_volts, valve_amps, error, steps, start), seen

    def kirchhoff(self, x: Array, port_amps: Array, valve_amps: Array) -> float:
        """Largest sum of currents at any net and instant, amperes."""
        flow = self.linear.times(x) + self.linear.charge(difference(x, self.network.frequency))
        flow += self.port_at @ port_amps + self.valve_at @ valve_amps
        flow -= self.steady[:, None]
        return float(np.abs(flow[: len(self.network.nets)]).max(initial=0.0))


class _Direction:
    """The Newton step as a function of the residual; ``at`` (m, p) is the incidence of the ports.

    ``solve`` factors the means' equations, ``dv`` and ``di`` (p, N) are the ports' slopes.
    """

    def __init__(
        self, solve: Callable[[Array], Array], at: Array, kernel: Array, dv: Array, di: Array,
        work: Work,
    ) -> None:  # fmt: skip
        self.solve, self.at, self.di = solve, at, di
        self.into = solve(at) if at.shape[1] else np.zeros_like(at)
        full = kernel + (at.T @ self.into)[:, :, None] / kernel.shape[2]
        self.ports = PortStep(full, dv, di, work)

    def step(self, residual: tuple[Array, Array]) -> tuple[Array, Array]:
        """The step (m,), (p, N) for errors of the means (m,) and the port voltages (p, N)."""
        base = self.solve(residual[0])
        change = self.ports.solve(self._errors(residual[1][:, :, None], base[:, None]))[:, :, 0]
        return -base - self.into @ (self.di * change).mean(axis=1), change

    def means(self, means: Array, volts: Array) -> Array:
        """The means' step (m, k) alone, for many errors (m, k) and (p, N, k) at once."""
        base = self.solve(means)
        return -base - self.into @ self.ports.mean_amps(self._errors(volts, base))

    def _errors(self, volts: Array, base: Array) -> Array:
        return np.asarray(-volts - (self.at.T @ base)[:, None, :])


def _size(step: tuple[Array, Array], mean: Array, wave: Array) -> float:
    """Largest relative change of any unknown."""
    parts = (np.abs(d) / (1.0 + np.abs(x)) for d, x in zip(step, (mean, wave), strict=True))
    return max(float(p.max(initial=0.0)) for p in parts)


def _to_harmonics(samples: Array) -> Complex:
    """(., N) -> (., N/2): harmonics 1..N/2 (the mean is the DC system's)."""
    return np.asarray(np.fft.rfft(samples, axis=-1)[..., 1:])


def _to_time(harmonics: Complex, n: int) -> Array:
    """(., N/2) -> (., N), without a mean."""
    padded = np.concatenate([np.zeros((*harmonics.shape[:-1], 1)), harmonics], axis=-1)
    return np.asarray(np.fft.irfft(padded, n=n, axis=-1))


def _dense(matrix: Any) -> Array:
    """Ports are few: their incidence stays an ordinary array."""
    return np.asarray(matrix if isinstance(matrix, np.ndarray) else matrix.toarray())
