"""Filter capacitors and references on the wrong point: behind no choke, in a doubler's middle."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy import supplies
from coldcheck.anatomy.neighbourhood import own_text
from coldcheck.anatomy.supplies import FILTER_F, rectified
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering, si
from coldcheck.drawing.wording import listed
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.records import dataclass
from coldcheck.rules.supply import interrupted
from coldcheck.rules.supply.interrupted import FILTER_H
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule


@rule(
    "supply.choke-unfiltered",
    title="Two filter chokes with no capacitor between them",
    level="notice",
    states="the drawing alone",
    needs="the inductance of the chokes and the capacitors on the points around them",
    criterion=f"A choke of {FILTER_H.value:g} H or more leads from a rectifier's output with a "
    f"capacitor of {1e6 * FILTER_F.value:g} uF or more on it to a point that has none, and from "
    "there a second choke leads to a point that has one.",
    why="Two chokes in a row are one: the capacitor that belongs between them is at the "
    "rectifier and makes a choke input a capacitor input. The supply is by a third to a half "
    "higher than reckoned, and the winding and the rectifier carry pulses.",
    source=(PRACTICE, Citation("arithmetic", "1.1 to 1.4 of the rms voltage in place of 0.9")),
    limits="A choke without a second one behind it is not looked at, nor chokes in the negative "
    "lead. Which capacitor was to stand between them cannot be seen where there are several.",
    thresholds=(FILTER_F, interrupted.FILTER_H, supplies.SERIES_OHMS),
)
def choke_unfiltered(case: Case) -> Iterator[Outcome]:
    """Follow each choke from the rectifier to the next."""
    circuit = case.circuit
    for choke in circuit.branches.values():
        for near in (choke.a, choke.b) if _filters(choke) else ():
            middle = choke.other(near)
            first = [b for b in circuit.at(near) if _large(b)]
            if not first or not rectified(circuit, near) or _bare_of(circuit, middle):
                continue
            for second in _onward(circuit, middle, choke):
                yield _unfiltered(case, first, (choke, second), middle)


def _filters(branch: Branch) -> bool:
    return branch.kind is PartKind.INDUCTOR and (branch.henries or 0.0) >= FILTER_H.value


def _large(branch: Branch) -> bool:
    if branch.kind is not PartKind.CAPACITOR:
        return False
    return (branch.farads or FILTER_F.value) >= FILTER_F.value


def _bare_of(circuit: Circuit, net: str) -> bool:
    """Whether a point cannot be the middle: it is a landmark, or has a capacitor."""
    return net in LANDMARKS or any(_large(b) for b in circuit.at(net))


def _onward(circuit: Circuit, middle: str, choke: Branch) -> Iterator[Branch]:
    for second in circuit.at(middle):
        far = second.other(middle)
        if second is not choke and _filters(second) and any(_large(b) for b in circuit.at(far)):
            yield second


def _unfiltered(
    case: Case, first: list[Branch], chokes: tuple[Branch, Branch], middle: str
) -> Outcome:
    circuit, (one, two) = case.circuit, chokes
    names, at = tuple(b.name for b in first), own_text(circuit, middle)
    farads = si(first[0].value, "farad")
    return choke_unfiltered.finding(
        case,
        (*names, one.name, two.name),
        f"{one.name} and {two.name} follow one another with no capacitor at {at} between them: "
        f"{listed(names)} is ahead of both, at the rectifier",
        f"Take {names[0]} from {at} to gnd, or fit another capacitor there",
        evidence={"between": at} if farads is None else {"capacitor": figure(farads, "F")},
        certainty="likely",
    )


@dataclass(frozen=True, slots=True)
class _Doubler:
    """Two capacitors in series across two diodes, their middle, and the winding's end on it."""

    upper: Branch
    lower: Branch
    middle: str
    lead: str

    @property
    def ends(self) -> dict[Branch, str]:
        """The outer end of each capacitor."""
        return {b: b.other(self.middle) for b in (self.upper, self.lower)}


@rule(
    "supply.doubler-off-its-end",
    title="Doubler with gnd on its middle and one half unused",
    level="notice",
    states="the drawing alone",
    needs="the wiring of two diodes, two capacitors and a winding",
    criterion="Two diodes from one end of a winding charge two capacitors, whose middle, the "
    "winding's other end, is on gnd; at the outer end of one capacitor there are only resistors, "
    "to the middle.",
    why="With its middle on gnd a doubler is two supplies, one of either sign, each of half the "
    "voltage. Where nothing uses the one, the set gets half of what it is made for.",
    source=(PRACTICE, Citation("arithmetic", "each half has the winding's peak")),
    limits="Two supplies of which both are used are meant. A single rectifier with one capacitor "
    "is no doubler.",
)
def doubler_off_its_end(case: Case) -> Iterator[Outcome]:
    """Look at every pair of capacitors that meet at gnd and a winding."""
    for doubler in _doublers(case.circuit):
        unused = [b for b, end in doubler.ends.items() if _unused(case.circuit, b, end)]
        if len(unused) == 1:
            yield _off(case, doubler, unused[0])


def _doublers(circuit: Circuit) -> Iterator[_Doubler]:
    """The doublers of a drawing whose middle is on gnd."""
    for winding in circuit.windings():
        for lead, net in dict(winding.leads).items():
            hot = [n for n in winding.nets if n != net]
            if net != GROUND or winding.primary or len(hot) != 1:
                continue
            fed = {hot[0], *(b.other(hot[0]) for b in circuit.at(hot[0]) if b.traits.metal)}
            diodes = [b for n in sorted(fed - {GROUND}) for b in circuit.at(n)
                      if b.kind is PartKind.DIODE]  # fmt: skip
            plus = {b.b for b in diodes if b.a in fed}
            minus = {b.a for b in diodes if b.b in fed}
            for upper in _charged(circuit, plus):
                for lower in _charged(circuit, minus):
                    yield _Doubler(upper, lower, GROUND, f"{winding.name}.{lead}")


def _charged(circuit: Circuit, ends: set[str]) -> Iterator[Branch]:
    for end in sorted(ends - set(LANDMARKS)):
        yield from (b for b in circuit.at(end) if _large(b) and b.other(end) == GROUND)


def _unused(circuit: Circuit, capacitor: Branch, end: str) -> bool:
    """Whether nothing but the diode and what drains the capacitor is on its outer end."""
    others = (b for b in circuit.at(end) if b is not capacitor and b.kind is not PartKind.DIODE)
    drains = all(b.kind is PartKind.RESISTOR and b.other(end) == GROUND for b in others)
    return drains and not circuit.electrodes_at(end)


def _off(case: Case, doubler: _Doubler, unused: Branch) -> Outcome:
    used = doubler.lower if unused is doubler.upper else doubler.upper
    end, rail = (own_text(case.circuit, doubler.ends[b]) for b in (unused, used))
    farads = unused.farads or 0.0
    return doubler_off_its_end.finding(
        case,
        (doubler.lead, unused.name, end),
        f"{doubler.lead}, the middle of the doubler of {doubler.upper.name} and "
        f"{doubler.lower.name}, is on gnd: {rail} has half of its voltage, and nothing uses the "
        f"other half, {engineering(farads, 'F')} at {end}",
        f"Take gnd from {doubler.lead} to {end}, and see that the winding's insulation and "
        f"everything on {rail} stand twice the voltage",
        evidence={"unused": end},
        certainty="likely",
    )


RULES: tuple[Rule, ...] = (choke_unfiltered, doubler_off_its_end)
