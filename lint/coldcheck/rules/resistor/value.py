"""Resistors whose value does not suit their place: mostly a lost or doubled k."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy import grid_kinds, supplies
from coldcheck.anatomy.bias_network import outside
from coldcheck.anatomy.case import warm_volts
from coldcheck.anatomy.coupling import steers_its_tail
from coldcheck.anatomy.grid_kinds import around, is_power_tube
from coldcheck.anatomy.jacks import key_at
from coldcheck.anatomy.neighbourhood import net_text, ohms_between
from coldcheck.anatomy.ordinary import place_of
from coldcheck.anatomy.reach import reach
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.rules.resistor.at_an_end import LEAST_SHARE, MOST_SHARE, at_an_end
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.rules.resistor.at_an_end import AtAnEnd

SHARE = Threshold("grid leak as a share of the plate load ahead of it", 0.1, "", PRACTICE)
"""A grid leak below a tenth of the plate load ahead of it leaves no gain (common practice)."""

LEAST_LOAD_OHM = Threshold("smallest plate resistor", 1e3, "ohm", PRACTICE)
LEAST_LEAK_OHM = Threshold("smallest grid leak", 1e3, "ohm", PRACTICE)
LEAST_CATHODE_OHM = Threshold("smallest cathode resistor", 20.0, "ohm", PRACTICE)
MOST_CATHODE_OHM = Threshold("largest cathode resistor", 470e3, "ohm", PRACTICE)
FEEDBACK_OHM = Threshold("resistor below a cathode that takes feedback", 150.0, "ohm", PRACTICE)
QUIET_V = Threshold("bias of a grid that only its cathode biases", 0.5, "V", PRACTICE)
"""A grid this near to gnd is not biased by anything but its own cathode."""

LIKELY_CATHODE = (220.0, 10e3)
LIKELY_LEAK = (47e3, 2.2e6)
LIKELY_DRAIN = (4.7e3, 2.2e6)
LEAST_OUTPUT_OHM = Threshold(
    "smallest resistor to gnd at an output",
    470.0,
    "ohm",
    Citation("practice", "600 ohm lines; headphones are written as speakers"),
)
"""No line or headphone amplifier is made for a resistor below this at its output (memory: 600 ohm
lines; headphones are written as speakers)."""

LIKELY_LOAD = (10e3, 470e3)
COUPLING_F = Threshold("smallest coupling capacitor", 1e-9, "F", PRACTICE)
BYPASS_F = Threshold("smallest bypass capacitor", 1e-6, "F", PRACTICE)


@dataclass(frozen=True, slots=True)
class _Coupling:
    """A stage that hands on through a capacitor: its plate, its load, and the net behind."""

    section: Section
    load: Branch
    capacitor: Branch
    behind: str

    @property
    def load_ohms(self) -> float:
        """The plate resistor, ohms."""
        return self.load.ohms or 0.0


@rule(
    "resistor.unlikely-value",
    title="Resistor value that does not suit its place",
    level="notice",
    states="the drawing alone",
    needs="the values of plate, grid and cathode resistors; for cathodes a solved warm state",
    criterion=(
        f"A grid leak behind a coupling capacitor is below {SHARE.value:g} of the plate resistor "
        "ahead "
        f"of it, or below {LEAST_LEAK_OHM.value / 1e3:g} kohm wherever the capacitor comes from; "
        "or a "
        f"plate resistor with a coupling capacitor on it is below {LEAST_LOAD_OHM.value / 1e3:g} "
        "kohm; "
        "or so where the next grid hangs on the plate itself; or an output behind a coupling "
        f"capacitor has a resistor below {LEAST_OUTPUT_OHM.value:g} ohm to gnd; "
        "or the cathode resistor of a small tube whose grid is not biased is below "
        f"{LEAST_CATHODE_OHM.value:g} ohm or above {MOST_CATHODE_OHM.value / 1e3:g} kohm; or a "
        f"resistance-coupled stage leaves its tube less than {100 * LEAST_SHARE.value:g} % or more "
        f"than {100 * MOST_SHARE.value:g} % of what feeds it, and one of its resistors is out of "
        "the usual where a decade more or less is not."
    ),
    why=(
        "470 for 470k is the commonest slip in copying a drawing. Nothing burns, all voltages "
        "are right, and the set is silent: the stage works into what is nearly a short."
    ),
    source=Citation(
        "practice",
        "plate loads of 47 to 470 kohm, grid leaks of 220 kohm to 1 Mohm, "
        "cathode resistors of 220 ohm to 10 kohm",
    ),
    limits="Stages at work in the middle of their range are left alone, whatever their values. "
    "Radio-frequency couplings below 1 nF and stages with a coil in the grid circuit are, too.",
    thresholds=(
        BYPASS_F,
        COUPLING_F,
        FEEDBACK_OHM,
        LEAST_CATHODE_OHM,
        LEAST_LEAK_OHM,
        LEAST_LOAD_OHM,
        LEAST_OUTPUT_OHM,
        LEAST_SHARE,
        MOST_CATHODE_OHM,
        MOST_SHARE,
        QUIET_V,
        SHARE,
        grid_kinds.POWER_WATTS,
        supplies.FILTER_F,
        supplies.SERIES_OHMS,
    ),
)
def unlikely_value(case: Case) -> Iterator[Outcome]:
    """Look at every place by its values, and then at what stands at an end for another reason."""
    told = list(_by_place(case))
    yield from told
    yield from (_decade(case, x) for x in at_an_end(case) if not _named(told, x))


def _by_place(case: Case) -> Iterator[Finding]:
    """Look at both sides of every coupling capacitor, at plates, outputs and cathodes."""
    done: set[str] = set()
    for coupling in _couplings(case.circuit):
        if coupling.load_ohms < LEAST_LOAD_OHM.value:
            if coupling.load.name not in done:
                yield _small_load(case, coupling)
            done.add(coupling.load.name)
            continue
        leak = _leak(case.circuit, coupling.behind)
        if leak is not None and leak < SHARE.value * coupling.load_ohms:
            yield _small_leak(case, coupling, leak)
    seen = {c.behind for c in _couplings(case.circuit)}
    yield from _leaks_behind_capacitors(case, seen)
    yield from _direct(case, done)
    yield from _outputs(case)
    yield from _cathodes(case)


def _named(findings: list[Finding], found: AtAnEnd) -> bool:
    return any(found.part.name in f.at for f in findings)


def _decade(case: Case, found: AtAnEnd) -> Finding:
    name, place = found.part.name, place_of(case.circuit, found.part)
    where = "resistor" if place is None else place.value
    end = (
        "its plate stands near the supply"
        if found.share > MOST_SHARE.value
        else "its plate is down"
    )
    return unlikely_value.finding(
        case,
        (name, found.section.name),
        f"{name}: {ohms(found.value)} is out of the usual for the {where} of {found.section.name}, "
        f"and {end}: {100 * found.share:.0f} % of what feeds it",
        f"Look at the original again: {ohms(found.meant)} would suit",
        state="warm",
        evidence={"value": figure(found.value, "ohm"), "meant": figure(found.meant, "ohm")},
        certainty="likely",
    )


def _direct(case: Case, done: set[str]) -> Iterator[Finding]:
    """Plate resistors of a few ohms where the next grid hangs on the plate itself."""
    circuit = case.circuit
    grids = {s.electrodes["grid"]: s for _, s in working(circuit) if "grid" in s.electrodes}
    cathodes = {n for _, s in working(circuit) for n in s.cathode_nets}
    for _, section in working(circuit):
        plate = section.net("plate")
        at = circuit.at(plate) if plate is not None and plate not in LANDMARKS else ()
        loads = [b for b in at if _is_load(b) and b.other(plate or "") not in grids]
        near = {plate or ""} | {b.other(plate or "") for b in at if b.kind is PartKind.RESISTOR}
        behind = [grids[n] for n in near if n in grids and grids[n].name != section.name]
        value = si(loads[0].value, "ohm") if len(loads) == 1 and behind else None
        if value is None or value >= LEAST_LOAD_OHM.value or loads[0].name in done:
            continue
        if plate not in cathodes and loads[0].other(plate or "") not in cathodes:
            yield _no_load(case, loads[0], value, section, behind[0])


def _no_load(case: Case, load: Branch, value: float, section: Section, behind: Section) -> Finding:
    return unlikely_value.finding(
        case,
        (load.name,),
        f"{load.name}: {ohms(value)} is no load for the plate of {section.name}, on which the grid "
        f"of {behind.name} hangs",
        _meant(load, LIKELY_LOAD) or "Use a plate resistor of 47 to 470 kohm",
        evidence={"load": figure(value, "ohm")},
        limit=LEAST_LOAD_OHM.figure,
        excess=LEAST_LOAD_OHM.value / max(value, 1e-3),
    )


def _outputs(case: Case) -> Iterator[Finding]:
    """Outputs behind a coupling capacitor with hardly any resistance to gnd."""
    fixed, done = {*outside(case.circuit), *LANDMARKS}, set[str]()
    for _, section in working(case.circuit):
        for electrode in ("plate", "cathode"):
            net = section.net(electrode)
            if net is None or net in LANDMARKS or key_at(case.circuit, net) is not None:
                continue  # at a key it is what keeps the contact from clicking
            for branch in case.circuit.at(net):
                far = branch.other(net)
                farads = branch.farads if branch.kind is PartKind.CAPACITOR else None
                if far in fixed or far in done or (farads or 0.0) < COUPLING_F.value:
                    continue
                done.add(far)
                yield from _short_output(case, section, far)


def _short_output(case: Case, section: Section, net: str) -> Iterator[Finding]:
    at = case.circuit.at(net)
    low = [
        b
        for b in at
        if b.kind is PartKind.RESISTOR and b.other(net) == GROUND and b.value is not None
    ]
    if case.circuit.electrodes_at(net) or any(b.traits.coil for b in at):
        return
    if any(b.traits.steady and b.other(net) != GROUND for b in at):
        return  # a feedback point behind a cathode's bypass, or an equaliser
    for branch in low:
        value = branch.ohms or 0.0
        if value < LEAST_OUTPUT_OHM.value:
            yield unlikely_value.finding(
                case,
                (branch.name,),
                f"{branch.name}: {ohms(value)} to gnd at the output of {section.name} leaves "
                "hardly any signal",
                _meant(branch, LIKELY_DRAIN) or "Use 10 kohm to 1 Mohm to gnd at an output",
                evidence={"grid leak": figure(value, "ohm")},
                limit=LEAST_OUTPUT_OHM.figure,
                excess=LEAST_OUTPUT_OHM.value / max(value, 1e-3),
            )


def _leaks_behind_capacitors(case: Case, seen: set[str]) -> Iterator[Finding]:
    """Grid leaks of a few ohms behind a capacitor from anywhere (an input, another sheet)."""
    fixed = {*outside(case.circuit), *LANDMARKS, *_tails(case.circuit)}
    for _, section in working(case.circuit):
        net = section.net("grid")
        for near in reach(case.circuit, [net], fixed) if net is not None else ():
            if near in fixed or near in seen or not _coupled(case.circuit, near):
                continue
            seen.add(near)
            at = [b for b in case.circuit.at(near) if b.traits.steady and b.value]
            leak = _leak(case.circuit, near)
            if at and leak is not None and leak < LEAST_LEAK_OHM.value:
                part = min(at, key=lambda b: b.ohms or 0.0)
                yield _short_input(case, section, part, leak)


def _tails(circuit: Circuit) -> set[str]:
    """What is a resistor below cathodes that share it: a leak ends there, no signal is lost in it.

    A tail with feedback brought to its foot has few ohms to gnd, and means to.
    """
    cathodes = {n for _, s in working(circuit) for n in s.cathode_nets}
    shared = [n for n in cathodes if len(circuit.electrodes_at(n)) > 1]
    return {b.other(n) for n in shared for b in circuit.at(n) if b.kind is PartKind.RESISTOR}


def _leak(circuit: Circuit, net: str) -> float | None:
    """Ohms from a net to gnd, or to a line that a large capacitor holds at gnd for the signal."""
    held = [b.ohms for b in circuit.at(net)
            if b.kind is PartKind.RESISTOR and _bypassed(circuit, b.other(net))]  # fmt: skip
    direct = ohms_between(around(circuit, net), net)
    return min((x for x in (direct, *held) if x is not None), default=None)


def _bypassed(circuit: Circuit, net: str) -> bool:
    to_gnd = (b for b in circuit.at(net) if b.kind is PartKind.CAPACITOR and b.other(net) == GROUND)
    return net not in LANDMARKS and any((b.farads or 0.0) >= BYPASS_F.value for b in to_gnd)


def _coupled(circuit: Circuit, net: str) -> bool:
    """Whether a coupling capacitor ends on a net and no coil does."""
    if any(b.traits.coil for b in circuit.at(net)):
        return False
    found = (b for b in circuit.at(net) if b.kind is PartKind.CAPACITOR and b.plus is None)
    return any(
        (b.farads or 0.0) >= COUPLING_F.value and b.other(net) not in LANDMARKS for b in found
    )


def _short_input(case: Case, section: Section, part: Branch, leak: float) -> Finding:
    return unlikely_value.finding(
        case,
        (part.owner,),
        f"{part.owner}: {ohms(leak)} to gnd at the grid of {section.name} is no grid leak: hardly "
        "any signal passes the capacitor ahead of it",
        _meant(part, LIKELY_LEAK) or "Use a grid leak of 220 kohm to 1 Mohm",
        evidence={"grid leak": figure(leak, "ohm")},
        limit=LEAST_LEAK_OHM.figure,
        excess=LEAST_LEAK_OHM.value / max(leak, 1e-3),
    )


def _cathodes(case: Case) -> Iterator[Finding]:
    """Cathode resistors of small tubes that are a thousand times too small or too large."""
    for tube, section in working(case.circuit):
        net, grid = section.cathode_nets[0], section.net("grid")
        if is_power_tube(tube, section) or net in LANDMARKS or grid is None:
            continue
        at = [
            b
            for b in case.circuit.at(net)
            if b.kind is PartKind.RESISTOR and _down(case.circuit, b, net)
        ]
        others = [
            b for b in case.circuit.at(net) if b not in at and b.kind is not PartKind.CAPACITOR
        ]
        value = si(at[0].value, "ohm") if len(at) == 1 and not others else None
        bias = warm_volts(case, grid)
        if value is None or bias is None or abs(bias) > QUIET_V.value:
            continue
        if value < LEAST_CATHODE_OHM.value or value > MOST_CATHODE_OHM.value:
            yield _odd_cathode(case, section, at[0], value)


def _down(circuit: Circuit, branch: Branch, net: str) -> bool:
    """Whether a cathode's resistor goes to gnd, or to the small one that feedback comes across."""
    far = branch.other(net)
    if far in LANDMARKS or (branch.ohms or 0.0) >= LEAST_CATHODE_OHM.value:
        return far == GROUND
    below = [b.ohms for b in circuit.at(far)
             if b.kind is PartKind.RESISTOR and b.other(far) == GROUND]  # fmt: skip
    return any(x is not None and x <= FEEDBACK_OHM.value for x in below)


