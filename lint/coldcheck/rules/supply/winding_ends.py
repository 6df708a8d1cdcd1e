"""Ends and taps of a supply winding on a pin that is no plate, or between two capacitors."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import own_text, wired
from coldcheck.anatomy.roads import wired_to
from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import listed
from coldcheck.judge.finding import Blame
from coldcheck.judge.limits import SUPPLY_WINDING_V
from coldcheck.judge.rule import rule
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section, Winding
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule


@rule(
    "supply.winding-on-wrong-pin",
    title="End of the plate winding on a pin that is no plate",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the wiring of a rectifier with two plates",
    criterion="One plate of a rectifier tube is on an end of a tapped winding of "
    f"{SUPPLY_WINDING_V.value:g} V or more; the other plate has nothing on it, and the winding's "
    "other end is on another pin of the same tube, or on its cathode.",
    why="A pin counted wrongly, or from the wrong side. On an empty pin the set runs on half the "
    "winding; on the filament or the cathode the winding is shorted through the one plate that is "
    "left, and puts its AC on the first capacitor.",
    source=(PRACTICE, Citation("type-sheet", "the base")),
    limits="A winding without a tap is left alone: tubes of a bridge have an end on a cathode.",
    thresholds=(SUPPLY_WINDING_V,),
)
def winding_on_wrong_pin(case: Case) -> Iterator[Outcome]:
    """Look at rectifiers with a plate to spare."""
    circuit = case.circuit
    for section in circuit.sections():
        plates = section.plates if section.kind is SectionKind.RECTIFIER else ()
        free = [p for p in plates if not wired(circuit, section.net(p))]
        used = [p for p in plates if p not in free]
        for winding in _tapped(circuit) if len(free) == len(used) == 1 else ():
            end = _other_end(circuit, winding, section.electrodes[used[0]])
            pin = None if end is None else _on_the_tube(circuit, section, f"{winding.name}.{end}")
            if end is not None and pin is not None:
                yield _wrong_pin(case, section, free[0], (f"{winding.name}.{end}", pin))


def _tapped(circuit: Circuit) -> Iterator[Winding]:
    for winding in circuit.windings():
        high = (si(winding.volts, "volt") or 0.0) >= SUPPLY_WINDING_V.value
        if high and not winding.primary and {"1", "ct", "2"} <= {lead for lead, _ in winding.leads}:
            yield winding


def _other_end(circuit: Circuit, winding: Winding, net: str) -> str | None:
    """The end of a winding that a net is not on, where it is on one of them."""
    leads, near = dict(winding.leads), wired_to(circuit, net)
    on = [x for x in ("1", "2") if leads[x] in near]
    return {"1": "2", "2": "1"}[on[0]] if len(on) == 1 else None


def _on_the_tube(circuit: Circuit, section: Section, lead: str) -> str | None:
    """The pin or lead of a tube that a winding's end is on by wire or fuse."""
    near = wired_to(circuit, circuit.points[lead]) - set(LANDMARKS)
    names = [n for net in sorted(near) for n in circuit.names.get(net, ())]
    pins = [n for n in names if n.startswith(f"{section.tube}:")]
    on = set(section.cathode_nets) & near
    leads = (
        [n for n in names if n.startswith((f"{section.tube}.", f"{section.name}."))] if on else []
    )
    return next(iter((*pins, *leads)), None)


def _wrong_pin(case: Case, section: Section, free: str, at: tuple[str, str]) -> Finding:
    lead, pin = at
    tube = case.circuit.tubes[section.tube]
    number = next((p for p, (s, e) in tube.type.pins.items() if e == free), None)
    plate = f"{tube.name}.{free}" + (f" (pin {number})" if number else "")
    return winding_on_wrong_pin.finding(
        case,
        (lead, tube.name, pin),
        f"{lead} is on {pin}, which is no plate of {tube.name} ({tube.type.name}), and "
        f"{plate} has nothing on it",
        f"Take {lead} from {pin} to {plate}",
        evidence={"free": plate},
        certainty="certain",
    )


@rule(
    "supply.tap-on-middle",
    title="Centre tap on the middle of two reservoir capacitors",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the wiring of winding, rectifiers and capacitors",
    criterion="The tap of a winding of "
    f"{SUPPLY_WINDING_V.value:g} V or more is on the point at which the - of one electrolytic and "
    "the + of another meet; its ends lead through rectifiers to the upper one's +, and no "
    "rectifier leads from the lower one's - to an end of the winding.",
    why="With a tap the whole voltage is between the rectifiers and the tap. On the middle it "
    "charges the upper capacitor alone, to all of it; what the set draws has to come back to the "
    "tap through the lower one, and charges that the wrong way round.",
    source=PRACTICE,
    limits="In a bridge with the tap on the middle, and in a doubler, a rectifier leads up from "
    "the lower end as well: these are in order.",
    thresholds=(SUPPLY_WINDING_V,),
)
def tap_on_middle(case: Case) -> Iterator[Outcome]:
    """Look at what is on each tap."""
    circuit = case.circuit
    for winding in _tapped(circuit):
        tap = dict(winding.leads)["ct"]
        cans = [b for b in circuit.at(tap) if b.kind is PartKind.CAPACITOR and b.plus is not None]
        upper = [b for b in cans if b.plus != tap]
        lower = [b for b in cans if b.plus == tap]
        if tap in LANDMARKS or len(upper) != 1 or len(lower) != 1:
            continue
        top, bottom = upper[0].other(tap), lower[0].other(tap)
        ends = {n for x in ("1", "2") for n in wired_to(circuit, dict(winding.leads)[x])}
        if _rectifies(circuit, ends, top) and not _rectifies(circuit, {bottom}, *ends):
            yield _on_middle(case, winding, upper[0], lower[0])


def _rectifies(circuit: Circuit, starts: set[str], *goals: str) -> bool:
    """Whether rectifiers, one or more in a row, lead from one of some nets to one of others."""
    seen, todo = set(starts), list(starts)
    while todo:
        net = todo.pop()
        on = [b.b for b in circuit.at(net) if b.kind is PartKind.DIODE and b.a == net]
        tubes = [s for s, e in circuit.electrodes_at(net)
                 if s.kind is SectionKind.RECTIFIER and e in s.plates]  # fmt: skip
        on += [n for s in tubes for n in s.cathode_nets]
        if set(goals) & set(on):
            return True
        new = set(on) - seen - set(LANDMARKS)
        seen |= new
        todo += new
    return False


def _on_middle(case: Case, winding: Winding, upper: Branch, lower: Branch) -> Finding:
    circuit, tap = case.circuit, f"{winding.name}.ct"
    middle = circuit.points[tap]
    low = lower.other(middle)
    bottom = low if low in LANDMARKS else own_text(circuit, low)
    both = listed((upper.name, lower.name))
    return tap_on_middle.finding(
        case,
        (tap, own_text(circuit, middle), upper.name, lower.name),
        f"{tap} is on the middle of {both}, as in a doubler, and no rectifier leads up from "
        f"{bottom}: {lower.name} is charged the wrong way round by all that the set draws",
        f"Take {tap} off the middle and to {bottom}; the middle keeps the two capacitors and what "
        "balances them",
        evidence={"middle": own_text(circuit, middle)},
        certainty="certain",
    )


RULES: tuple[Rule, ...] = (winding_on_wrong_pin, tap_on_middle)
