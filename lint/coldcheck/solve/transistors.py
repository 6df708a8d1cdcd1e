"""Laws of transistors: the currents into their leads as functions of the voltages between them.

All are taken as n-channel; of a p-channel one all voltages and currents change their signs
(``devices.valves``). Plain SI floats, vectorised over N instants, with analytic derivatives, as the
laws of tubes (``tubes.laws``).

A MOSFET follows the square law of the gradual channel (C. T. Sah, IEEE Trans. Electron Devices 11,
1964)::

    I = K (Vo Vds - Vds²/2) below Vds = Vo, K Vo²/2 above;  Vo = Vgs - threshold

K is that of the published transconductance, g² = 2 K I. Close to the threshold, where the channel
is in weak inversion, Vo goes over into an exponential. In series with the channel is a resistance
that makes its published one when it is wide open. Between drain and source lies besides the diode
of the body, a port of its own.

A JFET follows the same square law (W. Shockley, Proc. IRE 40, 1952, in the form in which its sheets
give it)::

    I = Idss (1 - Vgs/Voff)² above pinch-off, so K = 2 Idss / Voff²

Its two ends are alike, so that it does as well the other way round, and its gate is a junction to
each of them.

A bipolar transistor follows J. J. Ebers and J. L. Moll (Proc. IRE 42, 1954) in the form in which
one current is carried from collector to emitter::

    Ic = F - R (1 + 1/Br)    Ib = F/B + R/Br    F = Is (exp(Vbe/Vt) - 1)    R = Is (exp(Vbc/Vt) - 1)

Is is that of the typical volts of the base. Beyond ten times the rated current both exponentials go
on straight, so that Newton's method does not meet their cliffs; the law means nothing there.

A regulator gives what is missing from its output to its own reference times a large conductance, as
far as its current limit and the volts it has across it let it (the least of the three, smoothly).
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, assert_never

import numpy as np

from coldcheck.circuit.transistors import Family
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from coldcheck.circuit.model import Transistor
    from coldcheck.circuit.transistors import TransistorType
    from coldcheck.solve.tubes.laws import Law

    Array = NDArray[np.float64]

THERMAL_V = 0.02585
"""kT/q at 300 K."""
REVERSE_GAIN = 2.0
"""With collector and emitter exchanged (planar types; from memory)."""
HOLDS_S = 50.0
"""Of a regulator, from its output: 20 mV an ampere (from memory)."""
FINE_V, DROPS_V, LEAST_A = 2e-3, 0.05, 1e-12
"""How softly it begins to give and to drop out, and what keeps its law defined."""
DROPS_SHARE = 0.65
"""Of its dropout voltage what is there without a load (from memory)."""
LIMITS_AT = 2.0
"""Times its rated current that its own limit lets through (typical; from memory)."""
USUAL_SHARE = 0.35
"""Of the least load that a sheet asks for, what the usual copy needs (3.5 of 10 mA; memory)."""
SHARP = 6
"""How sharply the least of its three limits is taken."""
WEAK_V = 0.08
"""Volts by which the current falls by e² below the threshold (weak inversion, n = 1.5; derived)."""
LEAST_V = 1e-9
"""Volts over the threshold that keep a conductance defined when a channel is shut."""
GATE_V = 10.0
"""At the gate, where the resistance of a channel that is wide open is published."""
LENGTHENED = 1e-3
"""How much of itself the current rises a volt (high-voltage types; from memory)."""
JFET_LENGTHENED, GATE_SATURATION_A = 2e-3, 1e-14
"""The same of small JFETs, and what their gate's junction has at 0.65 V at 1 mA (from memory)."""
BULK_S = 1e3
"""Of the leads of a JFET's channel: nothing to speak of."""


