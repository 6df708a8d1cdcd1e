"""A suppressor grid that has its own pin and hangs in the air."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import wired
from coldcheck.anatomy.working import working
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.judge.rule import rule
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule


@rule(
    "tube.suppressor-floating",
    title="Suppressor or shield grid wired to nothing",
    level="notice",
    states="the drawing alone",
    needs="a type with the suppressor at a pin of its own",
    criterion="The suppressor of a tube at work, or the shield grid of a thyratron whose plate is "
    "wired, has a pin of its own and nothing is wired to it.",
    why="A floating suppressor charges itself to whatever the electrons make of it. The plate "
    "current jumps about, and an output tube may draw far more screen current than it stands. A "
    "thyratron fires by itself, or not at all.",
    source=Citation("practice", "suppressor to the cathode or to gnd"),
    limits="Types whose suppressor is joined to the cathode inside are not concerned.",
)
def suppressor_floating(case: Case) -> Iterator[Outcome]:
    """Look at the third grid of every pentode with a pin for it, and the second of thyratrons."""
    pentodes = ((s, "suppressor", "suppressor") for _, s in working(case.circuit))
    gas = (s for s in case.circuit.sections() if s.kind is SectionKind.THYRATRON and s.plates)
    fired = (s for s in gas if wired(case.circuit, s.electrodes[s.plates[0]]))
    for section, end, words in (*pentodes, *((s, "grid2", "shield grid") for s in fired)):
        net = section.electrodes.get(end)
        if net is None or wired(case.circuit, net):
            continue
        lead = f"{section.name}.{end}"
        yield suppressor_floating.finding(
            case,
            (section.name, lead),
            f"{section.name}: nothing is wired to its {words}",
            f"Wire {lead} to {section.name}.cathode, or to gnd",
            evidence={"free_lead": lead},
            certainty="certain",
        )


RULES: tuple[Rule, ...] = (suppressor_floating,)
