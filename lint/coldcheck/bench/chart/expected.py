"""What each point should show in a state, with the range it should show it in.

DC: the solver's spread (tolerances of parts, spread of tubes, the mains, to first order, added as
squares). AC: half of what the ends of the mains make of it, what electrolytics 20 % smaller make
of it, and a tenth for everything else (the tolerance of a winding's voltage where no filter takes
part), added as squares; an estimate, in which most copies of the circuit fall. Neither is a bound.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property
from math import hypot, sqrt
from typing import TYPE_CHECKING

from coldcheck.anatomy.running import keeps_going, running, swinging
from coldcheck.bench.chart.changed import electrolytics_times, tied
from coldcheck.bench.chart.points import named_points
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.paths import floating_islands
from coldcheck.drawing.units import engineering, si, volt_digits
from coldcheck.records import dataclass
from coldcheck.solve.engine import Solver
from coldcheck.solve.solution import COLD, HIGH, LOW, WARM, Solution, State
from coldcheck.solve.states import states_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from coldcheck.anatomy.running import Running, Swing
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.solve.cycle.spread import Spread
    from coldcheck.solve.solution import Wave

SMALLER = 0.8
"""Electrolytics at the low end of +/- 20 % (common practice)."""

OTHERWISE = 0.10
"""Share of a filtered AC voltage allowed for what is not worked out (common practice)."""

UNFILTERED = 0.01
"""Electrolytics that change an AC voltage by less than this do not filter it."""


NOTHING = 0.05
"""Volts at which no stage with a coil in its lead stands differently when it oscillates."""


@dataclass(frozen=True, slots=True)
class Band:
    """A figure and the range it may be in; ``None`` ends where no range could be worked out."""

    value: float
    low: float | None = None
    high: float | None = None

    @property
    def off(self) -> float | None:
        """Plus or minus how much."""
        return None if self.low is None or self.high is None else (self.high - self.low) / 2

    @classmethod
    def about(cls, value: float, off: float | None, least: float | None = None) -> Band:
        """A value plus or minus ``off``, not below ``least``."""
        if off is None:
            return cls(value)
        low = value - off if least is None else max(value - off, least)
        return cls(value, low, value + off)


@dataclass(frozen=True, slots=True)
class Voltages:
    """Of a point to gnd, volts: DC, AC rms, peak to peak; the extreme instants, DC included."""

    dc: Band
    ac: Band
    pp: Band
    lowest: float
    highest: float

    @property
    def peak(self) -> float:
        """The largest instant, without its sign."""
        return max(abs(self.lowest), abs(self.highest))


class Expected:
    """The voltages of one state of a circuit. Raises KeyError for a state it does not have."""

    def __init__(self, circuit: Circuit, name: str = WARM) -> None:
        self.circuit = circuit
        self._tied: dict[str, Expected] = {}
        self.state: State = {s.name: s for s in states_of(circuit)}[name]
        self._solver = Solver(circuit)
        self.solution = self._first()

    def _first(self) -> Solution:
        """The state; warm is solved before it, since the others start from its answer."""
        if self.state.kind != WARM:
            self._solver.solve(State(WARM, WARM))
        return self._solver.solve(self.state)

    def voltages(self, net: str) -> Voltages | None:
        """What a net should show, ``None`` where it has no number (see ``reason``)."""
        if net == GROUND:
            return Voltages(Band(0.0, 0.0, 0.0), Band(0.0, 0.0, 0.0), Band(0.0, 0.0, 0.0), 0.0, 0.0)
        if net in self._own or any(net == s.grid for s in self._swings):
            return None
        wave = self.solution.waves.get(net) if self.solution.converged else None
        return None if wave is None else self.of(wave, self._dc_off(net), net)

    @cached_property
    def _own(self) -> Mapping[str, Running]:
        """The nets of stages that make their own bias, where these run in this state."""
        state, solution = self.state, self.solution
        if not (state.warm and solution.converged):
            return {}
        idle = state.pulled | state.unheated
        hot = [r for r in running(self.circuit) if r.section.tube not in idle]
        found = {net: r for r in hot if keeps_going(solution, r) for net in r.nets}
        return {net: r for net, r in found.items() if net in r.grids or self._some(net)}

    def _some(self, net: str) -> bool:
        """Whether a net has more volts than what a coil's ohms make of any current."""
        wave = self.solution.waves.get(net)
        return wave is None or abs(wave.dc) > NOTHING

    def practice(self, net: str) -> Band | None:
        """What practice gives for the grid of a stage that makes its own bias, volts DC."""
        stage = self._own.get(net)
        if stage is None or stage.volts is None or net not in stage.grids:
            return None
        return Band(-sqrt(stage.volts[0] * stage.volts[1]), *stage.volts)

    @cached_property
    def _swings(self) -> tuple[Swing, ...]:
        return swinging(self.solution) if self.solution.converged else ()

    def swing(self, net: str) -> float | None:
        """Hertz at which a stage swings on a net, its mean not quite that of rest."""
        return next((s.hertz for s in self._swings if net in s.nets), None)

    def wave_between(self, a: str, b: str = GROUND) -> Wave | None:
        """The wave of one net measured from another, ``None`` where there is no number.

        Two points of one floating island have none to gnd, but one between them.
        """
        if self._afloat_together(a, b):
            return self._with_tie(a).wave_between(a, b)
        high, low = self._wave(a), self._wave(b)
        return None if high is None or low is None else high - low

    def between(self, a: str, b: str) -> Voltages | None:
        """What stands between two nets, ``a`` measured from ``b``."""
        if self._afloat_together(a, b):
            return self._with_tie(a).between(a, b)
        wave, spread = self.wave_between(a, b), self.spread
        if wave is None:
            return None
        off = None if spread is None else spread.volts(a, b, mains=self._mains_spread)
        return self.of(wave, off, a, b)

    def at_switch_on(self, a: str, b: str = GROUND) -> Wave | None:
        """The wave between two nets before the tubes draw; ``None`` where it is not known."""
        if self._afloat_together(a, b):
            return self._with_tie(a).at_switch_on(a, b)
        cold = self._cold
        high, low = self._wave(a, cold), self._wave(b, cold)
        return None if high is None or low is None else high - low

    @cached_property
    def _cold(self) -> Solution:
        """Just switched on, the switches and sockets as in this state."""
        if self.state.kind == COLD or not self.circuit.tubes:
            return self.solution
        thrown, pulled = self.state.thrown, self.state.pulled
        return self._solver.solve(State(COLD, COLD, thrown=thrown, pulled=pulled, warm=False))

    def _afloat_together(self, a: str, b: str) -> bool:
        loose = self.solution.undefined
        if a == b or a not in loose or b not in loose:
            return False
        return any(a in island and b in island for island in floating_islands(self.circuit))

    def _with_tie(self, net: str) -> Expected:
        if net not in self._tied:
            self._tied[net] = Expected(tied(self.circuit, net), self.state.name)
        return self._tied[net]

    def reason(self, net: str) -> str:
        """Why a net has no voltage; empty where it has one."""
        if not self.solution.converged:
            return self.solution.reason
        if net in self._own:
            return _of_its_own(self._own[net], net)
        swing = next((s for s in self._swings if net == s.grid), None)
        if swing is not None:
            hertz = engineering(swing.hertz, "Hz")
            return f"{swing.section.name} oscillates at {hertz}, and its grid charges itself"
        if net == GROUND or net in self.solution.waves:
            return ""
        return self.solution.why_lost(net) or "it could not be worked out"

    def of(self, wave: Wave, off: float | None, a: str, b: str = GROUND) -> Voltages:
        """The figures of a wave between two nets, the DC plus or minus ``off``."""
        swing = wave.high - wave.low
        share = self._ac_share(wave, a, b)
        ac_off, pp_off = (None if share is None else share * v for v in (wave.ac_rms, swing))
        return Voltages(
            Band.about(wave.dc, off),
            Band.about(wave.ac_rms, ac_off, 0.0),
            Band.about(swing, pp_off, 0.0),
            wave.low,
            wave.high,
        )

    def _wave(self, net: str, solution: Solution | None = None) -> Wave | None:
        found = self.solution if solution is None else solution
        if not found.converged or not found.waves:
            return None
        if net == GROUND:
            some = next(iter(found.waves.values()))
            return some - some
        return found.waves.get(net)

    @cached_property
    def spread(self) -> Spread | None:
        """How far the state's figures may be off; ``None`` where it was not solved."""
        return self.solution.spread() if self.solution.converged else None

    @property
    def _mains_spread(self) -> bool:
        """High and low line are themselves an end of the mains."""
        return self.state.kind not in (HIGH, LOW)

    def _dc_off(self, net: str) -> float | None:
        spread = self.spread
        return None if spread is None else spread.volts(net, mains=self._mains_spread)

    @cached_property
    def _ends(self) -> Mapping[str, Solution]:
        """The same state at the ends of the mains and with smaller electrolytics."""
        tolerance = self.circuit.mains_tolerance
        found = {}
        if self._mains_spread:
            for sign in (-1, 1):
                line = self.state.line * (1 + sign * tolerance)
                found[f"line {sign}"] = self._solver.solve(replace(self.state, line=line))
        smaller = Solver(electrolytics_times(self.circuit, SMALLER))
        found["smaller"] = smaller.solve(self.state)
        return found

    def _ac_share(self, wave: Wave, a: str, b: str) -> float | None:
        """Plus or minus which share of the AC; ``None`` where an end was not solved."""
        ac = wave.ac_rms
        if ac == 0.0 or len(wave.samples) == 1:
            return 0.0
        found = {name: self._ac(solution, a, b) for name, solution in self._ends.items()}
        if any(value is None for value in found.values()):
            return None
        values = {name: value / ac for name, value in found.items() if value is not None}
        line = (values["line 1"] - values["line -1"]) / 2 if "line 1" in values else 0.0
        filters = values["smaller"] - 1
        winding = self.circuit.usual.winding_voltage
        return hypot(line, filters, OTHERWISE if abs(filters) > UNFILTERED else winding)

    def with_mains(self, least: float = 1.0) -> dict[str, dict[float, float]]:
        """Net -> share of the mains -> times what its DC then is; nets from ``least`` volts on.

        Only those with a name of the designer's; empty where an end was not solved.
        """
        if self.circuit.mains is None or not self._mains_spread:
            return {}
        ends = {1 + s * self.circuit.mains_tolerance: self._ends[f"line {s}"] for s in (-1, 1)}
        found: dict[str, dict[float, float]] = {}
        for name, net in named_points(self.circuit).items():
            here = self._wave(net)
            there = {share: self._wave(net, solution) for share, solution in ends.items()}
            if here is not None and abs(here.dc) >= least:
                found[name] = {s: w.dc / here.dc for s, w in there.items() if w is not None}
        return {name: each for name, each in found.items() if len(each) == len(ends)}

    def _ac(self, solution: Solution, a: str, b: str) -> float | None:
        high, low = self._wave(a, solution), self._wave(b, solution)
        return None if high is None or low is None else (high - low).ac_rms


def _by(crystal: Branch | None) -> str:
    """``, with Y1 at 7.1 MHz,`` of a stage that oscillates by a crystal."""
    if crystal is None:
        return ""
    hertz = si(crystal.value, "hertz")
    at = "" if hertz is None else f" at {engineering(hertz, 'Hz')}"
    return f", with {crystal.name}{at},"


def _of_its_own(stage: Running, net: str) -> str:
    """Why nothing is foretold of a net of a stage that oscillates."""
    name = stage.section.name + _by(stage.crystal)
    if net not in stage.grids:
        return f"{name} oscillates, and takes less than at rest: how much is not known"
    if stage.volts is None or stage.leak is None:
        return f"{name} oscillates, and its grid makes its own bias"
    low, high = (volt_digits(v) for v in stage.volts)
    return (
        f"{name} oscillates, and its grid makes its own bias: {low} to {high} V by practice "
        f"(0.05 to 0.5 mA through {stage.leak.name}); about 0 V says that it stands still"
    )
