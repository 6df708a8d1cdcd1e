"""Capacitors on the wrong side of the choke: of one in the negative lead, and of an input choke."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.lifted_returns import HIGH_V
from coldcheck.anatomy.neighbourhood import net_text, own_text
from coldcheck.anatomy.rectifiers import output_nets, rectifier_tubes
from coldcheck.anatomy.roads import wired_to
from coldcheck.anatomy.supplies import FILTER_F, rectified, rectifying_diodes
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import listed, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.rule import rule
from coldcheck.rules.supply.interrupted import FILTER_H
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule


@rule(
    "supply.reservoir-past-choke",
    title="Choke in the negative lead without a reservoir ahead of it",
    level="notice",
    blame=Blame.LIKELY_SLIP,
    states="the drawing alone",
    needs="the wiring between winding, choke and capacitors",
    criterion="A choke or speaker field of "
    f"{FILTER_H.value:g} H or more lies between the winding's tap and gnd, no capacitor of "
    f"{FILTER_F.value * 1e6:g} uF or more ends at the tap, and two or more electrolytics "
    "lead from the rectifier's output to gnd.",
    why="Ahead of a choke in the negative lead is the winding's side: the reservoir belongs from "
    "the rectifier's output to the tap, the filter capacitor from there to gnd. With both on gnd "
    "they are one capacitor behind the choke: the supply is by a third lower than it was to be, "
    "the bias from the field's drop with it, and one stage of filtering is gone.",
    source=(PRACTICE, Citation("arithmetic", "0.9 of the rms voltage in place of up to 1.4")),
    limits="A single capacitor behind the choke is a choke input by design; two in parallel could "
    "be. A choke in the positive lead is not looked at.",
    thresholds=(FILTER_H, FILTER_F, HIGH_V),
)
def reservoir_past_choke(case: Case) -> Iterator[Outcome]:
    """Look at each choke between a tap and gnd."""
    for choke in case.circuit.branches.values():
        tap = choke.other(GROUND) if GROUND in (choke.a, choke.b) else None
        if tap is None or not _filters(choke) or not _minus(case.circuit, tap):
            continue
        if not any(_large(b) for b in case.circuit.at(tap)):
            for found in _past(case.circuit).values():
                if len(found) > 1:
                    yield _finding(case, choke, tap, found)


def _filters(branch: Branch) -> bool:
    return branch.kind is PartKind.INDUCTOR and (branch.henries or 0.0) >= FILTER_H.value


def _minus(circuit: Circuit, net: str) -> bool:
    """Whether a high-voltage winding gives its current back to a net: its tap, or a diode."""
    high = [w for w in circuit.windings() if (si(w.volts, "volt") or 0.0) > HIGH_V.value]
    diode = any(b.kind is PartKind.DIODE and b.a == net for b in circuit.at(net))
    return diode or any(net in w.nets and not w.primary for w in high)


def _large(branch: Branch) -> bool:
    return branch.kind is PartKind.CAPACITOR and (branch.farads or 0.0) >= FILTER_F.value


def _past(circuit: Circuit) -> dict[str, list[Branch]]:
    """The electrolytics from each rectifier's output to gnd."""
    found: dict[str, list[Branch]] = {}
    for branch in circuit.branches.values():
        if _large(branch) and branch.plus not in (None, GROUND):
            plus = branch.plus or branch.a
            if branch.other(plus) == GROUND and rectified(circuit, plus):
                found.setdefault(plus, []).append(branch)
    return found


def _finding(case: Case, choke: Branch, tap: str, found: list[Branch]) -> Finding:
    names = listed(b.name for b in found)
    at = net_text(case.circuit, tap)
    return reservoir_past_choke.finding(
        case,
        (found[0].name, choke.name),
        f"{names} are in parallel behind {choke.name}, and no capacitor ends at {at} ahead of it",
        f"Take the - of {found[0].name}, the reservoir, from gnd to {at}",
        evidence={"parallel": names, "capacitors": figure(float(len(found)), "")},
        certainty="likely",
    )


