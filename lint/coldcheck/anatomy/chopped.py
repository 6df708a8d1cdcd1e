"""Which transformers a vibrator chops a battery into."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from coldcheck.circuit.model import Circuit, Transformer, Vibrator


def chopped_by(circuit: Circuit, one: Vibrator) -> Transformer | None:
    """The transformer on a winding of which a vibrator's two contacts are."""
    for transformer in circuit.transformers.values():
        for winding in transformer.windings:
            if {one.main.a, one.main.b} <= {net for _, net in winding.leads}:
                return transformer
    return None


def is_chopped(circuit: Circuit, transformer: str) -> bool:
    """Whether a vibrator is on it: what it gets is no sine, and its rms is not to be judged."""
    found = (chopped_by(circuit, one) for one in circuit.vibrators.values())
    return any(t is not None and t.name == transformer for t in found)