@dataclass(frozen=True, slots=True)
class MosfetLaw:
    """``threshold`` in volt, ``factor`` (K) in ampere a volt², ``drift`` in siemens.

    The channel is followed by what carries its current to the drain (``drift``): of a type for high
    voltages most of its resistance. See the module's formula.
    """

    threshold: float
    factor: float
    drift: float
    lengthened: float = LENGTHENED
    electrodes: tuple[str, ...] = ("drain", "gate")

    def currents(self, v: Array) -> tuple[Array, Array]:
        """See :class:`coldcheck.solve.tubes.laws.Law`; the gate takes nothing."""
        over, turns_on = self._over(v[1])
        across = np.maximum(v[0], 0.0)
        beyond = np.maximum(across / over, 1.0)
        shut = np.minimum(across, over)
        channel = self.factor * (over - shut / 2) / beyond
        share = self.drift / (channel + self.drift)
        whole = channel * share
        by_volts = np.where(
            across < over, -self.factor / 2 * (v[0] > 0.0), -channel / np.maximum(across, LEAST_V)
        )
        by_over = self.factor / beyond
        longer = 1 + self.lengthened * across
        slopes = np.zeros((2, 2, *v[0].shape))
        slopes[0, 0] = longer * (whole + v[0] * share**2 * by_volts)
        slopes[0, 0] += np.where(v[0] > 0.0, self.lengthened * whole * across, 0.0)
        slopes[0, 1] = longer * v[0] * share**2 * by_over * turns_on
        return np.array((longer * whole * v[0], np.zeros_like(over))), slopes

    def _over(self, gate: Array) -> tuple[Array, Array]:
        """The gate's volts over the threshold, smooth and never negative, and its slope."""
        over, slope = _soft((gate - self.threshold) / WEAK_V)
        return WEAK_V * over + LEAST_V, slope


@dataclass(frozen=True, slots=True)
class JfetLaw:
    """``channel`` for drain above source; ``most``, where its gate's exponentials end, ampere."""

    channel: MosfetLaw
    most: float
    electrodes: tuple[str, ...] = ("drain", "gate")

    def currents(self, v: Array) -> tuple[Array, Array]:
        """See :class:`coldcheck.solve.tubes.laws.Law`."""
        turned = v[0] < 0.0
        way = np.where(turned, -1.0, 1.0)
        amps, bends = self.channel.currents(
            np.array((np.abs(v[0]), np.where(turned, v[1] - v[0], v[1])))
        )
        source, steep = _junction(v[1], GATE_SATURATION_A, self.most)
        drain, back = _junction(v[1] - v[0], GATE_SATURATION_A, self.most)
        slopes = np.array(
            (
                (bends[0, 0] + np.where(turned, bends[0, 1], 0.0) + back, way * bends[0, 1] - back),
                (-back, steep + back),
            )
        )
        return np.array((way * amps[0] - drain, source + drain)), slopes


@dataclass(frozen=True, slots=True)
class BipolarLaw:
    """``saturation`` (Is) and ``most``, where the exponentials end, in ampere; ``gain`` (B)."""

    saturation: float
    gain: float
    most: float
    electrodes: tuple[str, ...] = ("collector", "base")

    def currents(self, v: Array) -> tuple[Array, Array]:
        """See :class:`coldcheck.solve.tubes.laws.Law`."""
        forward, steep = _junction(v[1], self.saturation, self.most)
        reverse, back = _junction(v[1] - v[0], self.saturation, self.most)
        both = 1 + 1 / REVERSE_GAIN
        amps = np.array((forward - both * reverse, forward / self.gain + reverse / REVERSE_GAIN))
        slopes = np.array(
            (
                (both * back, steep - both * back),
                (-back / REVERSE_GAIN, steep / self.gain + back / REVERSE_GAIN),
            )
        )
        return amps, slopes


