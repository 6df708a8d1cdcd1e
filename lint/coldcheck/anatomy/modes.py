"""The linear network of the warm state, and the supply points that could close a loop in it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import amplifiers
from coldcheck.anatomy.output_stage import stiff_nets
from coldcheck.circuit.once import once
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.solve.signal.linearised import Linearised
from coldcheck.solve.signal.stability import growing

if TYPE_CHECKING:
    from collections.abc import Collection

    import numpy as np
    from numpy.typing import NDArray

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit, Section


@once
def linear_of(case: Case) -> Linearised:
    """The warm state made linear. Raises Unsolvable where its operating point is not known."""
    return Linearised(case.circuit, case.warm)


@once
def growing_modes(case: Case) -> NDArray[np.complex128]:
    """What grows by itself in the warm state, 1/s. Raises Unsolvable, ValueError, LinAlgError."""
    return growing(linear_of(case))


@once
def supply_nets(circuit: Circuit) -> tuple[str, ...]:
    """Points with a filter capacitor that feed a plate, and are no cathode's."""
    cathodes = {
        n for s in circuit.sections() for n in s.cathode_nets if s.kind is not SectionKind.RECTIFIER
    }
    feeding = {n for _, _, n in fed(circuit, stiff_nets(circuit) - cathodes)}
    return tuple(n for n in circuit.graph if n in feeding)


def fed(circuit: Circuit, nets: Collection[str]) -> list[tuple[Section, str, str]]:
    """(section, branch, net) for every plate one resistor, coil or primary away from the nets."""
    plates = [(s, s.electrodes["plate"]) for _, s in amplifiers(circuit) if s.net("plate")]
    return [
        (section, branch.name, branch.other(plate))
        for section, plate in plates
        for branch in circuit.at(plate)
        if (branch.kind is PartKind.RESISTOR or branch.traits.coil)
        and branch.a != branch.b
        and branch.other(plate) in nets
    ]
