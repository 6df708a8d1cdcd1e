"""What a stage gives its own grid by the way round: the loop of an oscillator.

A tube draws currents as its grid says; what they make of voltage at that grid, over what was put
there, is the gain of the loop. An oscillation that grows has a frequency at which it comes round in
phase and larger than it left. As in :mod:`coldcheck.solve.signal.linearised` there are no
interelectrode capacitances in here.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.records import dataclass
from coldcheck.solve.cycle.assembly import Parts
from coldcheck.solve.cycle.network import Unsolvable
from coldcheck.solve.cycle.triplets import dense_matrix
from coldcheck.solve.setting import Setting
from coldcheck.solve.signal.linearised import column
from coldcheck.solve.solution import State

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from numpy.typing import NDArray

    from coldcheck.circuit.model import Circuit, Section
    from coldcheck.solve.cycle.network import Network
    from coldcheck.solve.signal.linearised import Linearised

    Array = NDArray[np.float64]
    Complex = NDArray[np.complex128]

LARGEST = 300
"""Unknowns up to which a loop is looked at: natural frequencies cost the cube of their number."""

SLOWEST_HZ, FASTEST_HZ, PER_DECADE = 0.02, 1e9, 10
RINGS = 0.3
"""Share of a natural frequency that is its oscillation, from which it may be a resonance."""

UNSAID_COUPLING = 0.3
"""Between coils of which the drawing does not say it: only the sense of a loop is read off."""

SELECTS = 0.5
"""Share of a peak that is left a decade away: a bridge of Wien's leaves a third and less."""

HALVINGS = 30
"""Of the logarithm of a frequency: less than a millionth is left."""


@dataclass(frozen=True, slots=True)
class Around:
    """The gain of a loop, a complex ratio, at a frequency in hertz."""

    gain: complex
    hertz: float


@dataclass(frozen=True, slots=True)
class Loop:
    """``(G + j w C) x = drawn`` per volt at the grid; ``taken`` weighs what comes back."""

    g: Array
    c: Array
    drawn: Array
    taken: Array

    def at(self, hertz: float) -> complex:
        """What the drawn currents make at the grid, volts per volt. Raises LinAlgError."""
        found = np.linalg.solve(self.g + 2j * math.pi * hertz * self.c, self.drawn)
        return complex(self.taken @ found)

    def resonances(self) -> Array:
        """The natural frequencies of the network that oscillate, hertz. Raises LinAlgError."""
        times = np.linalg.eigvals(np.linalg.solve(self.g, self.c)).astype(complex)
        modes = -1 / times[np.abs(times) > 1 / (2 * math.pi * FASTEST_HZ)]
        return np.asarray(modes.imag[modes.imag > RINGS * np.abs(modes)] / (2 * math.pi))


def pull(circuit: Circuit, section: Section, siemens: float) -> Around | None:
    """What comes back most strongly where windings feed a grid, the tube itself left out.

    ``siemens`` is how the currents of plate and screen, each an equal share, follow the voltage
    from grid to cathode. A positive gain is one that keeps going. ``None`` where nothing has a
    maximum within the band. Raises Unsolvable or LinAlgError.
    """
    loop = _bare(circuit, section, siemens)
    hertz = np.sort([*_band(SLOWEST_HZ, FASTEST_HZ), *loop.resonances()])
    gains = np.array([-loop.at(f) for f in hertz])
    size = np.abs(gains)
    tops = np.flatnonzero((size[1:-1] > size[:-2]) & (size[1:-1] >= size[2:])) + 1
    if not tops.size:
        return None
    best = tops[np.argmax(size[tops])]
    return Around(complex(gains[best]), float(hertz[best]))


def in_phase(linear: Linearised, section: Section, bypass: float = 0.0) -> Around | None:
    """The largest gain with which a grid's own voltage comes round to it in phase.

    The grid is cut open and driven; what its net then gets is compared. ``bypass`` farads more
    are put from its cathode to gnd. ``None`` where nothing comes round in phase. Raises
    Unsolvable where the tube does not work, or LinAlgError.
    """
    loop = _whole(linear, section, bypass)

    def gain(hertz: float) -> complex:
        closed = loop.at(hertz)
        return closed / (closed - 1)

    hertz = np.sort([*_band(SLOWEST_HZ, FASTEST_HZ), *loop.resonances()])
    found = [gain(f) for f in hertz]
    turns = (
        _crossing(gain, float(hertz[i]), float(hertz[i + 1]))
        for i in range(len(hertz) - 1)
        if (found[i].imag < 0) != (found[i + 1].imag < 0)
        and max(found[i].real, found[i + 1].real) > 0
    )
    return max((t for t in turns if t.gain.real > 0), key=lambda t: t.gain.real, default=None)


