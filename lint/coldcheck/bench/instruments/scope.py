"""How to set an oscilloscope for a wave: coupling, probe, volts a division, and its limits.

The DC that AC coupling takes off the screen still stands at the input. Behind an attenuating
probe it stands there in full: the blocking capacitor lets no direct current flow, so the probe's
series resistor drops none (derived; a probe with a resistor of its own to ground divides it all
the same: see its sheet).
"""

from __future__ import annotations

from math import floor, log10, pi
from typing import TYPE_CHECKING

from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.bench.instruments.instruments import Instrument, Probe, Screen
    from coldcheck.solve.solution import Wave

VISIBLE = 0.5
"""Divisions of ripple below which it is lost in the width of the trace."""

LEAST_RIPPLE = 1e-3
"""Volts peak to peak below which there is no ripple to look for."""


@dataclass(frozen=True, slots=True)
class View:
    """The screen with one coupling.

    per_division
        Volts a division at the probe's tip, from the 1-2-5 series.
    divisions, ripple_divisions
        Height of the trace counted from the ground line (with AC coupling: peak to peak), and of
        the AC alone.
    tip_volts, input_volts
        The highest voltage at the probe's tip and at the scope's input, DC included, of all that
        may stand there.
    over
        ``input``, ``rms``, ``probe`` or ``screen`` where even the best probe is not enough.
    """

    coupling: str
    probe: Probe
    per_division: float
    divisions: float
    ripple_divisions: float
    tip_volts: float
    input_volts: float
    over: tuple[str, ...]

    @property
    def fits(self) -> bool:
        """Whether the whole trace is on the screen."""
        return "screen" not in self.over

    @property
    def safe(self) -> bool:
        """Whether neither the probe nor the input is beyond its rating."""
        return not set(self.over) - {"screen"}


@dataclass(frozen=True, slots=True)
class ScopeAdvice:
    """Both couplings; ``ac_needed`` says that the AC cannot be seen with DC coupling."""

    scope: Instrument
    dc: View
    ac: View
    ac_needed: bool
    corner_hz: float


def step_125(volts: float) -> float:
    """The smallest step of the 1-2-5 series that is not below ``volts`` (above zero)."""
    decade = 10.0 ** floor(log10(volts))
    steps = (1.0, 2.0, 5.0, 10.0)
    return next(s * decade for s in steps if s * decade >= volts * (1 - 1e-9))


def coupling_corner(screen: Screen, ohms: float) -> float:
    """Where AC coupling has lost 3 dB, hertz, for an input resistance including the probe's."""
    return 1 / (2 * pi * ohms * screen.farads)


def advise(scope: Instrument, wave: Wave, stands: tuple[Wave, ...] = ()) -> ScopeAdvice:
    """How to look at a wave. Raises ValueError for an instrument without a screen or probes.

    ``stands`` are other waves that probe and input have to stand there.
    """
    if scope.screen is None or not scope.screen.probes:
        raise ValueError(f"{scope.name} has no screen, or no probe")
    direct = _best(scope, scope.screen, wave, "DC", stands)
    ripple = _best(scope, scope.screen, wave, "AC", stands)
    swing = wave.high - wave.low
    needed = swing > LEAST_RIPPLE and direct.ripple_divisions < VISIBLE
    corner = coupling_corner(scope.screen, ripple.probe.ohms)
    return ScopeAdvice(scope, direct, ripple, needed, corner)


def _best(
    scope: Instrument, screen: Screen, wave: Wave, coupling: str, stands: tuple[Wave, ...]
) -> View:
    """The first probe that is safe and shows enough; failing that the one least beyond."""
    views = [view(scope, probe, wave, coupling, stands) for probe in _by_preference(screen)]
    good = [v for v in views if v.safe and v.fits]
    clear = [v for v in good if v.ripple_divisions >= VISIBLE or coupling == "DC"]
    return next(iter(clear or good or sorted(views, key=lambda v: (not v.safe, len(v.over)))))


def _by_preference(screen: Screen) -> Iterator[Probe]:
    """Attenuating probes first: they load less; x1 for what is too small for them."""
    probes = sorted(screen.probes, key=lambda p: p.attenuation)
    yield from (p for p in probes if p.attenuation > 1)
    yield from (p for p in probes if p.attenuation <= 1)


def view(
    scope: Instrument, probe: Probe, wave: Wave, coupling: str, stands: tuple[Wave, ...] = ()
) -> View:
    """The screen with one probe and coupling. Raises ValueError for a scope without a screen."""
    if scope.screen is None:
        raise ValueError(f"{scope.name} has no screen")
    screen, swing = scope.screen, wave.high - wave.low
    span = max(wave.high, 0.0) - min(wave.low, 0.0) if coupling == "DC" else swing
    scale = per_division(screen, probe, span)
    at_tip = max(w.peak for w in (wave, *stands))
    at_input = max(_at_input(w, probe, coupling) for w in (wave, *stands))
    rms = max(_rms_at_input(w, probe, coupling) for w in (wave, *stands))
    over = {
        "input": at_input > scope.max_volts,
        "rms": rms > scope.max_rms,
        "probe": at_tip > probe.max_volts,
        "screen": span > screen.divisions * scale * (1 + 1e-9),
    }
    return View(
        coupling, probe, scale, span / scale, swing / scale, at_tip, at_input,
        tuple(name for name, beyond in over.items() if beyond),
    )  # fmt: skip


def per_division(screen: Screen, probe: Probe, span: float) -> float:
    """Volts a division at the tip that bring a span onto the screen, within the scope's own."""
    least, most = screen.least * probe.attenuation, screen.most * probe.attenuation
    wanted = span / screen.divisions
    return min(max(step_125(wanted) if wanted > 0 else least, least), most)


def _at_input(wave: Wave, probe: Probe, coupling: str) -> float:
    if coupling == "DC":
        return wave.peak / probe.attenuation
    swing = max(wave.high - wave.dc, wave.dc - wave.low)
    return abs(wave.dc) + swing / probe.attenuation


def _rms_at_input(wave: Wave, probe: Probe, coupling: str) -> float:
    if coupling == "DC":
        return wave.rms / probe.attenuation
    return float((wave.dc**2 + (wave.ac_rms / probe.attenuation) ** 2) ** 0.5)
