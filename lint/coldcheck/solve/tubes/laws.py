"""Laws of tubes: the currents into their electrodes as functions of the voltages to the cathode.

Everything is vectorised over N instants, in plain SI floats, with analytic derivatives. Every
law is continuous with its first derivatives, finite for any voltage within ±2000 V, and zero at
the plate where the plate is negative. The plate current never falls when the plate, the screen
or the grid becomes more positive.

The space current follows the phenomenological triode formula of "Improved vacuum tube models"
(Glass Audio, 1996)::

    E = V/s · ln(1 + exp(s·(1/m + (Vg + c)/sqrt(b + V²))))        I = p·E^x

with V the plate voltage of a triode, m the amplification, p the perveance, x the exponent, s the
sharpness of the cut-off and b the softening at low plate voltages. The contact potential c is this
project's addition: without it the fit misses the slopes at both published points of the 12AX7 by
10 %, with it by 1 %. So is
the rest: for a pentode V is the screen voltage plus a trace of the plate's (``penetration``),
and the plate takes the share ``share·2/π·atan((Vp/knee)^1.5)`` of the space current, the screen
the remainder, so that the screen current rises when the plate swings low. The parameters are
fitted to each type's published operating points by `fit` and come from the
data library.

No grid-current data are on file for any type. The grid current is an assumption, the same for
all types but for the size of the cathode; see :func:`grid_current`.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Protocol

import numpy as np

from coldcheck.circuit.tubes_checks import signal_grid
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from coldcheck.circuit.tubes import SectionType

    Array = NDArray[np.float64]


class Law(Protocol):
    """The law of one section."""

    @property
    def electrodes(self) -> tuple[str, ...]:
        """The electrodes, in the order of the rows of ``v`` and of the currents."""

    def currents(self, v: Array) -> tuple[Array, Array]:
        """Currents at given voltages.

        ``v`` has shape (E, N), volts to the cathode. Returns the currents into the electrodes,
        amperes, shape (E, N), and their derivatives, siemens, shape (E, E, N): [e, f] is the
        derivative of the current into e by the voltage of f.
        """


@dataclass(frozen=True, slots=True)
class SpaceCharge:
    """The controlled space current.

    ``amplification``, ``exponent`` and ``sharpness`` (of the cut-off) are plain numbers,
    ``perveance`` in ampere per volt^exponent, ``softening`` (at low plate voltages) in volt²,
    ``contact`` in volt (added to the grid's).
    """

    amplification: float
    exponent: float
    perveance: float
    sharpness: float
    softening: float
    contact: float

    def current(self, v: Array, grid: Array) -> tuple[Array, Array, Array]:
        """The current and its derivatives by ``v`` and by ``grid``; all of shape (N,)."""
        above = np.maximum(v, 0.0)
        root = np.sqrt(self.softening + above * above)
        control = grid + self.contact
        exponent = self.sharpness * (1.0 / self.amplification + control / root)
        soft = np.logaddexp(0.0, exponent)
        slope = _logistic(exponent)
        drive = above * soft / self.sharpness
        by_v = np.where(v > 0.0, soft / self.sharpness - above**2 * control * slope / root**3, 0.0)
        steepness = self.perveance * self.exponent * drive ** (self.exponent - 1.0)
        return (
            self.perveance * drive**self.exponent,
            steepness * by_v,
            steepness * above * slope / root,
        )


@dataclass(frozen=True, slots=True)
class GridDiode:
    """The current into a grid; ``k`` in ampere per volt^1.5, ``offset`` and ``width`` in volt."""

    k: float
    offset: float
    width: float

    def current(self, grid: Array) -> tuple[Array, Array]:
        """See :func:`grid_current`."""
        return grid_current(grid, self.k, self.offset, self.width)


@dataclass(frozen=True, slots=True)
class TriodeLaw:
    """Plate current by the space-charge formula, grid current added to it."""

    space: SpaceCharge
    grid: GridDiode
    electrodes: tuple[str, ...] = ("plate", "grid")

    def currents(self, v: Array) -> tuple[Array, Array]:
        """See :class:`Law`."""
        plate, by_plate, by_grid = self.space.current(v[0], v[1])
        grid, conductance = self.grid.current(v[1])
        slopes = np.zeros((2, 2, *plate.shape))
        slopes[0, 0], slopes[0, 1], slopes[1, 1] = by_plate, by_grid, conductance
        return np.array((plate, grid)), slopes


@dataclass(frozen=True, slots=True)
class PentodeLaw:
    """A pentode or beam tube, its suppressor (if it has one) taken to be at the cathode."""

    space: SpaceCharge
    grid: GridDiode
    penetration: float
    share: float
    knee: float
    electrodes: tuple[str, ...] = ("plate", "screen", "grid")

    def currents(self, v: Array) -> tuple[Array, Array]:
        """See :class:`Law`."""
        reach, reach_slope = _reach(v[0], self.knee)
        total, by_field, by_grid = self.space.current(v[1] + self.penetration * reach, v[2])
        part, part_slope = _plate_share(v[0], self.share, self.knee)
        to_all = np.array((by_field * self.penetration * reach_slope, by_field, by_grid))
        to_plate = part * to_all
        to_plate[0] += total * part_slope
        grid, conductance = self.grid.current(v[2])
        return _shared(part, total, grid), _slopes(to_plate, to_all, conductance)


@dataclass(frozen=True, slots=True)
class ConverterLaw:
    """A pentagrid converter while its oscillator runs.

    The first grid, self-biased by the oscillation, sets the space current together with the
    screen; its own current is not modelled. The third grid only steers the space current
    between plate and screen: the share of the plate is multiplied by a logistic function of
    ``(Vg3 - centre)/width``.
    """

    space: SpaceCharge
    grid: GridDiode
    penetration: float
    share: float
    knee: float
    centre: float
    width: float
    electrodes: tuple[str, ...] = ("plate", "screen", "grid3")

    def currents(self, v: Array) -> tuple[Array, Array]:
        """See :class:`Law`."""
        reach, reach_slope = _reach(v[0], self.knee)
        field = v[1] + self.penetration * reach
        total, by_field, _ = self.space.current(field, np.zeros_like(field))
        steer = _logistic((v[2] - self.centre) / self.width)
        knee, knee_slope = _plate_share(v[0], self.share, self.knee)
        part = knee * steer
        to_all = np.array(
            (by_field * self.penetration * reach_slope, by_field, np.zeros_like(total))
        )
        to_plate = part * to_all
        to_plate[0] += total * knee_slope * steer
        to_plate[2] += total * knee * steer * (1.0 - steer) / self.width
        grid, conductance = self.grid.current(v[2])
        return _shared(part, total, grid), _slopes(to_plate, to_all, conductance)


def _shared(part: Array, total: Array, grid: Array) -> Array:
    """Currents (3, N): the plate's part of the space current, the screen's rest, the grid's own."""
    plate = part * total
    return np.array((plate, total - plate, grid))


def _slopes(to_plate: Array, to_all: Array, grid: Array) -> Array:
    """Slopes (3, 3, N): of the plate and of the whole by each voltage, of the grid by its own."""
    slopes = np.zeros((3, *to_all.shape))
    slopes[0], slopes[1], slopes[2, 2] = to_plate, to_all - to_plate, grid
    return slopes


def law_for(section: SectionType) -> Law | None:
    """The law of an amplifying section; ``None`` for rectifiers, regulators and unfitted types."""
    if section.law is None:
        return None
    law = amplifying_law(section.law.form, section.law.parameters)
    grid = signal_grid(section)
    if isinstance(law, ConverterLaw) and grid is not None:
        return replace(law, electrodes=("plate", "screen", grid))
    return law


def amplifying_law(form: str, p: Mapping[str, float]) -> Law | None:
    """The law of that form with the parameters of the data files (dashes in their names).

    Raises KeyError for a missing parameter.
    """
    if form not in ("triode", "pentode", "converter"):
        return None
    space = SpaceCharge(
        *(p["amplification"], p["exponent"], p["perveance"]),
        *(p["cut-off-sharpness"], p["softening"], p["contact-potential"]),
    )
    grid = GridDiode(p["grid-perveance"], p["grid-offset"], p["grid-width"])
    if form == "triode":
        return TriodeLaw(space, grid)
    if form == "pentode":
        return PentodeLaw(space, grid, p["penetration"], p["share"], p["knee"])
    plate = (p["penetration"], p["share"], p["knee"], p["steer-centre"], p["steer-width"])
    return ConverterLaw(space, grid, *plate)


def grid_current(grid: Array, k: float, offset: float, width: float) -> tuple[Array, Array]:
    """Grid current and its conductance, shape (N,).

    ``k·(width·ln(1 + exp((v - offset)/width)))^1.5``: a space-charge diode for a positive grid
    that goes over into the exponential current of the electrons' initial velocities, falling
    by e in ``width/1.5`` volts, below ``offset``. Common practice, not data: some tenths of a
    microampere at -0.6 V, so that a grid leak of 5 to 10 Mohm biases at -0.5 to -1 V.
    """
    reduced = (grid - offset) / width
    drive = width * np.logaddexp(0.0, reduced)
    root = np.sqrt(drive)
    return k * root**3, 1.5 * k * root * _logistic(reduced)


def _logistic(u: Array) -> Array:
    """1/(1 + exp(-u)) without overflow and without losing the small end."""
    result: Array = np.exp(-np.logaddexp(0.0, -u))
    return result


def _reach(plate: Array, knee: float) -> tuple[Array, Array]:
    """The plate's voltage as it reaches through the screen: v²/(v + knee), 0 below 0 V."""
    above = np.maximum(plate, 0.0)
    total = above + knee
    return above**2 / total, above * (above + 2.0 * knee) / total**2


def _plate_share(plate: Array, share: float, knee: float) -> tuple[Array, Array]:
    """The plate's share of the space current and its slope by the plate voltage."""
    above = np.maximum(plate, 0.0) / knee
    root = np.sqrt(above)
    factor = share * 2.0 / np.pi
    return factor * np.arctan(root**3), factor * 1.5 * root / (1.0 + above**3) / knee
