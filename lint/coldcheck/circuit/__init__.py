"""From a drawing to the circuit it describes: nets, branches, tubes, and the DC paths."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.circuit.usual import USUAL

if TYPE_CHECKING:
    from collections.abc import Mapping

    from coldcheck.circuit.model import Circuit
    from coldcheck.circuit.tubes import TubeType
    from coldcheck.circuit.usual import Usual
    from coldcheck.drawing.model import Drawing

__all__ = ["build_circuit"]


def build_circuit(
    drawing: Drawing, library: Mapping[str, TubeType] | None = None, usual: Usual = USUAL
) -> Circuit:
    """Build the circuit of a drawing; see :func:`coldcheck.circuit.build.build_circuit`.

    The graph library is loaded with the first circuit, not with the tube data.
    """
    from coldcheck.circuit import build

    return build.build_circuit(drawing, library, usual)
