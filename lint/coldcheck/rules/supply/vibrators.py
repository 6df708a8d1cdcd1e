"""Vibrators: the capacitor that their contacts live by, and the battery that they are made for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.chopped import chopped_by
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import volts
from coldcheck.judge.figure import figure
from coldcheck.judge.ranges import certainty
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit, Transformer
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule

SERIES_OHM = Threshold("largest resistor in series with a buffer capacitor", 10e3, "ohm", PRACTICE)
OTHER_BATTERY = Threshold("volts of a battery over those its vibrator is made for", 1.4, "",
                          Citation("practice", "6 V sets run from 5 to 8 V"))  # fmt: skip


@rule(
    "supply.no-buffer-capacitor",
    title="Vibrator without its buffer capacitor",
    level="notice",
    states="the drawing alone",
    needs="a vibrator whose contacts are on a winding of a transformer",
    criterion="No capacitor joins two leads of one of the transformer's windings, by itself or "
    f"behind at most {SERIES_OHM.value / 1e3:g} kohm.",
    why="While the reed is between its contacts the energy of the core has nowhere to go: it rises "
    "to several times the working voltage, burns the contacts, and breaks down rectifier and "
    "winding. The buffer capacitor turns it round in time for the next contact.",
    source=PRACTICE,
    limits="Whether its size suits the transformer is not judged; it is the maker's, some nF "
    "across the secondary.",
    thresholds=(SERIES_OHM,),
)
def no_buffer_capacitor(case: Case) -> Iterator[Outcome]:
    """Look for a capacitor across any winding of a chopped transformer."""
    for one in case.circuit.vibrators.values():
        chopped = chopped_by(case.circuit, one)
        if chopped is not None and not _buffered(case.circuit, chopped):
            yield no_buffer_capacitor.finding(
                case,
                (one.name, chopped.name),
                f"no buffer capacitor is across a winding of {chopped.name}, whose current "
                f"{one.name} interrupts",
                "Put the buffer capacitor that the transformer is made for across its secondary, "
                "rated for 1500 V or more at 250 V a half",
                certainty="certain",
            )


@rule(
    "supply.vibrator-voltage",
    title="Vibrator on another battery",
    level="notice",
    states="warm",
    needs="a vibrator with its reed and the tap of its winding wired, and a solved state",
    criterion="The DC between its contacts and its reed is more than "
    f"{OTHER_BATTERY.value:g} times the volts written, or less than them over "
    f"{OTHER_BATTERY.value:g}.",
    why="A 6 V vibrator on 12 V carries several times its current and sticks; one for 12 V does "
    "not start on 6 V.",
    source=PRACTICE,
    limits="The coil that drives the reed is not drawn. The secondary's volts are worked out with "
    "the volts written on the vibrator.",
    thresholds=(OTHER_BATTERY,),
)
def vibrator_voltage(case: Case) -> Iterator[Outcome]:
    """Compare the battery with what is written on the vibrator."""
    for one in case.circuit.vibrators.values():
        limit = si(one.main.value, "volt")
        wave = case.warm.between(one.main.a, one.reed) if case.warm.converged else None
        if limit is None or wave is None:
            continue
        seen = abs(wave.dc)
        share = seen / limit
        if not 1 / OTHER_BATTERY.value <= share <= OTHER_BATTERY.value:
            excess = max(share, 1 / share) / OTHER_BATTERY.value if share else 10.0
            yield vibrator_voltage.finding(
                case,
                (one.name,),
                f"{one.name} is made for {volts(limit)} and has {volts(seen)} to chop",
                "Use one for this battery, or look at how reed and tap are wired",
                state="warm",
                evidence={"battery": figure(seen, "V"), "share": figure(share, "")},
                limit=figure(limit, "V"),
                certainty=certainty(excess),
                excess=excess,
            )


def _buffered(circuit: Circuit, transformer: Transformer) -> bool:
    return any(
        _joined(circuit, frozenset(net for _, net in winding.leads))
        for winding in transformer.windings
    )


def _joined(circuit: Circuit, leads: frozenset[str]) -> bool:
    """Whether a capacitor joins two leads of a winding."""
    near = {net: net for net in leads}
    for net in leads:
        for small in circuit.at(net):
            ohms = small.ohms if small.kind is PartKind.RESISTOR else None
            if ohms is not None and ohms <= SERIES_OHM.value:
                near.setdefault(small.other(net), net)
    found = (b for b in circuit.branches.values() if b.kind is PartKind.CAPACITOR)
    return any(
        b.plus is None and b.a in near and b.b in near and near[b.a] != near[b.b] for b in found
    )


RULES: tuple[Rule, ...] = (no_buffer_capacitor, vibrator_voltage)
