"""A jack whose tip and resting contact have changed places."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.coupling import coupled, givers, still_nets
from coldcheck.anatomy.jacks import jacks
from coldcheck.anatomy.neighbourhood import own_text
from coldcheck.circuit.model import GROUND, LANDMARKS
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
    title="Jack with its tip and its resting contact exchanged",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="two declared jacks, one of them with its `switch` wired",
    criterion="The tip of a jack is on the output of a stage, where the tip of another jack "
    "without a wired contact is too, or on gnd; its resting contact leads to a grid, to which "
    "nothing else brings a signal.",
    why="In a loop the send is on the resting contact of the return jack, and the next stage on "
    "its tip: a plug takes the send off and brings its own signal. With the two exchanged a plug "
    "cuts the next stage off, and what comes back is put on the output that feeds the send. An "
    "input so wired is shorted by its plug.",
    source=PRACTICE,
    limits="A jack that is to mute what follows, with no other jack on the same point, is left "
    "alone.",
)
def jack_contact_exchanged(case: Case) -> Iterator[Outcome]:
    """Look for jacks that share their tip with another and lead on by their contact."""
    circuit, every = case.circuit, list(jacks(case.circuit))
    for jack in every:
        beside = [j for j in every if j.name != jack.name and j.tip == jack.tip]
        plain = [j for j in beside if _bare(circuit, j)]
        if jack.tip == jack.sleeve == GROUND and _onward(circuit, jack, drawn=True):
            yield _input(case, jack)
        elif plain and _leads_on(circuit, jack):
            yield _finding(case, jack, plain[0])


def _bare(circuit: Circuit, jack: Jack) -> bool:
    """Whether a jack's contact has nothing on it, or it has none."""
    return jack.switch is None or len(circuit.names.get(jack.switch, ())) <= 1


def _onward(circuit: Circuit, jack: Jack, *, drawn: bool) -> bool:
    """Whether a jack's contact leads to a grid that no stage drives.

    ``drawn``: a `signal` there is what the plug is to bring.
    """
    if jack.switch is None or jack.switch in LANDMARKS:
        return False
    behind = coupled(circuit, [jack.switch], still_nets(circuit), without=(jack.name,))
    grids = any(e in SIGNAL_GRIDS for n in behind for _, e in circuit.electrodes_at(n))
    given = givers(circuit, behind)
    return grids and not (any(e in GIVING for _, e in given) if drawn else given)


def _leads_on(circuit: Circuit, jack: Jack) -> bool:
    """Whether a stage gives to the tip, and the contact leads to a grid that waits for it."""
    if jack.tip in LANDMARKS or not _onward(circuit, jack, drawn=False):
        return False
    given = givers(circuit, coupled(circuit, [jack.tip], still_nets(circuit), (jack.name,)))
    return any(e in GIVING for _, e in given)


GIVING = ("plate", "cathode")


def _input(case: Case, jack: Jack) -> Finding:
    name, onward = jack.name, own_text(case.circuit, jack.switch or "")
    return jack_contact_exchanged.finding(
        case,
        (name, f"{name}.tip", f"{name}.switch"),
        f"{name}: its tip is on gnd as its sleeve is, and {onward}, which leads to a grid, "
        "is on its resting contact: a plug is shorted, and cuts it off",
        f"Exchange {name}.tip and {name}.switch",
        certainty="certain",
    )


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
