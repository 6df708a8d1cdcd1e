"""A capacitor right across an input that shorts its treble."""

from __future__ import annotations

from math import pi
from typing import TYPE_CHECKING

from coldcheck.anatomy.coupling import GIVES, coupled, still_nets
from coldcheck.anatomy.jacks import jacks
from coldcheck.anatomy.neighbourhood import capacitors_to_rest, ohms_between, own_text
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import SignalLine
from coldcheck.drawing.units import engineering, si
from coldcheck.drawing.wording import ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

SHUNT_F = Threshold(
    "capacitor across an input that is none for its treble", 4.7e-9, "F",
    Citation("practice", "pickups are loaded with 47 to 470 pF, radio kept out with up to 1 nF"),
)  # fmt: skip
LOAD_OHM = Threshold(
    "input resistance from which the source is no low one", 15e3, "ohm",
    Citation("practice", "lines of low resistance end in 600 ohm to 10 kohm"),
)  # fmt: skip
MEANT_F = 470e-12
"""What stands there is this much or less (common practice)."""

AUDIO_HZ = 5e3
"""A `signal` above this is none of an audio amplifier's."""


@rule(
    "signal.input-shunted",
    title="Capacitor across an input that takes its treble",
    level="notice",
    blame=Blame.VALUE,
    states="the drawing alone",
    needs="the capacitor's value, and an input: a jack or a `signal` of 5 kHz or less",
    criterion=f"A capacitor of {SHUNT_F.value * 1e9:g} nF or more leads from the very point an "
    "input comes to, from which a grid is driven and to which no stage gives anything, to gnd, "
    f"and the input has {LOAD_OHM.value / 1e3:g} kohm or more to gnd.",
    why="A pickup, a guitar or a crystal microphone is loaded with some hundred picofarads. A "
    "thousand times that, 100n where 100p was meant, is a short for all but the bass, and "
    "with a magnetic pickup it makes a resonance in the middle of the music.",
    source=(PRACTICE, Citation("arithmetic", "1 / (2 pi R C)")),
    limits="What the source has of its own is not in the drawing: one of some hundred ohm would "
    "stand more than this. A capacitor behind a resistor or a contact is not looked at.",
    thresholds=(SHUNT_F, LOAD_OHM),
)
def input_shunted(case: Case) -> Iterator[Outcome]:
    """Look at the capacitors on each input."""
    circuit = case.circuit
    for net in _inputs(circuit):
        load = ohms_between(circuit, net)
        if load is None or load < LOAD_OHM.value or not _drives(circuit, net):
            continue
        for branch in capacitors_to_rest(circuit, net, SHUNT_F.value):
            if branch.plus is None:
                yield _shunted(case, branch, net, load)


def _inputs(circuit: Circuit) -> list[str]:
    """The nets of signal sources of audio and of jack tips; none where a signal is of radio."""
    signals = [b for b in circuit.branches.values() if b.kind is PartKind.SIGNAL]
    lines = (s for s in circuit.drawing.statements if isinstance(s, SignalLine))
    if any((si(s.frequency, "hertz") or 0.0) > AUDIO_HZ for s in lines):
        return []
    nets = [*(b.a for b in signals), *(j.tip for j in jacks(circuit))]
    return [n for n in dict.fromkeys(nets) if n not in LANDMARKS]


def _drives(circuit: Circuit, net: str) -> bool:
    """Whether a signal gets from a net to grids, and none comes to it from a stage."""
    on = [x for n in coupled(circuit, [net], still_nets(circuit)) for x in circuit.electrodes_at(n)]
    used = {s.name for _, s in working(circuit)}
    grids = any(e == "grid" and s.name in used for s, e in on)
    return grids and not any(e in GIVES for _, e in on)


def _shunted(case: Case, branch: Branch, net: str, load: float) -> Finding:
    farads = branch.farads or 0.0
    corner, meant = 1 / (2 * pi * load * farads), farads
    while meant > MEANT_F:
        meant /= 10
    there = own_text(case.circuit, net)
    thousand = farads / 1e3 if farads / 1e3 >= MEANT_F / 10 else meant
    return input_shunted.finding(
        case,
        (branch.name, there),
        f"{branch.name} ({engineering(farads, 'F')}) lies across the input at {there}: with the "
        f"{ohms(load)} there it takes what is above {engineering(corner, 'Hz')}",
        f"Look at the original again: {engineering(min(thousand, MEANT_F), 'F')} would suit, or "
        f"leave {branch.name} out",
        evidence={"corner": figure(corner, "Hz"), "capacitor": figure(farads, "F")},
        limit=SHUNT_F.figure,
        certainty="likely",
        excess=farads / SHUNT_F.value,
    )


RULES: tuple[Rule, ...] = (input_shunted,)
