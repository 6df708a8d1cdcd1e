"""Rectifiers filled with mercury vapour or gas: what they ask for beyond a vacuum tube."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy import galvanic, rectifiers
from coldcheck.anatomy.galvanic import poles, upstream
from coldcheck.anatomy.neighbourhood import own_text
from coldcheck.anatomy.rectifiers import first_capacitors, rectifier_tubes
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.tubes_types import VACUUM
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import listed, ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section, Transformer, Tube
    from coldcheck.judge.finding import Outcome

SHARING_OHM = Threshold(
    "resistance in each plate that shares the current",
    50.0,
    "ohm",
    Citation("transmitting-manual", "50 to 100 ohm"),
)
DELAY_S = 30.0
LARGE_F = Threshold("capacitance right on a mercury rectifier", 1e-6, "F", PRACTICE)
SWITCHES = ("switch", "contact")


def gas_rectifiers(circuit: Circuit) -> Iterator[tuple[Tube, Section]]:
    """Rectifier tubes whose data file gives mercury vapour or gas as their filling."""
    for tube, section in rectifier_tubes(circuit):
        if tube.type.filling != VACUUM:
            yield tube, section


@rule(
    "supply.mercury-rectifier",
    title="Mercury-vapour rectifier without choke input or preheating",
    level="caution",
    states="the drawing alone",
    needs="the filling of the rectifier, from its data file",
    criterion=(
        "A capacitor of 1 uF or more stands right on the output of a mercury-vapour rectifier; or "
        "nothing (no switch but the power switch) can hold the high voltage back for the 30 s its "
        "filament takes. For types whose sheet gives a capacitor-input rating both are advice, "
        "but a notice where there is a second switch, and it feeds the filament's primary "
        "together with the plates'."
    ),
    why=(
        "With cold mercury, or in the gulps of a capacitor, the arc strikes back in the wrong half "
        "of the cycle: the winding is shorted through the tube, with a flash and flying glass "
        "at the worst."
    ),
    source=(Citation("web-mercury", "30 s of delay, choke first"), Citation("type-sheet")),
    limits=(
        "A delay relay is drawn as a switch in the tap, in the plate leads or in the primary of a "
        "transformer of its own; what works it, and for how long, is not seen. The temperature of "
        "the bulb is not reckoned."
    ),
    thresholds=(
        LARGE_F,
        galvanic.SERIES_OHM,
        rectifiers.BLEEDER_OHM,
        rectifiers.FILAMENT_V,
        rectifiers.HIGH_V,
        rectifiers.NEAR_OHM,
    ),
)
def mercury_rectifier(case: Case) -> Iterator[Outcome]:
    """Look at the filter's first part and at what could delay the plates."""
    groups: dict[_Faults, list[str]] = {}
    for tube, section in gas_rectifiers(case.circuit):
        delayed = _delayed(case.circuit, section)
        if delayed is None:
            text = "how its plates and its filament are switched is not drawn"
            yield mercury_rectifier.not_judged((tube.name,), text)
        found = first_capacitors(case.circuit, section)
        large = tuple(b.name for b, f in found if f >= LARGE_F.value)
        if large or delayed is False:
            late = _late(case.circuit, section) if delayed is False else None
            faults = _Faults(tube.type.name, _allowed(tube), large, delayed is not False, late)
            groups.setdefault(faults, []).append(tube.name)
    yield from (_impatient(case, faults, names) for faults, names in groups.items())


@dataclass(frozen=True, slots=True)
class _Faults:
    """What is wrong around a mercury rectifier; tubes alike in it are told together."""

    type: str
    allowed: bool
    large: tuple[str, ...]
    delayed: bool
    late: _Late | None = None


@dataclass(frozen=True, slots=True)
class _Late:
    """A second switch that was to hold the plates back, with the filament behind it too."""

    switch: str
    filament: tuple[str, ...]
    ahead: str


def _allowed(tube: Tube) -> bool:
    """Whether its sheet gives a rating with a capacitor first."""
    return tube.type.rating("supply-rms-capacitor-input") is not None


