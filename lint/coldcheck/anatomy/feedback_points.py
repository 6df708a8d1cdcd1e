"""Where what a later stage gives comes back to an earlier one: its cathode, or a point below it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.channels import behind, outputs
from coldcheck.anatomy.coupling import GIVES, coupled, still_nets
from coldcheck.anatomy.feedback_loops import secondary
from coldcheck.anatomy.neighbourhood import AMPLIFYING, resistors_at
from coldcheck.anatomy.reach import reach
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Collection

    from coldcheck.circuit.model import Branch, Circuit, Section

BRINGS = (PartKind.RESISTOR, PartKind.CAPACITOR)


@dataclass(frozen=True, slots=True)
class Fed:
    """A part that brings to ``point`` what ``giver``, a stage or an output transformer, gives."""

    part: Branch
    point: str
    giver: str


def feet(circuit: Circuit, cathode: str) -> list[str]:
    """The points below a cathode: one resistor down, none's electrode, another resistor to gnd."""
    below = [b.other(cathode) for b in resistors_at(circuit, cathode) if cathode not in LANDMARKS]
    return [n for n in below if n not in LANDMARKS and not circuit.electrodes_at(n)
            and grounded(circuit, n)]  # fmt: skip


def grounded(circuit: Circuit, net: str) -> list[Branch]:
    """The resistors from a net to gnd or another landmark."""
    return [b for b in resistors_at(circuit, net) if b.other(net) in LANDMARKS]


def cathode_of(circuit: Circuit, net: str) -> Section | None:
    """The one amplifying section whose cathode is on a net; ``None`` where none or more are."""
    on = {s.name: s for s, e in circuit.electrodes_at(net) if e == "cathode"
          and s.kind in AMPLIFYING}  # fmt: skip
    return next(iter(on.values())) if len(on) == 1 else None


def comes_back(
    circuit: Circuit, section: Section, point: str, but: Collection[str] = ()
) -> Fed | None:
    """The first part at a point that brings what a stage behind a section gives, no DC with it.

    ``but``: nets that are not gone through, such as the section's own cathode.
    """
    stop = still_nets(circuit) | {point, *but}
    for branch in circuit.at(point):
        far = branch.other(point)
        giver = None
        if branch.kind in BRINGS and far not in stop:
            giver = _output(circuit, section, far, stop) or _stage(circuit, section, far, stop)
        if giver is not None:
            return Fed(branch, point, giver)
    return None


def _output(circuit: Circuit, section: Section, far: str, stop: frozenset[str]) -> str | None:
    """An output transformer on whose secondary a way from ``far`` ends, that the section drives."""
    nets, driven = coupled(circuit, [far], stop), outputs(circuit, section)
    found = (o.name for o in circuit.outputs.values()
             if o.name in driven and nets & secondary(circuit, o))  # fmt: skip
    return next(found, None)


def _stage(circuit: Circuit, section: Section, far: str, stop: frozenset[str]) -> str | None:
    """A later stage at whose plate or cathode a way from ``far`` ends, past a capacitor."""
    direct = set(reach(circuit, [far], stop))
    on = ((s, e, n) for n in coupled(circuit, [far], stop) for s, e in circuit.electrodes_at(n))
    ends = [(s, n) for s, e, n in on if e in GIVES and s.name != section.name]
    if any(n in direct for _, n in ends):
        return None
    return next((s.name for s, _ in ends if section.name in behind(circuit, s)), None)
