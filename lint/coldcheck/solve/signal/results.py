"""What a signal source does to a drawing: gains, swings, impedances, corners. Plain SI floats.

Every ratio is per volt at the source's point: a drawing states what is measured there, whatever
the generator behind it. Impedances are seen with the generators at rest (600 ohm to gnd each).
"""

from __future__ import annotations

import math
from dataclasses import field
from typing import TYPE_CHECKING

from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy as np
    from numpy.typing import NDArray

    from coldcheck.solve.signal.sweep import Sweep
    from coldcheck.solve.solution import State

CUT_OFF, GRID_CURRENT, BOTTOMED = "cut-off", "grid current", "plate at its cathode"


@dataclass(frozen=True, slots=True)
class Limit:
    """What bounds a stage's swing, and the peak volts at the source that reach it.

    The bound is the straight line through the operating point: the current is down to nothing
    (``cut-off``), the grid up at its cathode (``grid current``) or the plate down there
    (``plate at its cathode``). Real curves bend before: makers print, for some 5 % distortion,
    three quarters of it for a triode (tests/published/stages.csv). Grid current sets in some
    tenths of a volt below 0 V, which matters where the bias is under 1 V, and a pentode bottoms
    earlier than this. In a push-pull pair the cut-off of one side is only the end of class A and
    is not counted.
    """

    cause: str
    source_peak: float


@dataclass(frozen=True, slots=True)
class Stage:
    """One tube section as a source drives it, ratios per volt at the source.

    mu, gm, rp
        The law's slopes at the operating point (siemens, ohms; a pentode's screen held).
        ``rp`` is infinite where the plate takes no current.
    input
        ``grid``, ``grid3`` or, with the grid at rest, ``cathode``.
    plate_gain, cathode_gain
        Plate and cathode over the input, all to gnd, as it works in this circuit (with the load
        and the feedback drawn); ``cathode_gain`` is ``None`` when the cathode is the input.
    plate, cathode
        Volts at these electrodes at the source's frequency.
    plate_ohm, cathode_ohm
        Impedance to gnd there at mid band, drawn loads included.
    limits
        In the order they are reached; ``limits[0]`` bounds the undistorted swing.
    source_peak
        The stated input at the source, peak volts.
    """

    section: str
    input: str
    mu: float
    gm: float
    rp: float
    plate_gain: Sweep
    cathode_gain: Sweep | None
    plate: complex
    cathode: complex
    plate_ohm: complex
    cathode_ohm: complex
    limits: tuple[Limit, ...]
    source_peak: float

    @property
    def output(self) -> str:
        """``plate`` or ``cathode``, whichever moves more: where the stage is taken from.

        The corners of the other's gain are those of its decoupling, not of the stage. A
        split-load inverter has two outputs; they move alike.
        """
        return "cathode" if abs(self.cathode) > abs(self.plate) else "plate"

    @property
    def gain(self) -> Sweep:
        """The gain to :attr:`output`: its mid band, its corners."""
        if self.output == "cathode" and self.cathode_gain is not None:
            return self.cathode_gain
        return self.plate_gain

    @property
    def ohm(self) -> complex:
        """The impedance to gnd at :attr:`output`, drawn loads included, at mid band."""
        return self.cathode_ohm if self.output == "cathode" else self.plate_ohm

    @property
    def plate_swing(self) -> float:
        """Peak volts at the plate at the stated input, by the straight line."""
        return abs(self.plate) * self.source_peak

    @property
    def cathode_swing(self) -> float:
        """Peak volts at the cathode at the stated input, by the straight line."""
        return abs(self.cathode) * self.source_peak

    @property
    def overdriven(self) -> bool:
        """Whether the stated input goes past the first limit: swings are then upper bounds."""
        return bool(self.limits) and self.source_peak > self.limits[0].source_peak

    @property
    def most_cathode_swing(self) -> float:
        """Peak volts at the cathode that the stage can make of the stated input.

        However hard it is driven, its cathode moves no further than the later of cut-off and
        grid current takes it.
        """
        ends = [x.source_peak for x in self.limits if x.cause != BOTTOMED]
        return abs(self.cathode) * min(self.source_peak, max(ends, default=math.inf))


@dataclass(frozen=True, slots=True)
class Output:
    """A place where the signal is taken: a speaker, a secondary, a net named OUT, else a plate.

    ``gain`` is the voltage from ``a`` to ``b`` over the source; ``impedance`` what is seen there
    into the circuit, ohms, a speaker itself left out (``load`` is its ohms), any other drawn
    load included. ``volts`` (rms) is for the stated input; ``undistorted`` (peak) for the input
    at which the first stage reaches its limit, ``None`` where none has one.
    """

    name: str
    a: str
    b: str
    gain: Sweep
    impedance: Sweep
    load: float | None
    volts: float
    undistorted: float | None

    @property
    def damping(self) -> float | None:
        """Speaker over output impedance at mid band; ``None`` without a speaker."""
        return None if self.load is None else self.load / max(abs(self.impedance.mid), 1e-12)

    @property
    def watts(self) -> float | None:
        """Power in the speaker at the stated input, by the straight line."""
        return None if self.load is None else self.volts**2 / self.load


@dataclass(frozen=True, slots=True)
class Driven:
    """The circuit driven by one source: ``volts`` rms at ``frequency`` (hertz) on ``net``.

    ``response`` maps each net to its volts (F,) over ``frequencies`` (F,), per volt at ``net``.
    ``stages`` are the sections this source works in, in drawing order; ``first`` is the name of
    the one that reaches its limit first.
    """

    source: str
    net: str
    volts: float
    frequency: float
    frequencies: NDArray[np.float64]
    response: Mapping[str, NDArray[np.complex128]]
    stages: tuple[Stage, ...]
    outputs: tuple[Output, ...]
    first: str | None

    @property
    def place(self) -> int:
        """Where in ``frequencies`` its own frequency is, or the one next to it."""
        return int(abs(self.frequencies - self.frequency).argmin())

    @property
    def overdriven(self) -> bool:
        """Whether the stated input goes past some stage's first limit."""
        return any(s.overdriven for s in self.stages)

    def stage(self, section: str) -> Stage:
        """The stage of a section; raises KeyError where this source does not work in it."""
        return {s.section: s for s in self.stages}[section]

    def output(self, name: str) -> Output:
        """The output of that name; raises KeyError."""
        return {o.name: o for o in self.outputs}[name]


@dataclass(frozen=True, slots=True)
class SignalSolution:
    """All sources of a drawing in one state, or why there are no numbers (``reason``).

    ``assumed`` maps an output transformer to the primary inductance (henry) taken for it where
    the drawing gives none: the low corner rests on it.
    """

    state: State
    solved: bool
    reason: str
    sources: Mapping[str, Driven] = field(default_factory=dict)
    unused: Mapping[str, str] = field(default_factory=dict)
    """Source -> why it drives nothing."""
    assumed: Mapping[str, float] = field(default_factory=dict)
