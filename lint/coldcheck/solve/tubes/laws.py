"""Laws of tubes: the currents into their electrodes as functions of the voltages to the cathode.

Everything is vectorised over N instants, in plain SI floats, with analytic derivatives. Every
law is continuous with its first derivatives, finite for any voltage within ±2000 V, and zero at
the plate where the plate is negative. The plate current never falls when the plate, the screen
or the grid becomes more positive.

The space current follows the phenomenological triode formula of "Improved vacuum tube models"
(Glass Audio, 1996), taken twice::

    E(m) = V/s · ln(1 + exp(s·(1/m + (Vg + c)/sqrt(b + V²))))
    I = p·((1 - q)·E(m)^x + q·E(m/r)^x)

with V the plate voltage of a triode, m the amplification, p the perveance, x the exponent, s the
sharpness of the cut-off and b the softening at low plate voltages. The contact potential c is this
project's addition, and so is the second term: a grid is nowhere near uniform where it stands close
to its cathode, and the part q of the cathode that it shields least, by an amplification r times
smaller, is what still carries current when the rest is cut off (the islands of K. R. Spangenberg,
"Vacuum Tubes", 1948, chapter 7; the grids of remote cut-off are wound so on purpose).

For a pentode V is the screen voltage plus a trace of the plate's (``penetration``). Of the space
current I the plate takes::

    Ip = It · (1 - exp(-k·p·Vp^1.5/It))        It = I/(1 + d)
    d = d0 · (E·m/(Vs + 1))^f · ((Vs + 1)/(Vp + 1))^a        E = (I/p)^(1/x)

``d`` is how the screen's wires divide the space current: a power of the voltages (the square root
in plane fields between plain wires), and for beam tubes a power of the grid's drive too, since the
beams between aligned wires widen with it. The bracket is the knee: the space from the screen to the
plate carries no more than the law of Child and Langmuir allows, k·p·Vp^1.5, and what is more turns
back to the screen (a virtual cathode), so that the knee moves up with the current and below it all
grids share one line. The parameters are fitted to each type's published operating points by `fit`
and come from the data library.

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


REACH_V = 10.0
"""Below this a plate's reach through the screen goes over into none, so that no slope jumps."""
RETURNED = 0.4
"""How much less a cathode gives when all its current turns back before the plate, a share."""
LEAST_A = 1e-15
"""Amperes that keep a share of no current defined."""
MOST_TIMES = 700.0
"""Plenty: beyond it an exponential is nothing."""


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
    ``contact`` in volt (added to the grid's), ``tail_part`` and ``tail_reach`` plain numbers: the
    least shielded share of the cathode, and how many times less it is shielded.
    """

    amplification: float
    exponent: float
    perveance: float
    sharpness: float
    softening: float
    contact: float
    tail_part: float
    tail_reach: float

    def current(self, v: Array, grid: Array) -> tuple[Array, Array, Array]:
        """The current and its derivatives by ``v`` and by ``grid``; all of shape (N,)."""
        above = np.maximum(v, 0.0)
        root = np.sqrt(self.softening + above * above)
        lean = (grid + self.contact) / root
        exponent = self.sharpness * (self._reaches() + lean)
        soft = np.logaddexp(0.0, exponent) / self.sharpness
        slope = np.exp(exponent - self.sharpness * soft) / root
        steepness = self._parts() * (above * soft) ** (self.exponent - 1.0)
        drive, rise = (steepness * soft).sum(axis=0), (steepness * slope).sum(axis=0)
        grows = self.perveance * self.exponent
        by_v = grows * np.where(v > 0.0, drive - above**2 * lean / root * rise, 0.0)
        return self.perveance * above * drive, by_v, grows * above * rise

    def _reaches(self) -> Array:
        """What the plate reaches through each part of the grid, in volts at the grid a volt."""
        return np.array([[1.0], [self.tail_reach]]) / self.amplification

    def _parts(self) -> Array:
        return np.array([[1.0 - self.tail_part], [self.tail_part]])


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
class Division:
    """How plate and screen divide the space current; all plain numbers, see the module's formula.

    ``penetration`` of the plate through the screen, ``knee`` (k), ``screen_part`` (d0),
    ``screen_fall`` (a), ``screen_focus`` (f).
    """

    penetration: float
    knee: float
    screen_part: float
    screen_fall: float
    screen_focus: float

    def currents(
        self, space: SpaceCharge, plate: Array, screen: Array, grid: Array
    ) -> tuple[Array, Array, Array, Array]:
        """Space current and the plate's part of it (N,), with their slopes (3, N).

        The slopes are by plate, screen and grid.
        """
        above, at_screen = np.maximum(plate, 0.0), np.maximum(screen, 0.0)
        reach, reach_slope = _reach(above)
        total, by_field, by_grid = space.current(screen + self.penetration * reach, grid)
        to_all = np.array((self.penetration * reach_slope * by_field, by_field, by_grid))
        ratio = self._ratio(space, above, at_screen, total)
        passed, lost = total / (1.0 + ratio), ratio / (1.0 + ratio)
        to_plate = (1.0 - lost * self.screen_focus / space.exponent) / (1.0 + ratio) * to_all
        shift = passed * lost
        to_plate[0] += self.screen_fall * shift / (above + 1.0)
        to_plate[1] += np.where(
            screen > 0.0, (self.screen_focus - self.screen_fall) * shift / (at_screen + 1.0), 0.0
        )
        allowed = self.knee * space.perveance * np.sqrt(above)
        times = np.minimum(allowed * above / (passed + LEAST_A), MOST_TIMES)
        turning, arrives = np.exp(-times), -np.expm1(-times)
        back = turning * (to_all + times * (1.0 + ratio) * to_plate)
        back[0] -= 1.5 * turning * allowed * (1.0 + ratio)
        to_plate *= arrives - times * turning
        to_plate[0] += 1.5 * allowed * turning
        left = 1.0 - RETURNED * turning
        return total * left, passed * arrives, to_all - RETURNED * back, to_plate

    def _ratio(self, space: SpaceCharge, above: Array, screen: Array, total: Array) -> Array:
        """What the screen takes of the current that passes it, over what the plate takes."""
        drive = np.log(total / space.perveance + LEAST_A) / space.exponent
        field = np.log(screen + 1.0)
        focus = self.screen_focus * (drive + np.log(space.amplification) - field)
        return np.asarray(
            self.screen_part * np.exp(focus + self.screen_fall * (field - np.log(above + 1.0)))
        )


@dataclass(frozen=True, slots=True)
class PentodeLaw:
    """A pentode or beam tube, its suppressor (if it has one) taken to be at the cathode."""

    space: SpaceCharge
    grid: GridDiode
    division: Division
    electrodes: tuple[str, ...] = ("plate", "screen", "grid")

    def currents(self, v: Array) -> tuple[Array, Array]:
        """See :class:`Law`."""
        total, plate, to_all, to_plate = self.division.currents(self.space, v[0], v[1], v[2])
        grid, conductance = self.grid.current(v[2])
        return np.array((plate, total - plate, grid)), _slopes(to_plate, to_all, conductance)


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
    division: Division
    centre: float
    width: float
    electrodes: tuple[str, ...] = ("plate", "screen", "grid3")

    def currents(self, v: Array) -> tuple[Array, Array]:
        """See :class:`Law`."""
        total, passed, to_all, to_plate = self.division.currents(
            self.space, v[0], v[1], np.zeros_like(v[2])
        )
        steer = _logistic((v[2] - self.centre) / self.width)
        plate = passed * steer
        to_all[2], to_plate[2] = 0.0, 0.0
        to_plate *= steer
        to_plate[2] = plate * (1.0 - steer) / self.width
        grid, conductance = self.grid.current(v[2])
        return np.array((plate, total - plate, grid)), _slopes(to_plate, to_all, conductance)


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
        *(p["tail-part"], p["tail-reach"]),
    )
    grid = GridDiode(p["grid-perveance"], p["grid-offset"], p["grid-width"])
    if form == "triode":
        return TriodeLaw(space, grid)
    division = Division(
        *(p["penetration"], p["knee"]), *(p["screen-part"], p["screen-fall"], p["screen-focus"])
    )
    if form == "pentode":
        return PentodeLaw(space, grid, division)
    return ConverterLaw(space, grid, division, p["steer-centre"], p["steer-width"])


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


def _reach(above: Array) -> tuple[Array, Array]:
    """The plate's voltage as it reaches through the screen: v²/(v + REACH_V), 0 at 0 V."""
    total = above + REACH_V
    return above**2 / total, above * (above + 2.0 * REACH_V) / total**2
