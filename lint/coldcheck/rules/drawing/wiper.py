"""A pot of which only the ends are wired."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.drawing.kinds import PartKind
from coldcheck.judge.rule import rule
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule


@rule(
    "drawing.wiper-unwired",
    title="Wiper of a pot that leads nowhere",
    level="notice",
    states="the drawing alone",
    needs="the wiring",
    criterion="Both ends of a pot's track are wired and nothing is at its wiper.",
    why="The control then does nothing. What was to hang on the wiper gets no signal; a bias "
    "trimmer stays at the end of its range.",
    source=PRACTICE,
    limits="A pot with one end free is taken for an adjustable resistor and is left alone.",
)
def wiper_unwired(case: Case) -> Iterator[Outcome]:
    """Look at the three leads of every pot."""
    circuit = case.circuit
    pots = dict.fromkeys(b.owner for b in circuit.branches.values() if b.kind is PartKind.POT)
    for pot in pots:
        ends = [_wired(circuit, pot, lead) for lead in ("top", "bottom")]
        if all(ends) and not _wired(circuit, pot, "wiper"):
            yield wiper_unwired.finding(
                case,
                (pot, f"{pot}.wiper"),
                f"{pot}: both ends are wired and nothing is at its wiper",
                f"Wire {pot}.wiper to what {pot} is to control, or to one of its ends where it is "
                "to be an adjustable resistor",
                evidence={"free_lead": f"{pot}.wiper"},
                certainty="certain",
            )


def _wired(circuit: Circuit, pot: str, lead: str) -> bool:
    """Whether anything but the pot itself is on a lead."""
    net = circuit.points[f"{pot}.{lead}"]
    if any(b.owner != pot for b in circuit.at(net)) or circuit.electrodes_at(net):
        return True
    return any(not n.startswith(f"{pot}.") for n in circuit.names.get(net, ())) or any(
        circuit.points[f"{pot}.{other}"] == net
        for other in ("top", "wiper", "bottom")
        if other != lead
    )


RULES: tuple[Rule, ...] = (wiper_unwired,)