@rule(
    "supply.filter-ahead-of-choke",
    title="Filter capacitor on the rectifier's side of the choke, and none behind it",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone; warm for the voltages",
    needs="the wiring between rectifier, choke and capacitors",
    criterion=f"One end of a choke of {FILTER_H.value:g} H or more is the output of a rectifier, "
    f"with a capacitor of {FILTER_F.value * 1e6:g} uF or more to gnd; at its other end, also past "
    "fuses and contacts, there is none, and more hangs there than one resistor: a load, an "
    "electrode, or the next choke.",
    why="A choke with its capacitor behind it takes the mean of the rectified voltage, 0.9 of the "
    "rms volts a side; with the capacitor ahead of it the rectifier charges that to the peak, and "
    "what was made for 0.9 gets up to 1.4. The rectifier and the winding feel every gulp, a choke "
    "alone filters little, and what the choke feeds has nothing to take its signal current from.",
    source=(PRACTICE, Citation("arithmetic", "2 sqrt(2) / pi against sqrt(2) of the rms voltage")),
    limits="Where both sides of the choke have a capacitor the drawing cannot tell which was "
    "meant: the ratings of what is behind it do. A choke behind which one resistor leads on to "
    "the next capacitor is left alone, and so is one in the negative lead.",
    thresholds=(FILTER_H, FILTER_F),
)
def filter_ahead_of_choke(case: Case) -> Iterator[Outcome]:
    """Look at both ends of each choke."""
    outputs = _rectified_nets(case.circuit)
    for choke in case.circuit.branches.values():
        for near in (choke.a, choke.b) if _filters(choke) and choke.a != choke.b else ():
            ahead = [b for n in wired_to(case.circuit, near) - set(LANDMARKS)
                     for b in case.circuit.at(n) if _holds(b, n)]  # fmt: skip
            if near in outputs and ahead and _bare(case.circuit, choke, near):
                yield _ahead(case, choke, near, ahead)


def _rectified_nets(circuit: Circuit) -> frozenset[str]:
    """What a rectifier gives its current to: behind fuses and on the tap of its filament too."""
    tubes = (output_nets(circuit, s) for _, s in rectifier_tubes(circuit))
    silicon = (wired_to(circuit, b.b) for b in rectifying_diodes(circuit))
    return frozenset().union(*tubes, *silicon) - set(LANDMARKS)


def _holds(branch: Branch, net: str) -> bool:
    """Whether a filter capacitor leads from a net to gnd."""
    return _large(branch) and branch.other(net) in LANDMARKS


def _bare(circuit: Circuit, choke: Branch, near: str) -> bool:
    """Whether behind a choke no capacitor filters, and a load or another choke hangs there."""
    far = choke.other(near)
    behind = wired_to(circuit, far)
    if near in behind or behind & set(LANDMARKS):
        return False
    at = [(n, b) for n in behind for b in circuit.at(n) if b is not choke]
    on = [b for n, b in at if b.other(n) not in behind]
    if any(_large(b) for b in on):
        return False
    leads = [b for b in on if b.kind is not PartKind.CAPACITOR]
    feeds = any(circuit.electrodes_at(n) for n in behind)
    return feeds or any(_filters(b) for b in leads) or len(leads) > 1


def _ahead(case: Case, choke: Branch, near: str, ahead: list[Branch]) -> Finding:
    circuit, far = case.circuit, choke.other(near)
    last = ahead[-1]  # of several the first one drawn is the reservoir
    here, there = (own_text(circuit, n) for n in (near, far))
    wave = case.warm.wave(far) if unsolved(case) is None else None
    volt = f"; with it there {there} has {volts(wave.dc)}" if wave is not None else ""
    alone = (
        "there the rectifier charges it to the peak, up to 1.4 times the winding's volts a side, "
        "where a choke that comes first takes the mean, 0.9 of them"
        if len(ahead) == 1
        else f"{listed(b.name for b in ahead)} are in parallel there, and one is missing behind"
    )
    return filter_ahead_of_choke.finding(
        case,
        (last.name, choke.name, there),
        f"{last.name} is at {here}, on the rectifier's side of {choke.name}, and nothing filters "
        f"behind it at {there}: {alone}{volt}",
        f"Take {last.name} from {here} to {there}, behind {choke.name}",
        evidence={"ahead": listed(b.name for b in ahead)}
        | ({"behind": figure(wave.dc, "V")} if wave is not None else {}),
        certainty="likely",
    )


RULES: tuple[Rule, ...] = (reservoir_past_choke, filter_ahead_of_choke)
