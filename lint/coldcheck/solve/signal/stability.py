"""Whether a circuit left alone stays quiet: the natural modes of its linear network.

A mode is a solution ``x = v exp(s t)`` of ``G x + C dx/dt = 0``; one with a positive real part
grows by itself. They are the eigenvalues ``-1/s`` of ``inverse(G) C``. As in
`linearised` there are no interelectrode capacitances in here, so only slow
modes mean anything.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping

    from numpy.typing import NDArray

    from coldcheck.solve.signal.linearised import Linearised

    Array = NDArray[np.float64]
    Complex = NDArray[np.complex128]

LARGEST = 400
"""Unknowns up to which the modes are worked out: eigenvalues cost the cube of their number."""

SLOWEST_HZ, FASTEST_HZ = 0.02, 1000.0
"""Slower growth than this hides under the settling of the supply; faster is another matter."""

HOLDING_SIEMENS = 1e3


def growing(
    linear: Linearised,
    held: Collection[str] = (),
    farads: Mapping[str, float] | None = None,
    moved: Mapping[str, str] | None = None,
) -> Complex:
    """The slow modes that grow, 1/s (complex pairs once), the fastest growing first.

    ``held`` nets are shorted to gnd for the signal; ``farads`` gives the share that capacitors
    keep of their value (branch name -> 0 to 1); ``moved`` resistors are taken off a net (branch
    name -> net) and joined to gnd there, as a perfect decoupling would do. Raises LinAlgError
    for a singular network, and ValueError above LARGEST unknowns.
    """
    g, c = linear.matrices()
    if len(g) > LARGEST:
        raise ValueError(f"{len(g)} unknowns, more than {LARGEST}")
    g = g + HOLDING_SIEMENS * np.diag(linear.column(dict.fromkeys(held, 1.0)))
    for name, share in (farads or {}).items():
        branch = linear.circuit.branches[name]
        ends = linear.column({branch.a: 1.0, branch.b: -1.0})
        c = c - (1 - share) * linear.network.farads[name] * np.outer(ends, ends)
    for name, net in (moved or {}).items():
        branch, siemens = linear.circuit.branches[name], linear.network.conductance[name]
        here = linear.column({branch.a: 1.0, branch.b: -1.0})
        there = linear.column({branch.other(net): 1.0})
        g = g + siemens * (np.outer(there, there) - np.outer(here, here))
    return _unstable(np.linalg.eigvals(np.linalg.solve(g, c)))


def quietens(linear: Linearised, held: Collection[str], nets: Iterable[str]) -> tuple[str, ...]:
    """Which of some nets takes a growing mode away when it, besides ``held``, is kept still.

    The ring that sustains itself goes through all of them. Raises as :func:`growing` does.
    """
    many = growing(linear, held).size
    return tuple(n for n in nets if growing(linear, (*held, n)).size < many)


def _unstable(times: Complex) -> Complex:
    """From the eigenvalues ``-1/s``, seconds: those that grow within the band of frequencies."""
    size = np.abs(times)
    low, high = 1 / (2 * math.pi * FASTEST_HZ), 1 / (2 * math.pi * SLOWEST_HZ)
    kept = times[(size > low) & (size < high) & (times.real < 0) & (times.imag >= 0)]
    modes = -1 / kept
    return np.asarray(modes[np.argsort(-modes.real)])


def hertz(mode: complex) -> float:
    """The frequency of a mode: of its oscillation, or of its growth where it does not oscillate."""
    turning = abs(mode.imag) > 0.05 * abs(mode)
    return (abs(mode.imag) if turning else abs(mode)) / (2 * math.pi)
