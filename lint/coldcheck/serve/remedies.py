"""Remedies that were worked out, as changes to the text.

Only what a rule gives as a figure (or the one place to tie) is offered, with the values one can
buy, and only where the text shows for sure what to change. A test makes every such change in the
drawings of the rules' own mistakes and reviews them again: the finding must be gone.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.serve.remedies_lines import bleeder, grid_leak, take_out, tie
from coldcheck.serve.remedies_values import fuse, leak_lower, power, working_voltage

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from coldcheck.serve.site import Remedy, Site


def remedy(site: Site) -> Remedy | None:
    """The change that mends a finding; ``None`` where none is sure."""
    make = _REMEDIES.get(site.finding.rule)
    own = site.finding.span.file == site.circuit.drawing.file
    return make(site) if make is not None and own else None


_REMEDIES: Mapping[str, Callable[[Site], Remedy | None]] = {
    "capacitor.over-voltage": working_voltage,
    "capacitor.little-margin": working_voltage,
    "capacitor.cathode-bypass-underrated": working_voltage,
    "heater.lift-capacitor-underrated": working_voltage,
    "resistor.over-power": power,
    "mains.fuse-too-large": fuse,
    "grid.leak-too-high": leak_lower,
    "supply.no-bleeder": bleeder,
    "grid.no-return": grid_leak,
    "heater.no-reference": tie,
    "intent.accept-unmatched": take_out,
}
