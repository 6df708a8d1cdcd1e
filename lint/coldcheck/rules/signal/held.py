"""Capacitors that hold a cathode still which has to move, or tie a grid to its own cathode."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import leads_to_a_grid
from coldcheck.anatomy.tail import STOPPER_OHM
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.rules.signal.paths import is_supply
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule

BYPASS_F = Threshold(
    "capacitor that holds a cathode still", 1e-6, "F",
    Citation("practice", "beside the tube's own kilohm or so: below 160 Hz"),
)  # fmt: skip
TIED_F = Threshold(
    "capacitor between a grid and its own cathode", 10e-9, "F",
    Citation("practice", "less than that shapes the treble or tunes an oscillator"),
)  # fmt: skip


@rule(
    "signal.output-cathode-bypassed",
    title="Bypass capacitor on a cathode that gives a signal",
    level="notice",
    states="the drawing alone",
    needs="the capacitor's value and the wiring",
    criterion=(
        f"A capacitor of {1e6 * BYPASS_F.value:g} uF or more joins the cathode of a stage to gnd "
        "or chassis, and another one leads from the same cathode to the grid of another stage, or "
        "to an end with nothing but a resistor to gnd."
    ),
    why=(
        "A split-load stage and a follower give their signal at the cathode. Copied from an "
        "ordinary stage, the bypass holds it still: that output is gone, and the plate of a "
        "split-load stage gives many times what it should."
    ),
    source=PRACTICE,
    limits="A bypass across the bias resistor alone, above the load, is in order. Pass tubes of "
    "regulators are left out.",
    thresholds=(BYPASS_F,),
)
def output_cathode_bypassed(case: Case) -> Iterator[Outcome]:
    """Look at the capacitors on each cathode."""
    for _, section in working(case.circuit):
        if is_supply(case.circuit, section):
            continue
        cathode = section.cathode_nets[0]
        capacitors = _capacitors(case.circuit, cathode)
        taken = [b for b in capacitors if _goes_on(case.circuit, b.other(cathode), section)]
        for branch, farads in capacitors.items():
            if taken and branch.other(cathode) in LANDMARKS and farads >= BYPASS_F.value:
                name = section.name
                yield output_cathode_bypassed.finding(
                    case,
                    (branch.name, name),
                    f"{branch.name} ({engineering(farads, 'F')}) holds the cathode of {name} "
                    f"still, from which {taken[0].name} is to take a signal",
                    f"Leave {branch.name} out: the cathode of {name} is an output",
                    evidence={"capacitor": figure(farads, "F")},
                    limit=BYPASS_F.figure,
                    certainty="certain",
                    excess=farads / BYPASS_F.value,
                )


def _goes_on(circuit: Circuit, net: str, own: Section) -> bool:
    """Whether a point leads to another stage's grid, or is an output with its leak."""
    near = [b for b in circuit.at(net) if b.kind is not PartKind.CAPACITOR]
    ends = all(b.kind is PartKind.RESISTOR and b.other(net) in LANDMARKS for b in near)
    output = bool(near) and ends and net not in LANDMARKS and not circuit.electrodes_at(net)
    return output or leads_to_a_grid(circuit, net, own)


def _capacitors(circuit: Circuit, net: str) -> dict[Branch, float]:
    """The capacitors on a net that is no landmark, with their values."""
    found = {}
    for branch in circuit.at(net) if net not in LANDMARKS else ():
        farads = branch.farads if branch.kind is PartKind.CAPACITOR else None
        if farads is not None and branch.a != branch.b:
            found[branch] = farads
    return found


@rule(
    "signal.grid-tied-to-cathode",
    title="Capacitor between a grid and its own cathode",
    level="notice",
    states="the drawing alone",
    needs="the capacitor's value and the wiring",
    criterion=(
        f"A capacitor of {1e9 * TIED_F.value:g} nF or more joins the grid of a stage, straight or "
        "behind its stopper, to its own cathode, which stands on no landmark and no bypass."
    ),
    why=(
        "A tube amplifies what is between its grid and its cathode. Tied together for the signal "
        "they are one point: the upper tube of a cascode is no grounded grid any more but a "
        "resistor, and a stage driven there gives nothing."
    ),
    source=(Citation("arithmetic", "no voltage between the two, no signal"), PRACTICE),
    limits=(
        "Smaller capacitors, coils at the grid, and a grid leak's foot that is carried along "
        "(which raises its resistance) are left alone."
    ),
    thresholds=(TIED_F,),
)
def grid_tied_to_cathode(case: Case) -> Iterator[Outcome]:
    """Look for a capacitor between the two."""
    circuit = case.circuit
    for _, section in working(circuit):
        cathode, grids = section.cathode_nets[0], _at_grid(circuit, section)
        capacitors = _capacitors(circuit, cathode)
        if any(b.other(cathode) in LANDMARKS for b in capacitors) or _tuned(circuit, grids):
            continue
        for branch, farads in capacitors.items():
            if branch.other(cathode) in grids and farads >= TIED_F.value:
                name = section.name
                yield grid_tied_to_cathode.finding(
                    case,
                    (branch.name, name),
                    f"{branch.name} ({engineering(farads, 'F')}) ties the grid of {name} to its "
                    "own cathode: for a signal the two are one point",
                    f"Take {branch.name} from {name}.grid to gnd",
                    evidence={"capacitor": figure(farads, "F")},
                    limit=TIED_F.figure,
                    certainty="certain",
                    excess=farads / TIED_F.value,
                )


def _at_grid(circuit: Circuit, section: Section) -> set[str]:
    """The grid's net, and where only a stopper parts it from the rest."""
    grid = section.net("grid")
    if grid is None or grid in LANDMARKS:
        return set()
    near = list(circuit.at(grid))
    stopper = near[0] if len(near) == 1 and near[0].kind is PartKind.RESISTOR else None
    value = None if stopper is None else stopper.ohms
    if stopper is None or value is None or value > STOPPER_OHM:
        return {grid}
    return {grid, stopper.other(grid)} - set(LANDMARKS)


def _tuned(circuit: Circuit, nets: set[str]) -> bool:
    return any(b.traits.coil for n in nets for b in circuit.at(n))


RULES: tuple[Rule, ...] = (output_cathode_bypassed, grid_tied_to_cathode)
