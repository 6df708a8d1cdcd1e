"""A return jack whose tip and resting contact have changed places."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.coupling import coupled, givers, still_nets
from coldcheck.anatomy.jacks import jacks
from coldcheck.anatomy.neighbourhood import own_text
from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.tubes_types import SIGNAL_GRIDS
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.jacks import Jack
    from coldcheck.circuit.model import Circuit
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule


@rule(
    "signal.jack-contact-exchanged",
    title="Return jack with its tip and its resting contact exchanged",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="two declared jacks, one of them with its `switch` wired",
    criterion="The tip of a jack is on the output of a stage, where the tip of another jack "
    "without a wired contact is too; its resting contact leads to a grid, to which nothing else "
    "brings a signal.",
    why="In a loop the send is on the resting contact of the return jack, and the next stage on "
    "its tip: a plug takes the send off and brings its own signal. With the two exchanged a plug "
    "cuts the next stage off, and what comes back is put on the output that feeds the send.",
    source=PRACTICE,
    limits="A jack that is to mute what follows, with no other jack on the same point, is left "
    "alone.",
)
def jack_contact_exchanged(case: Case) -> Iterator[Outcome]:
    """Look for jacks that share their tip with another and lead on by their contact."""
    circuit, every = case.circuit, list(jacks(case.circuit))
    for jack in every:
        plain = [
            j for j in every if j.name != jack.name and j.tip == jack.tip and _bare(circuit, j)
        ]
        if plain and jack.switch is not None and _leads_on(circuit, jack):
            yield _finding(case, jack, plain[0])


def _bare(circuit: Circuit, jack: Jack) -> bool:
    """Whether a jack's contact has nothing on it, or it has none."""
    return jack.switch is None or len(circuit.names.get(jack.switch, ())) <= 1


def _leads_on(circuit: Circuit, jack: Jack) -> bool:
    """Whether a stage gives to the tip, and the contact leads to a grid that waits for it."""
    if jack.switch is None or {jack.tip, jack.switch} & set(LANDMARKS):
        return False
    still = still_nets(circuit)
    given = givers(circuit, coupled(circuit, [jack.tip], still, without=(jack.name,)))
    behind = coupled(circuit, [jack.switch], still, without=(jack.name,))
    waits = any(e in SIGNAL_GRIDS for n in behind for _, e in circuit.electrodes_at(n))
    return waits and not givers(circuit, behind) and any(e in GIVING for _, e in given)


GIVING = ("plate", "cathode")


def _finding(case: Case, jack: Jack, other: Jack) -> Finding:
    name, onward = jack.name, own_text(case.circuit, jack.switch or "")
    return jack_contact_exchanged.finding(
        case,
        (name, f"{name}.tip", f"{name}.switch", other.name),
        f"a plug in {name} takes {onward}, to which nothing else brings a signal, off "
        f"{own_text(case.circuit, jack.tip)}, and puts its own signal there, on the tip of "
        f"{other.name}: a return has the next stage on its tip, and the send on its contact",
        f"Exchange {name}.tip and {name}.switch",
        certainty="likely",
    )


RULES: tuple[Rule, ...] = (jack_contact_exchanged,)
