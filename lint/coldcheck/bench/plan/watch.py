"""What to keep an eye on at each step with power, and what a loop the wrong way round would do."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.anatomy.feedback_loops import return_ratio, ways_back
from coldcheck.bench.plan.places import output_tubes
from coldcheck.bench.plan.power import is_rectifier
from coldcheck.circuit.problems import listed
from coldcheck.drawing.kinds import PartKind
from coldcheck.solve.cycle.network import Unsolvable

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.feedback_loops import Back
    from coldcheck.bench.plan.power import Stage
    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.solution import Solution


def watched(circuit: Circuit, stage: Stage, *, lamp: bool) -> str:
    """The signs at which to switch off at once, those that this stage can show."""
    inside = [t for t in circuit.tubes if t not in stage.pulled]
    cans = [b.name for b in circuit.branches.values() if b.plus and b.kind is PartKind.CAPACITOR]
    rectifiers = [t for t in inside if is_rectifier(circuit, t)]
    output = [t for t in output_tubes(circuit) if t in inside]
    signs = ["smoke, a smell, a crackle"]
    signs += ["the lamp that stays bright"] if lamp else []
    signs += [f"a can that hisses or swells ({listed(cans)})"] if cans else []
    signs += [f"a spark or a violet arc in {listed(rectifiers)}"] if rectifiers else []
    if output:
        signs.append(
            f"a plate that reddens or a grid wire that glows in {listed(output)} (in a dim room; a "
            "blue haze on the glass alone is harmless)"
        )
    others = [t for t in inside if t not in rectifiers and t not in output]
    signs += [f"a heater of {listed(others)} much brighter than usual"] if others else []
    return (
        f"Keep your eyes, ears and nose on the set; at any of these switch off: {'; '.join(signs)}."
    )


def howling(circuit: Circuit, warm: Solution) -> Iterator[str]:
    """For each way back from an output transformer: what to do should it be the wrong way round."""
    for back in ways_back(circuit):
        output = back.output
        if output is None:
            continue
        parts, name = listed(back.names), output.name
        plates = f"the plate leads {name}.p1 and {name}.p2"
        ends = f"the ends of the secondary, {name}.s1 and {name}.s2, gnd going to the other one"
        first, second = (plates, ends) if "ct" in dict(output.leads) else (ends, plates)
        verb = "leads" if len(back.names) == 1 else "lead"
        yield (
            f"{parts} {verb} back from {name}, and which end of a winding is which no ohmmeter "
            "shows. Lift one end before this step; later join it with a small signal on: the "
            f"output has to fall{_falls(circuit, warm, back)}. If it rises, howls, or the cone of "
            "the speaker moves slowly: switch off and pull the plug, exchange "
            f"{first} (or else {second})."
        )


def _falls(circuit: Circuit, warm: Solution, back: Back) -> str:
    """By how much, where the loop was worked out and is the right way round."""
    try:
        loop = return_ratio(circuit, warm, back)
    except (Unsolvable, np.linalg.LinAlgError):
        loop = None
    if loop is None or loop.real >= 0:
        return ""
    return f", to about {100 / abs(1 - loop):.0f} % at 1 kHz"