def against(linear: Linearised, section: Section) -> Around | None:
    """The strongest gain with which a grid's own voltage comes round to it reversed, at a peak.

    A peak is one a decade to either side of which less than :data:`SELECTS` of it is left, as of
    a bridge or a tuned circuit. ``None`` without one. Raises Unsolvable or LinAlgError.
    """
    loop = _whole(linear, section, 0.0)
    hertz = _band(SLOWEST_HZ, FASTEST_HZ)
    found = np.array([(c := loop.at(float(f))) / (c - 1) for f in hertz])
    size = np.abs(found)
    tops = range(PER_DECADE, len(hertz) - PER_DECADE)
    peaks = [
        i for i in tops
        if found[i].real < 0 and size[i] == max(size[i - PER_DECADE : i + PER_DECADE + 1])
        and max(size[i - PER_DECADE], size[i + PER_DECADE]) < SELECTS * size[i]
        and abs(found[i].imag) < abs(found[i].real)
    ]  # fmt: skip
    best = max(peaks, key=lambda i: size[i], default=None)
    return None if best is None else Around(complex(found[best]), float(hertz[best]))


def seen(linear: Linearised, ends: tuple[str, str], hertz: float) -> float:
    """The conductance that the network with its tubes shows between two nets, siemens.

    Below zero it makes good for what a crystal there loses; otherwise none ever oscillates there.
    Raises Unsolvable or LinAlgError.
    """
    _refuse_large(linear.network)
    g, c = linear.matrices()
    across = linear.column(dict(zip(ends, (1.0, -1.0), strict=True)))
    return float((1 / (across @ np.linalg.solve(g + 2j * math.pi * hertz * c, across))).real)


def around(linear: Linearised, section: Section, hertz: float, nets: Iterable[str]) -> Array:
    """What a volt at a grid makes at some nets, the loop closed, in phase with it (real parts).

    Raises Unsolvable or LinAlgError.
    """
    loop = _whole(linear, section, 0.0)
    found = np.linalg.solve(loop.g + 2j * math.pi * hertz * loop.c, loop.drawn)
    rows = (linear.network.at(n) for n in nets)
    return np.array([0.0 if r is None else found[r].real for r in rows])


def _crossing(gain: Callable[[float], complex], low: float, high: float) -> Around:
    """Where a gain is real between two frequencies at which its imaginary parts differ in sign."""
    below = gain(low).imag < 0
    for _ in range(HALVINGS):
        middle = math.sqrt(low * high)
        if (gain(middle).imag < 0) == below:
            low = middle
        else:
            high = middle
    return Around(gain(low), low)


def _band(low: float, high: float) -> Array:
    return np.geomspace(low, high, round(PER_DECADE * math.log10(high / low)) + 1)


def _bare(circuit: Circuit, section: Section, siemens: float) -> Loop:
    """The network without its tubes, driven by the currents a stage would draw."""
    coils = circuit.coil_sets.items()
    said = {n: replace(s, coupling=s.coupling or UNSAID_COUPLING) for n, s in coils}
    network, _, _ = Parts(replace(circuit, coil_sets=said)).of(Setting(State("warm", "warm")))
    _refuse_large(network)
    g = dense_matrix(network.shape, network.g + network.ac_only)
    nets, cathode = section.cathode_nets, np.zeros(network.size)
    for net in nets:
        cathode += column(network, {net: 1 / len(nets)})
    drawing = collecting(section)
    drawn = sum((column(network, {n: 1 / len(drawing)}) for n in drawing), -cathode)
    taken = column(network, {section.electrodes["grid"]: 1.0}) - cathode
    return Loop(g, dense_matrix(network.shape, network.c), siemens * drawn, taken)


def collecting(section: Section) -> tuple[str, ...]:
    """The nets of what takes current from a cathode: plate, screen, a converter's second grid."""
    found = (section.net(e) for e in ("plate", "screen", "grid2"))
    return tuple(n for n in found if n is not None)


def _whole(linear: Linearised, section: Section, bypass: float) -> Loop:
    """The network with its tubes; what a section draws as its grid's net says."""
    slopes = next((s for s in linear.sections if s.section.name == section.name), None)
    grid = section.net("grid")
    if slopes is None or grid is None or "grid" not in slopes.electrodes:
        raise Unsolvable(f"{section.name} has no law for its grid")
    _refuse_large(linear.network)
    drawn = np.zeros(linear.network.size)
    for electrode, ends in zip(slopes.electrodes, slopes.ends, strict=True):
        if electrode != "grid":
            drawn += slopes.slope(electrode, "grid") * linear.column(ends)
    g, c = linear.matrices()
    at = linear.column(dict.fromkeys(section.cathode_nets, 1.0))
    return Loop(g, c + bypass * np.diag(at), drawn, linear.column({grid: 1.0}))


def _refuse_large(network: Network) -> None:
    if network.size > LARGEST:
        raise Unsolvable(f"{network.size} unknowns are more than {LARGEST}")
