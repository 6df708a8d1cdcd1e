"""An electrolytic across a detector, the other way round than the diodes charge it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.detectors import diodes, diodes_beside
from coldcheck.anatomy.reach import Ways
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.detectors import Diode
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule


@rule(
    "capacitor.reversed-on-detector",
    title="Electrolytic that its detector charges the wrong way",
    level="notice",
    blame=Blame.LIKELY_SLIP,
    states="the drawing alone",
    needs="the + of the capacitor on the drawing",
    criterion="The + of a capacitor is on the plate of a detector's diode, or its other lead on "
    "the cathode of one, the far side of each such diode is on a coil, and no supply "
    "reaches either lead: a ratio detector, a detector that doubles, a meter's rectifier.",
    why="At rest there is no voltage across it, and a meter finds nothing wrong. With a signal "
    "the diodes drive the cathode's side positive and the plate's side negative, for as long as "
    "the station is on: reversed, the electrolytic leaks, loads the detector and loses its "
    "capacity, and what it was to steady is steady no longer.",
    source=Citation("arithmetic", "the way a diode conducts"),
    limits="Where one diode would charge it one way and another the other, nothing is said. "
    "Diodes behind capacitors, and detectors with a bias from a supply, are not looked at.",
)
def reversed_on_detector(case: Case) -> Iterator[Outcome]:
    """Look at every capacitor with a + that only a detector's diodes charge."""
    circuit = case.circuit
    detectors = [*diodes(circuit), *(d for _, d in diodes_beside(circuit))]
    for branch in circuit.branches.values():
        if branch.kind is not PartKind.CAPACITOR or branch.plus is None or branch.a == branch.b:
            continue
        wrong = _against(circuit, branch, detectors)
        if wrong and not _fed(circuit, branch):
            yield reversed_on_detector.finding(
                case,
                (branch.name, *wrong),
                f"with a signal {listed(wrong)} "
                f"{'charges' if len(wrong) == 1 else 'charge'} {branch.name} the wrong way round: "
                "its + is where the detector goes negative",
                f"Turn {branch.name} round: its + to the side of the diode's cathode",
                evidence={"charged_by": listed(wrong)},
                certainty="certain",
            )


def _against(circuit: Circuit, branch: Branch, found: Collection[Diode]) -> list[str]:
    """The diodes that charge a capacitor against its +; none where one of them charges it with."""
    plus = branch.plus or branch.a
    minus = branch.other(plus)
    wrong = _charging(circuit, found, plus, minus)
    return [] if _charging(circuit, found, minus, plus) else wrong


def _charging(circuit: Circuit, found: Collection[Diode], low: str, high: str) -> list[str]:
    """The diodes with a coil on their far side that draw from ``low`` or give to ``high``."""
    drawing = [d.name for d in found if d.plate == low and _on_coil(circuit, d.cathode, d.plate)]
    giving = [d.name for d in found if d.cathode == high and _on_coil(circuit, d.plate, d.cathode)]
    return [*dict.fromkeys([*giving, *drawing])]


def _on_coil(circuit: Circuit, net: str, other: str) -> bool:
    """Whether a coil that is no mains winding is on a net, and not across the diode."""
    if net in LANDMARKS:
        return False
    mains = {b.name for w in circuit.windings() for b in w.branches}
    near = (b for b in circuit.at(net) if b.traits.coil and b.name not in mains)
    return any(b.other(net) != other for b in near)


def _fed(circuit: Circuit, branch: Branch) -> bool:
    """Whether a supply holds either lead."""
    ways = Ways.of(circuit)
    return any(ways.fed(n) for n in {branch.a, branch.b} - set(LANDMARKS))


RULES: tuple[Rule, ...] = (reversed_on_detector,)
