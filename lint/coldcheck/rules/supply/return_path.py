"""Rectifiers whose current has no way round: an output on nothing, a winding without return."""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_never

from coldcheck.anatomy.reach import CATHODES, reach
from coldcheck.anatomy.rectifiers import rectifier_tubes
from coldcheck.circuit.kinds import TRAITS
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit, Section, Winding
    from coldcheck.judge.finding import Finding, Outcome

SWITCHES = frozenset(kind for kind, traits in TRAITS.items() if traits.by_hand)


@rule(
    "supply.open-rectifier",
    title="Rectifier whose current has no return path",
    level="notice",
    states="the drawing alone; switches count as closed",
    needs="the wiring of the rectifier and its winding; no values",
    criterion=(
        "Nothing is wired to the output of a rectifier tube whose plates are; or rectifiers lead "
        "current out of a winding (or into it) and neither a wire, a part nor a rectifier the "
        "other way brings it back."
    ),
    why=(
        "Rectified current runs in a ring: winding, rectifier, load, and back to the winding, by "
        "the tap or through the other diodes of a bridge. With the return forgotten, or the "
        "output taken from the wrong pin, there is no supply, and the winding hangs in the air "
        "at whatever voltage leaks give it."
    ),
    source=(PRACTICE, Citation("arithmetic", "Kirchhoff's current law")),
    limits=(
        "Judged on the wiring: a winding that is joined but broken inside cannot be seen in a "
        "drawing."
    ),
)
def open_rectifier(case: Case) -> Iterator[Outcome]:
    """Every rectifier has something on its output, every rectified winding a return."""
    for tube, section in rectifier_tubes(case.circuit):
        if not _has_output(case.circuit, section):
            yield _no_output(case, tube.name, section)
    for winding in case.circuit.windings():
        if not winding.primary:
            ways = _Ways.of(case.circuit, winding)
            if ways.one_way:
                yield _no_return(case, winding, ways)


def _has_output(circuit: Circuit, section: Section) -> bool:
    """Whether anything but its own filament winding is on the cathode's side."""
    nets = frozenset(reach(circuit, section.cathode_nets, LANDMARKS, SWITCHES))
    if nets & frozenset(LANDMARKS):
        return True
    branches = [
        b for n in nets for b in circuit.at(n) if b.kind not in (PartKind.WINDING, PartKind.HEATER)
    ]
    electrodes = [s for n in nets for s, _ in circuit.electrodes_at(n) if s.tube != section.tube]
    return bool(branches or electrodes)


def _no_output(case: Case, name: str, section: Section) -> Finding:
    leads = [e for e in section.electrodes if e in CATHODES]
    return open_rectifier.finding(
        case,
        (name,),
        f"{name}: nothing is wired to its {listed(leads[:1])}, where a rectifier gives its output",
        f"Take the B+ from {name}.{leads[0]}; where pins are given by number, check them against "
        "the tube's base",
        certainty="certain",
    )


@dataclass(frozen=True, slots=True)
class _Ways:
    """How current can leave and enter what hangs together with a winding."""

    nets: frozenset[str]
    leaving: tuple[str, ...]
    entering: tuple[str, ...]
    other: bool
    """A return of another kind: gnd or another landmark, a capacitor, a source."""

    @classmethod
    def of(cls, circuit: Circuit, winding: Winding) -> _Ways:
        nets = frozenset(reach(circuit, winding.nets, LANDMARKS, SWITCHES))
        at = {b.name for n in nets for b in circuit.at(n)}
        branches = [b for b in circuit.branches.values() if b.name in at]
        leaving = [
            b.name for b in branches if b.kind is PartKind.DIODE and b.a in nets and b.b not in nets
        ]
        entering = [
            b.name for b in branches if b.kind is PartKind.DIODE and b.b in nets and b.a not in nets
        ]
        cathodes: list[str] = []
        for net in sorted(nets):
            for section, electrode in circuit.electrodes_at(net):
                if electrode in CATHODES:
                    cathodes.append(section.tube)
                elif section.kind is SectionKind.RECTIFIER or electrode in ("plate", "screen"):
                    leaving.append(section.tube)
        across = any(_crosses(b.kind) and len({b.a, b.b} & nets) == 1 for b in branches)
        # A filament winding only carries the output of its rectifier; its load is looked at apart.
        entering += cathodes if leaving else []
        other = across or bool(nets & frozenset(LANDMARKS))
        return cls(nets, tuple(dict.fromkeys(leaving)), tuple(dict.fromkeys(entering)), other)

    @property
    def one_way(self) -> bool:
        """Whether rectifiers are on it in one direction only, and nothing else is."""
        return not self.other and bool(self.leaving) != bool(self.entering)