def _odd_cathode(case: Case, section: Section, part: Branch, value: float) -> Finding:
    small = value < LEAST_CATHODE_OHM.value
    meant = value * 1e3 if small else value / 1e3
    suits = LIKELY_CATHODE[0] <= meant <= LIKELY_CATHODE[1]
    what = "makes no bias" if small else "lets no current flow"
    return unlikely_value.finding(
        case,
        (part.name,),
        f"{part.name}: {ohms(value)} at the cathode of {section.name} {what}",
        f"Look at the original again: {ohms(meant)} would suit"
        if suits
        else "Use a cathode resistor of 220 ohm to 10 kohm",
        evidence={"cathode": figure(value, "ohm")},
        limit=figure(LEAST_CATHODE_OHM.value if small else MOST_CATHODE_OHM.value, "ohm"),
        excess=LEAST_CATHODE_OHM.value / max(value, 1e-3)
        if small
        else value / MOST_CATHODE_OHM.value,
    )


def _couplings(circuit: Circuit) -> Iterator[_Coupling]:
    grids = {s.electrodes["grid"] for _, s in working(circuit) if "grid" in s.electrodes}
    fixed = {*outside(circuit), *LANDMARKS}
    for _, section in working(circuit):
        plate = section.net("plate")
        loads = [b for b in circuit.at(plate) if _is_load(b)] if plate is not None else []
        if plate is None or len(loads) != 1 or steers_its_tail(circuit, section):
            continue
        for capacitor in circuit.at(plate):
            farads = capacitor.farads if capacitor.kind is PartKind.CAPACITOR else None
            behind = capacitor.other(plate)
            if farads is None or farads < COUPLING_F.value or behind in fixed:
                continue
            if (grids - fixed) & set(reach(circuit, [behind], fixed)):
                yield _Coupling(section, loads[0], capacitor, behind)


