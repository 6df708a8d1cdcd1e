"""Where the reservoir ends when the supply's minus is held off gnd."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.lifted_returns import HIGH_V, MOST_OHM, Return, lifted_returns
from coldcheck.anatomy.neighbourhood import AMPLIFYING, net_text
from coldcheck.anatomy.reach import reach
from coldcheck.anatomy.supplies import FILTER_F
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Outcome

ROUGH = Threshold("ripple of a first capacitor, as a share of its DC", 0.3, "", PRACTICE)


@rule(
    "capacitor.wrong-side-of-back-bias",
    title="Reservoir on the wrong side of a bias resistor",
    level="notice",
    states="warm",
    needs="the wiring of the rectifier and its winding, and a solved state",
    criterion=(
        "A resistor between the supply's minus and gnd makes a bias for a grid, the capacitor "
        "right at the rectifier goes to gnd instead of to the minus, and the ripple across the "
        "resistor (rms) is more than 0.3 of its DC."
    ),
    why=(
        "The rectifier refills its first capacitor in short gulps. Returned to the minus of the "
        "supply they stay out of the bias resistor; with the can screwed to the chassis all of "
        "them pass through it, and the bias is a sawtooth: hum."
    ),
    source=Citation("texts-back-bias", "cans insulated from the chassis"),
    limits=(
        "Only the capacitor right at the rectifier is looked at; the second one is at home on "
        "either side. How much of the ripple gets to the grid is not reckoned."
    ),
    thresholds=(FILTER_F, ROUGH, HIGH_V, MOST_OHM),
)
def wrong_side_of_back_bias(case: Case) -> Iterator[Outcome]:
    """Look where the reservoir ends when the supply's minus is not gnd."""
    if not case.warm.converged:
        return
    circuit = case.circuit
    for found in lifted_returns(circuit):
        wrong = [b for b in _reservoirs(circuit, found) if _other_end(b, found) == found.ground]
        right = [b for b in _reservoirs(circuit, found) if _other_end(b, found) == found.net]
        wave = case.warm.between(found.ground, found.net)
        if not wrong or right or wave is None or not _biases(circuit, found):
            continue
        share = wave.ac_rms / max(abs(wave.dc), 1e-6)
        if share > ROUGH.value:
            names = tuple(b.name for b in wrong)
            yield wrong_side_of_back_bias.finding(
                case,
                (*names, *(r.name for r in found.resistors)),
                f"{listed(names)} goes to gnd and not to {net_text(circuit, found.net)}, the "
                f"supply's minus: its charging gulps put {volts(wave.ac_rms)} rms of ripple on a "
                f"bias of {volts(abs(wave.dc))}",
                f"Take the minus of {listed(names)} to {net_text(circuit, found.net)}, its can "
                "insulated from the chassis",
                state=case.warm.state.name,
                evidence={
                    "ripple_rms": figure(wave.ac_rms, "V"),
                    "bias": figure(abs(wave.dc), "V"),
                },
                limit=figure(ROUGH.value * abs(wave.dc), "V"),
                excess=share / ROUGH.value,
            )


def _reservoirs(circuit: Circuit, found: Return) -> list[Branch]:
    every = {b.name: b for o in found.outputs for b in circuit.at(o)}
    return [
        b
        for b in every.values()
        if b.kind is PartKind.CAPACITOR and (b.farads or 0.0) >= FILTER_F.value
    ]


def _other_end(capacitor: Branch, found: Return) -> str:
    return capacitor.b if capacitor.a in found.outputs else capacitor.a


def _biases(circuit: Circuit, found: Return) -> bool:
    """Whether a grid hangs on the negative side."""
    nets = set(reach(circuit, [found.net], LANDMARKS))
    return any(
        s.kind in AMPLIFYING and s.electrodes.get("grid") in nets - set(LANDMARKS)
        for s in circuit.sections()
    )


RULES = (wrong_side_of_back_bias,)