def _impatient(case: Case, faults: _Faults, names: list[str]) -> Outcome:
    what, cures = [], []
    if faults.large:
        what.append(f"{listed(faults.large)} stands right on the output")
        cures.append("put a choke first")
    late = faults.late
    if late is not None:
        what.append(
            f"{listed(late.filament)} takes its filament's primary from behind {late.switch}, as "
            "the plates' is: both come on together"
        )
        cures.append(
            f"take {listed(late.filament)} to {late.ahead}, ahead of {late.switch}, so that the "
            f"filament heats for {DELAY_S:.0f} s before {late.switch} is closed"
        )
    elif not faults.delayed:
        what.append("the plates get their voltage together with the filament")
        cures.append(
            f"put a switch or delay relay of {DELAY_S:.0f} s into the primary of a "
            "transformer for "
            "the high voltage alone, or into the tap"
        )
    cure = " and ".join(cures)
    return mercury_rectifier.finding(
        case,
        (*((*late.filament, late.switch) if late else ()), *names, *faults.large),
        f"{listed(names)} (mercury vapour, {faults.type}): {' and '.join(what)}",
        cure[:1].upper() + cure[1:],
        level="caution" if not faults.allowed else "notice" if late else "advice",
        blame=Blame.EFFECT if late is None else Blame.SLIP,
        evidence={"first_capacitor": listed(faults.large) or "none"},
        limit=figure(DELAY_S, "s"),
        certainty="certain",
    )


def _delayed(circuit: Circuit, section: Section) -> bool | None:
    """Whether a switch can hold the plates back; ``None`` where the primaries are not drawn."""
    plates = {section.electrodes[p] for p in section.plates}
    windings = [
        w for w in circuit.windings() if not w.primary and _joined(circuit, set(w.nets), plates)
    ]
    nets = plates | {n for w in windings for n in w.nets}
    if any(b.traits.by_hand for n in nets - {GROUND} for b in circuit.at(n)):
        return True
    heated = _heater_nets(circuit, section)
    ours = [t for t in circuit.transformers.values() if _has(t, {w.name for w in windings})]
    heating = [
        t for t in circuit.transformers.values() if any(heated & set(w.nets) for w in t.secondaries)
    ]
    if any(t in heating for t in ours):
        return False
    if not ours or not heating or not all(t.wired for t in (*ours, *heating)):
        return None
    owners = dict.fromkeys(b.owner for b in circuit.branches.values() if b.traits.by_hand)
    return any(
        all(_fed(circuit, t, o) for t in heating) and not any(_fed(circuit, t, o) for t in ours)
        for o in owners
    )


def _late(circuit: Circuit, section: Section) -> _Late | None:
    """The switch farthest from the mains that cuts off all transformers, where it is not alone.

    And what takes the filament's primary from behind it, where the plates' is fed apart from that.
    """
    heated = _heater_nets(circuit, section)
    heating = [t for t in circuit.transformers.values()
               if any(heated & set(w.nets) for w in t.secondaries)]  # fmt: skip
    others = [t for t in circuit.transformers.values() if t not in heating and t.wired]
    owners = dict.fromkeys(b.owner for b in circuit.branches.values() if b.traits.by_hand)
    cut = [o for o in owners if not any(_fed(circuit, t, o) for t in (*heating, *others))]
    if len(cut) < 2 or len(heating) != 1 or not others:
        return None
    last = max(cut, key=lambda o: len(_reached(circuit, o)))
    return _behind(circuit, last, heating[0])


def _behind(circuit: Circuit, switch: str, heating: Transformer) -> _Late | None:
    """What leads from behind a switch to the one primary, and the point ahead of the switch."""
    alive = _reached(circuit, switch)
    primary = {w.name: set(w.nets) for w in heating.primaries}
    nets = set().union(*primary.values())
    for contact in circuit.branches.values():
        ends = {contact.a, contact.b}
        if contact.owner != switch or len(ends & alive) != 1:
            continue
        (ahead,), (net,) = ends & alive, ends - alive
        series = [b for b in circuit.at(net) if b.owner != switch and b.other(net) in nets
                  and (b.kind is PartKind.RESISTOR or b.kind is PartKind.FUSE)]  # fmt: skip
        own = [f"{w.name}.{x}" for w in heating.primaries for x, n in w.leads if n == net]
        if series or own:
            names = tuple(b.name for b in series) or tuple(own)
            return _Late(switch, names, own_text(circuit, ahead))
    return None