def _is_load(branch: Branch) -> bool:
    return branch.kind is PartKind.RESISTOR and branch.value is not None and branch.a != branch.b


def _small_leak(case: Case, coupling: _Coupling, leak: float) -> Finding:
    at = [b for b in case.circuit.at(coupling.behind) if b.traits.steady and b.value]
    part = min(at, key=lambda b: b.ohms or 0.0) if at else coupling.capacitor
    return unlikely_value.finding(
        case,
        (part.owner,),
        f"{part.owner}: {ohms(leak)} from {net_text(case.circuit, coupling.behind)} to gnd loads "
        f"the plate of {coupling.section.name}, which works with {ohms(coupling.load_ohms)} "
        f"({coupling.load.name}): hardly any signal is left",
        _meant(part, LIKELY_LEAK) or "Use a grid leak of 220 kohm to 1 Mohm",
        evidence={"grid leak": figure(leak, "ohm")},
        limit=figure(SHARE.value * coupling.load_ohms, "ohm"),
        excess=SHARE.value * coupling.load_ohms / max(leak, 1e-3),
    )


def _small_load(case: Case, coupling: _Coupling) -> Finding:
    value = coupling.load_ohms
    return unlikely_value.finding(
        case,
        (coupling.load.name,),
        f"{coupling.load.name}: {ohms(value)} is no load for the plate of {coupling.section.name}, "
        f"whose signal {coupling.capacitor.name} is to hand on",
        _meant(coupling.load, LIKELY_LOAD) or "Use a plate resistor of 47 to 470 kohm",
        evidence={"load": figure(value, "ohm")},
        limit=LEAST_LOAD_OHM.figure,
        excess=LEAST_LOAD_OHM.value / max(value, 1e-3),
    )


def _meant(part: Branch, likely: tuple[float, float]) -> str | None:
    """The value with a k that was lost, where that would suit."""
    value = 1e3 * (part.ohms or 0.0)
    if part.kind is not PartKind.RESISTOR or not likely[0] <= value <= likely[1]:
        return None
    return f"Look at the original again: {ohms(value)} would suit; write it with its k"


RULES = (unlikely_value,)
