"""A contact that mutes by shorting an electrode, direct current and all."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.jacks import jacks
from coldcheck.anatomy.neighbourhood import own_text, resistors_at
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import volts
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

MUTED_V = Threshold("DC of a point that a contact may short", 2.0, "V", PRACTICE)


@rule(
    "output.muted-ahead-of-capacitor",
    title="Muting contact on the electrode, ahead of the output capacitor",
    level="notice",
    blame=Blame.SLIP,
    states="every solved state",
    needs="a solved state, and a capacitor that leads on to an output",
    criterion="A contact joins the plate or cathode of a stage, or a lead of a transistor, to gnd; "
    f"there are more than {MUTED_V.value:g} V DC on it while the contact is open; and a capacitor "
    "leads from it, by wire or resistors, to a jack, or to a point with a resistor to gnd that no "
    "electrode is on.",
    why="Closed, the contact shorts what the stage rests on: its current is limited by nothing but "
    "the supply, and the capacitor is discharged into the contact with a bang. Behind "
    "the capacitor there is no direct current to short.",
    source=(PRACTICE, Citation("arithmetic", "Kirchhoff's voltage law")),
    limits="A contact behind a resistor of its own, and one that opens a path, are left alone.",
    thresholds=(MUTED_V,),
)
def muted_ahead_of_capacitor(case: Case) -> Iterator[Outcome]:
    """Look at each contact from an electrode to gnd."""
    circuit = case.circuit
    for contact in circuit.branches.values() if unsolved(case) is None else ():
        if not contact.traits.opens or GROUND not in (contact.a, contact.b):
            continue
        net = contact.other(GROUND)
        out = _output(circuit, net) if net not in LANDMARKS and _gives(circuit, net) else None
        dc = max((abs(w.dc) for s in case.solved() if (w := s.wave(net))), default=0.0)
        if out is not None and dc > MUTED_V.value:
            yield _finding(case, contact, (net, *out), dc)


def _gives(circuit: Circuit, net: str) -> bool:
    """Whether a stage gives its signal at a net."""
    on = any(e in ("plate", "cathode") and s.kind.amplifies for s, e in circuit.electrodes_at(net))
    return on or any(b.kind is PartKind.CHANNEL for b in circuit.at(net))


def _output(circuit: Circuit, net: str) -> tuple[str, str] | None:
    """The capacitor from a net to an output, and the output's point."""
    tips = {j.tip for j in jacks(circuit)}
    for branch in circuit.at(net):
        far = branch.other(net)
        if branch.kind is not PartKind.CAPACITOR or far in LANDMARKS:
            continue
        near = [far, *(b.other(far) for b in resistors_at(circuit, far))]
        out = next((n for n in near if n in tips and n not in LANDMARKS), None)
        grounded = any(b.other(far) == GROUND for b in resistors_at(circuit, far))
        plain = grounded and not any(circuit.electrodes_at(n) for n in near if n not in LANDMARKS)
        if out is not None or plain:
            return branch.name, far if out is None else out
    return None


def _finding(case: Case, contact: Branch, places: tuple[str, str, str], dc: float) -> Finding:
    net, capacitor, out = places
    here, there = (own_text(case.circuit, n) for n in (net, out))
    return muted_ahead_of_capacitor.finding(
        case,
        (contact.owner, here, capacitor),
        f"{contact.owner} shorts {here} to gnd, ahead of {capacitor}: {here} is at {volts(dc)} DC, "
        "and all the stage can draw flows through the contact",
        f"Take {contact.owner} from {here} to {there}, behind {capacitor}",
        evidence={"dc": figure(dc, "V")},
        limit=MUTED_V.figure,
        certainty="certain",
        excess=dc / MUTED_V.value,
    )


RULES: tuple[Rule, ...] = (muted_ahead_of_capacitor,)