def _has(transformer: Transformer, names: set[str]) -> bool:
    return any(w.name in names for w in transformer.secondaries)


def _fed(circuit: Circuit, transformer: Transformer, opened: str) -> bool:
    """Whether a primary still has both mains leads with one switch open."""
    reached = _reached(circuit, opened)
    return all(w.nets[0] in reached and w.nets[-1] in reached for w in transformer.primaries)


def _reached(circuit: Circuit, opened: str) -> frozenset[str]:
    """The nets that have the mains with one switch open."""
    without = circuit.without({opened})
    return frozenset().union(*(upstream(without, n, through_fuses=True) for n in poles(without)))


def _joined(circuit: Circuit, nets: set[str], plates: set[str]) -> bool:
    """Whether a winding feeds the plates, straight or through a switch, fuse or resistor."""
    if nets & plates:
        return True
    return any(
        b.other(p) in nets
        for p in plates
        for b in circuit.at(p)
        if b.traits.by_hand or b.kind in (PartKind.FUSE, PartKind.RESISTOR)
    )


def _heater_nets(circuit: Circuit, section: Section) -> set[str]:
    heater = circuit.tubes[section.tube].heater
    return set(heater.nets) if heater is not None else set()


@rule(
    "supply.rectifiers-paralleled",
    title="Gas rectifiers in parallel without resistors",
    level="caution",
    states="the drawing alone",
    needs="the filling of the rectifiers, from their data files",
    criterion=(
        "Two or more plates of mercury-vapour or gas rectifiers with a common cathode are fed from "
        "one point, and a plate has less than 50 ohm of its own in series."
    ),
    why=(
        "The drop of a gas tube is the same at any current. The one that strikes first holds the "
        "voltage below what the other needs to start: it carries everything and dies first, and "
        "the next one after it."
    ),
    source=Citation("transmitting-manual", "50 to 100 ohm in each plate"),
    limits=(
        "Vacuum rectifiers share by themselves and are not judged. Balancing chokes in place of "
        "resistors are taken as absent."
    ),
    thresholds=(SHARING_OHM,),
)
def rectifiers_paralleled(case: Case) -> Iterator[Outcome]:
    """Group gas-filled plates by the point that feeds them and the cathode they feed."""
    groups: dict[tuple[str, tuple[str, ...]], list[tuple[str, float]]] = {}
    for tube, section in gas_rectifiers(case.circuit):
        for plate in section.plates:
            point, own = _fed_from(case.circuit, section.electrodes[plate])
            key = (point, tuple(sorted(section.cathode_nets)))
            groups.setdefault(key, []).append((f"{tube.name}.{plate}", own))
    for found in groups.values():
        least = min(own for _, own in found)
        if len(found) > 1 and least < SHARING_OHM.value:
            names = tuple(name for name, _ in found)
            yield rectifiers_paralleled.finding(
                case,
                names,
                f"{listed(names)} are in parallel with {ohms(least)} of their own: the first to "
                "strike carries everything",
                "Put 50 to 100 ohm in series with each plate",
                evidence={"resistor": figure(least, "ohm")},
                limit=SHARING_OHM.figure,
                certainty="certain",
                excess=SHARING_OHM.value / max(least, 1.0),
            )


def _fed_from(circuit: Circuit, net: str) -> tuple[str, float]:
    """The point a plate is fed from and the ohms of a resistor that is its alone."""
    near: list[Branch] = circuit.at(net)
    if (
        len(near) == 1
        and near[0].kind is PartKind.RESISTOR
        and len(circuit.electrodes_at(net)) == 1
    ):
        return near[0].other(net), si(near[0].value, "ohm") or 0.0
    return net, 0.0


RULES = (
    mercury_rectifier,
    rectifiers_paralleled,
)