@dataclass(frozen=True, slots=True)
class RegulatorLaw:
    """A regulator with three leads, seen from its input to its output and from there to the third.

    ``reference`` is in volt, ``dropout`` the volts below which nothing comes through, ``after`` the
    conductance beyond them; ``most`` the current limit, ``quiet`` what flows out of the third lead
    and ``floor`` what comes out of the output all the same, ampere; ``holds`` how much it gives for
    what is missing, siemens.
    """

    reference: float
    dropout: float
    after: float
    most: float
    quiet: float
    floor: float
    holds: float = HOLDS_S
    electrodes: tuple[str, ...] = ("in", "reference")

    def currents(self, v: Array) -> tuple[Array, Array]:
        """See :class:`coldcheck.solve.tubes.laws.Law`."""
        wanted, steep = _soft((self.reference - v[1]) / FINE_V)
        passed, opens = _soft((v[0] - self.dropout) / DROPS_V)
        wanted, passed = (
            self.holds * FINE_V * wanted + LEAST_A,
            self.after * DROPS_V * passed + LEAST_A,
        )
        least = (wanted**-SHARP + passed**-SHARP + self.most**-SHARP) ** (-1 / SHARP)
        up = np.maximum(v[0], 0.0)
        awake, wakes = -np.expm1(-up), np.where(v[0] > 0.0, np.exp(-up), 0.0)
        slopes = np.zeros((2, 2, *v[0].shape))
        slopes[0, 0] = (least / passed) ** (SHARP + 1) * self.after * opens
        slopes[0, 0] += (self.quiet + self.floor) * wakes
        slopes[0, 1] = -((least / wanted) ** (SHARP + 1)) * self.holds * steep
        slopes[1, 0] = self.quiet * wakes
        return np.array((least + (self.quiet + self.floor) * awake, self.quiet * awake)), slopes


def eased(law: Law, share: float) -> Law:
    """A law that is less steep, on the way to an answer."""
    if isinstance(law, MosfetLaw):
        return replace(law, factor=share * law.factor)
    if isinstance(law, JfetLaw):
        return replace(law, channel=replace(law.channel, factor=share * law.channel.factor))
    return replace(law, holds=share * law.holds) if isinstance(law, RegulatorLaw) else law


def _junction(volts: Array, saturation: float, most: float) -> tuple[Array, Array]:
    """A junction's current and its slope: exponential, then straight from ``most`` ampere on."""
    last = np.log(most / saturation)
    reduced = volts / THERMAL_V
    rise = np.exp(np.minimum(reduced, last)) * saturation
    amps = rise * (1 + np.maximum(reduced - last, 0.0)) - saturation
    return amps, rise / THERMAL_V


def _soft(reduced: Array) -> tuple[Array, Array]:
    """What is above nothing, smoothly, and its slope."""
    soft = np.logaddexp(0.0, reduced)
    return soft, np.exp(reduced - soft)


def transistor_law(kind: TransistorType) -> Law | None:
    """The law of a type, ``None`` where a figure it needs is not on file."""
    match kind.family:
        case Family.N_MOSFET | Family.P_MOSFET:
            return _mosfet(kind)
        case Family.N_JFET | Family.P_JFET:
            return _jfet(kind, ("low", "high"))
        case Family.NPN | Family.PNP:
            return _bipolar(kind)
        case (
            Family.FIXED | Family.NEGATIVE_FIXED | Family.ADJUSTABLE | Family.NEGATIVE_ADJUSTABLE
        ):  # fmt: skip
            return _regulator(kind)
        case _:
            assert_never(kind.family)


def _figures(kind: TransistorType, *wanted: str) -> list[float] | None:
    """Figures of a type, ``None`` where one is not on file."""
    found = [kind.figure(name) for name in wanted]
    known = [f.value for f in found if f is not None]
    return known if len(known) == len(found) else None


def _bipolar(kind: TransistorType) -> BipolarLaw | None:
    gains, base = gain_range(kind), _figures(kind, "base-emitter-voltage", "base-emitter-current")
    rated = kind.figure("collector-current")
    if gains is None or base is None or rated is None:
        return None
    saturation = base[1] / np.expm1(base[0] / THERMAL_V)
    return BipolarLaw(float(saturation), gains[0], 10 * rated.value)