def _no_return(case: Case, winding: Winding, ways: _Ways) -> Finding:
    rectifiers = ways.leaving or ways.entering
    lead, used = _return_lead(case.circuit, winding)
    verb = "leads current out of" if ways.leaving else "leads current into"
    verb = verb if len(rectifiers) == 1 else verb.replace("leads", "lead")
    return open_rectifier.finding(
        case,
        (winding.name, *rectifiers),
        f"{listed(rectifiers)} {verb} {winding.name} and nothing brings it back: "
        f"{winding.name}.{lead} {'has no return' if used else 'is not wired'}",
        f"Join {winding.name}.{lead} to {GROUND}, the return of the rectified current, or make it "
        "a bridge with two more rectifiers",
        evidence={"rectifiers": listed(rectifiers), "open_lead": f"{winding.name}.{lead}"},
        certainty="certain",
        blame=None if used else Blame.SLIP,
    )


def _return_lead(circuit: Circuit, winding: Winding) -> tuple[str, bool]:
    """The lead the return belongs on, and whether anything is on it: a free one, the tap first."""
    used, _, _, lead = min(
        (_used(circuit, net), _rectified(circuit, net), lead != "ct", lead)
        for lead, net in winding.leads
    )
    return lead, used


def _rectified(circuit: Circuit, net: str) -> bool:
    """Whether a rectifier is right on a lead."""
    diodes = any(b.kind is PartKind.DIODE for b in circuit.at(net))
    return diodes or bool(circuit.electrodes_at(net))


def _used(circuit: Circuit, net: str) -> bool:
    """Whether anything but the winding itself is on a lead."""
    others = [b for b in circuit.at(net) if b.kind is not PartKind.WINDING]
    return net in LANDMARKS or bool(others) or bool(circuit.electrodes_at(net))


RULES = (open_rectifier,)


def _crosses(kind: PartKind) -> bool:
    """Whether current may come and go through it that no conductor carries."""
    match kind:
        case (
            PartKind.CAPACITOR | PartKind.SOURCE | PartKind.SIGNAL
        ):  # fmt: skip
            return True
        case (
            PartKind.RESISTOR | PartKind.INDUCTOR | PartKind.DIODE | PartKind.LED
            | PartKind.ZENER | PartKind.FUSE | PartKind.SWITCH | PartKind.THERMISTOR
            | PartKind.BARRETTER | PartKind.PHOTOCELL
            | PartKind.LAMP | PartKind.SPEAKER | PartKind.JACK
            | PartKind.ARRESTER | PartKind.THYRISTOR | PartKind.TRIGGER | PartKind.VIBRATOR
            | PartKind.CRYSTAL | PartKind.HEATER
            | PartKind.WINDING | PartKind.POT | PartKind.CONTACT | PartKind.JACK_CONTACT
            | PartKind.PLUG
            | PartKind.RELAY | PartKind.METER
            | PartKind.CHANNEL | PartKind.GATE | PartKind.BASE
        ):  # fmt: skip
            return False
        case _:
            assert_never(kind)
