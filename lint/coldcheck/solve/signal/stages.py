"""One tube section at work on a signal: its gains, and how far it can swing."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.circuit.model import GROUND
from coldcheck.records import dataclass
from coldcheck.solve.signal.results import BOTTOMED, CUT_OFF, GRID_CURRENT, Limit, Stage
from coldcheck.solve.signal.sweep import Sweep, ratio

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.signal.linearised import Slopes

    Array = NDArray[np.float64]
    Complex = NDArray[np.complex128]

AT_REST = 0.03
"""A grid that moves less than this share of the cathode is grounded: the cathode is the input."""

UNDRIVEN = 1e-3
"""Grid-cathode volts per volt at the source below which a section does no work for it."""

WORKING_AMPS = 1e-7


@dataclass(frozen=True, slots=True)
class Field:
    """Volts per volt at the source, of every net, over the frequencies (F,) of a sweep."""

    frequencies: Array
    volts: Mapping[str, Complex]

    def across(self, ends: Mapping[str, float]) -> Sweep:
        """The weighted sum of nets' volts."""
        total = np.zeros(len(self.frequencies), dtype=complex)
        for net, weight in ends.items():
            if net != GROUND:
                total = total + weight * self.volts[net]
        return Sweep(self.frequencies, total)


def working(tube: Slopes) -> bool:
    """Whether the section draws any current worth the name."""
    return space_current(tube) > WORKING_AMPS


def space_current(tube: Slopes) -> float:
    """Current through the section at rest, amperes: plate and screen."""
    return float(sum(tube.amps[k] for k in _space(tube)))


def drive(tube: Slopes, field: Field, frequency: float) -> float:
    """Grid-cathode volts per volt at the source."""
    ends = tube.ends[tube.electrodes.index(tube.control)]
    return float(abs(field.across(ends).at(frequency)))


def cathode_ends(tube: Slopes) -> dict[str, float]:
    """The cathode as weighted nets: a filament is the mean of its two ends."""
    nets = tube.section.cathode_nets
    return {net: nets.count(net) / len(nets) for net in nets}


def stage_of(
    tube: Slopes, field: Field, frequency: float, peak: float, ohms: tuple[complex, complex],
    *, push_pull: bool,
) -> Stage:  # fmt: skip
    """The section driven by a source of ``peak`` volts at ``frequency`` (hertz).

    ``ohms`` are the impedances at plate and cathode. The cut-off of one side of a ``push_pull``
    pair does not end the pair's swing, so it is no limit there.
    """
    plate = field.across({tube.section.electrodes["plate"]: 1.0})
    cathode = field.across(cathode_ends(tube))
    grid = field.across({tube.section.electrodes[tube.control]: 1.0})
    by_grid = abs(grid.at(frequency)) > AT_REST * abs(cathode.at(frequency))
    conductance, gm = tube.slope("plate", "plate"), tube.slope("plate", tube.control)
    return Stage(
        section=tube.section.name,
        input=tube.control if by_grid else "cathode",
        mu=gm / conductance if conductance > 0 else math.inf,
        gm=gm,
        rp=1 / conductance if conductance > 0 else math.inf,
        plate_gain=ratio(plate, grid if by_grid else cathode),
        cathode_gain=ratio(cathode, grid) if by_grid else None,
        plate=plate.at(frequency),
        cathode=cathode.at(frequency),
        plate_ohm=ohms[0],
        cathode_ohm=ohms[1],
        limits=_limits(tube, field, frequency, push_pull=push_pull),
        source_peak=peak,
    )


def push_pull_sections(circuit: Circuit) -> frozenset[str]:
    """Sections whose plates stand on opposite ends of one output transformer's primary."""
    found: set[str] = set()
    for output in circuit.outputs.values():
        nets = dict(output.leads)
        sides = [
            {s.name for s, e in circuit.electrodes_at(nets[lead]) if e == "plate"}
            for lead in ("p1", "p2")
        ]
        if all(sides) and sides[0] != sides[1]:
            found |= sides[0] | sides[1]
    return frozenset(found)


def _space(tube: Slopes) -> list[int]:
    return [k for k, e in enumerate(tube.electrodes) if e in ("plate", "screen")]


def _limits(tube: Slopes, field: Field, frequency: float, *, push_pull: bool) -> tuple[Limit, ...]:
    """Peak volts at the source that reach each bound, the first one first."""
    volts = np.array([field.across(ends).at(frequency) for ends in tube.ends])
    control, plate = (tube.electrodes.index(e) for e in (tube.control, "plate"))
    current = sum(tube.matrix[k] @ volts for k in _space(tube))
    found = [
        _limit(GRID_CURRENT, -float(tube.at[control]), volts[control]),
        _limit(BOTTOMED, float(tube.at[plate]), volts[plate]),
    ]
    if not push_pull:
        found.append(_limit(CUT_OFF, space_current(tube), current))
    return tuple(sorted((x for x in found if x is not None), key=lambda x: x.source_peak))


def _limit(cause: str, room: float, moved: complex) -> Limit | None:
    """``room`` at rest over what one volt at the source moves; none where nothing moves."""
    size = float(abs(moved))
    return Limit(cause, max(room, 0.0) / size) if size > 0 else None
