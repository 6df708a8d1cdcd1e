"""A suppressor grid that has its own pin and hangs in the air."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import wired
from coldcheck.anatomy.working import working
from coldcheck.judge.rule import rule
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule


@rule(
    "tube.suppressor-floating",
    title="Suppressor grid wired to nothing",
    level="notice",
    states="the drawing alone",
    needs="a type with the suppressor at a pin of its own",
    criterion="The suppressor of a tube at work has a pin of its own and nothing is wired to it.",
    why="A floating suppressor charges itself to whatever the electrons make of it. The plate "
    "current jumps about, and an output tube may draw far more screen current than it stands.",
    source=Citation("practice", "suppressor to the cathode or to gnd"),
    limits="Types whose suppressor is joined to the cathode inside are not concerned.",
)
def suppressor_floating(case: Case) -> Iterator[Outcome]:
    """Look at the third grid of every pentode with a pin for it."""
    for _, section in working(case.circuit):
        net = section.electrodes.get("suppressor")
        if net is None or wired(case.circuit, net):
            continue
        lead = f"{section.name}.suppressor"
        yield suppressor_floating.finding(
            case,
            (section.name, lead),
            f"{section.name}: nothing is wired to its suppressor",
            f"Wire {lead} to {section.name}.cathode, or to gnd",
            evidence={"free_lead": lead},
            certainty="certain",
        )


RULES: tuple[Rule, ...] = (suppressor_floating,)