def _regulator(kind: TransistorType) -> RegulatorLaw | None:
    found = _figures(
        kind, *("output-voltage", "dropout-voltage", "output-current", "quiescent-current")
    )
    if found is None:
        return None
    volts, dropout, amps, quiet = found
    least = kind.figure("minimum-load")
    return RegulatorLaw(
        volts, DROPS_SHARE * dropout, amps / ((1 - DROPS_SHARE) * dropout), LIMITS_AT * amps, quiet,
        0.0 if least is None else USUAL_SHARE * least.value,
    )  # fmt: skip


def gain_range(kind: TransistorType) -> tuple[float, float] | None:
    """The gain of the middle base current of all copies, and by what share theirs may be off."""
    found = _figures(kind, "gain-low", "gain-high")
    if found is None:
        return None
    low, high = found
    return 2 * low * high / (low + high), (high - low) / (high + low)


def _mosfet(kind: TransistorType) -> MosfetLaw | None:
    wanted = ("threshold-low", "threshold-high", "transconductance", "transconductance-current")
    found = _figures(kind, *wanted)
    if found is None:
        return None
    low, high, steep, at = found
    threshold, factor = (low + high) / 2, steep**2 / (2 * at)
    open_ohms = kind.figure("on-resistance")
    gate = 0.0 if kind.depletion else GATE_V
    channel = 1 / (factor * (gate - threshold))
    drift = channel if open_ohms is None else max(open_ohms.value - channel, open_ohms.value / 20)
    return MosfetLaw(threshold, factor, 1 / drift)


def _jfet(kind: TransistorType, ends: tuple[str, ...]) -> JfetLaw | None:
    """The law of the copy in the middle of ``ends``: what is cut off late carries much, too."""
    names = ("cut-off", "zero-bias-current")
    known = [_figures(kind, *(f"{name}-{end}" for end in ends)) for name in names]
    gate = kind.figure("gate-current")
    if known[0] is None or known[1] is None:
        return None
    cut_off, open_a = sum(known[0]) / len(ends), sum(known[1]) / len(ends)
    channel = MosfetLaw(-cut_off, 2 * open_a / cut_off**2, BULK_S, JFET_LENGTHENED)
    return JfetLaw(channel, 10 * (open_a if gate is None else gate.value))


def _jfet_copies(kind: TransistorType, volts: Array) -> Array:
    """Half of what the two extreme copies differ by at the same voltages; no gate takes current."""
    low, high = (_jfet(kind, (end,)) for end in ("low", "high"))
    if low is None or high is None:
        return np.zeros_like(volts)
    most, least = high.currents(volts)[0][0], low.currents(volts)[0][0]
    return np.array(((most - least) / 2, np.zeros_like(most)))


def copies(transistor: Transistor, law: Law, volts: Array) -> Array:
    """How far a copy's currents may be off at the same voltages (E, N), both of shape (E, N).

    A MOSFET's threshold may be anywhere its sheet allows, which is a spread of the gate's volts; of
    a bipolar one it is the gain, a spread of what the base takes, of a regulator its reference. A
    JFET's copies lie between the two that its sheet allows.
    """
    amps, slopes = law.currents(volts)
    if transistor.type.family.junction:
        return _jfet_copies(transistor.type, volts)
    if transistor.type.family.insulated:
        ends = _figures(transistor.type, "threshold-low", "threshold-high")
        off = 0.0 if ends is None else (ends[1] - ends[0]) / 2
        return np.asarray(off * slopes[:, 1])
    if transistor.type.family.regulates:
        ends = _figures(transistor.type, "output-voltage", "output-tolerance")
        share = 0.0 if ends is None else ends[0] * ends[1] / 100
        return np.asarray(share * slopes[:, 1])
    gains = gain_range(transistor.type)
    off = 0.0 if gains is None else gains[1]
    return np.array((np.zeros_like(amps[0]), off * amps[1]))
