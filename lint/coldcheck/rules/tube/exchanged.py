"""Grid and cathode taken for one another: two neighbouring pins, and nothing burns."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.coupling import still_nets
from coldcheck.anatomy.neighbourhood import net_text
from coldcheck.anatomy.reach import reach
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

MOST_BIAS_OHM = Threshold(
    "resistor from a grid to gnd that is no grid leak",
    10e3,
    "ohm",
    Citation("practice", "47 kohm and up"),
)
"""A resistor from a grid to gnd below this is no grid leak (common practice: 47 kohm and up)."""

LEAST_LEAK_OHM = Threshold(
    "resistor from a cathode to gnd that is a grid leak", 20e3, "ohm", PRACTICE
)
LEAST_BYPASS_F = Threshold("least capacitance of a screen bypass", 10e-9, "F", PRACTICE)
"""A capacitor below this on a plate only trims the treble (common practice)."""


@rule(
    "tube.grid-and-cathode-exchanged",
    title="Grid and cathode exchanged",
    level="notice",
    blame=Blame.WIRING,
    states="the drawing alone",
    needs="the wiring, and the values of the resistors at both electrodes",
    criterion="From the grid a resistor below "
    f"{MOST_BIAS_OHM.value / 1e3:g} kohm, with or without a capacitor, leads down and nothing "
    "brings a signal; and the cathode, instead, is on a pot's wiper, a signal source or a coupling "
    f"capacitor, with no resistor below {LEAST_LEAK_OHM.value / 1e3:g} kohm from it to gnd.",
    why="Grid and cathode are neighbouring pins of most bases. Drawn the wrong way round nothing "
    "burns: the tube hardly draws current and hardly passes a signal.",
    source=PRACTICE,
    limits="Stages driven at the cathode on purpose have a cathode resistor or a coil to gnd, and "
    "their grid straight on gnd or behind a capacitor; they are left alone, and so are pairs "
    "whose cathodes meet.",
    thresholds=(LEAST_LEAK_OHM, MOST_BIAS_OHM),
)
def grid_and_cathode_exchanged(case: Case) -> Iterator[Outcome]:
    """Look at what is wired to each grid and each cathode."""
    for _, section in working(case.circuit):
        grid, cathode = section.net("grid"), section.net("cathode")
        if grid is None or cathode is None or {grid, cathode} & set(LANDMARKS):
            continue
        bias = _bias(case.circuit, section, grid)
        if bias is not None and _driven(case.circuit, cathode):
            yield _exchanged(case, section, bias, cathode)


def _bias(circuit: Circuit, section: Section, net: str) -> Branch | None:
    """The one small resistor from a net that nothing but a bypass and cathodes are on besides."""
    at = list(circuit.at(net))
    here = [(s.name, e) for s, e in circuit.electrodes_at(net)]
    fits = all(e == "suppressor" if n == section.name else e == "cathode"
               for n, e in here if (n, e) != (section.name, "grid"))  # fmt: skip
    found = [b for b in at if b.kind is PartKind.RESISTOR]
    rest = [b for b in at if b.kind is not PartKind.RESISTOR and not _bypass(b, net)]
    value = si(found[0].value, "ohm") if len(found) == 1 and fits and not rest else None
    if value is None or not 0 < value < MOST_BIAS_OHM.value:
        return None
    far = found[0].other(net)
    return found[0] if far == GROUND or _leads_down(circuit, far) else None


def _leads_down(circuit: Circuit, net: str) -> bool:
    """Whether a net is a tail or a feedback point: a resistor to gnd, no signal, no electrode."""
    at = circuit.at(net)
    down = any(b.kind is PartKind.RESISTOR and b.other(net) == GROUND for b in at)
    return down and not circuit.electrodes_at(net) and not any(_brings(b, net) for b in at)


def _bypass(branch: Branch, net: str) -> bool:
    return branch.kind is PartKind.CAPACITOR and branch.other(net) == GROUND


def _driven(circuit: Circuit, net: str) -> bool:
    """Whether a signal comes to a net that has no cathode resistor."""
    nets = [n for n in reach(circuit, [net], LANDMARKS) if n not in LANDMARKS]
    if any(b.traits.coil for n in nets for b in circuit.at(n)) or _paired(circuit, net):
        return False
    if any(_low(circuit, n) for n in (net, *_wires(circuit, net))):
        return False
    return any(_brings(b, n) for n in nets for b in circuit.at(n))


def _paired(circuit: Circuit, net: str) -> bool:
    """Whether another cathode is there too, short of a supply: a long-tailed pair."""
    still = still_nets(circuit)
    near = [n for n in reach(circuit, [net], still) if n not in still]
    cathodes = {s.name for n in near for s, e in circuit.electrodes_at(n) if e == "cathode"}
    return len(cathodes) > 1


def _wires(circuit: Circuit, net: str) -> list[str]:
    """The nets one stopper away."""
    at = [
        b for b in circuit.at(net) if b.kind is PartKind.RESISTOR and b.other(net) not in LANDMARKS
    ]
    return [b.other(net) for b in at]


def _low(circuit: Circuit, net: str) -> bool:
    return any(
        b.kind is PartKind.RESISTOR
        and b.other(net) == GROUND
        and (b.value is None or b.value.m_as("ohm") < LEAST_LEAK_OHM.value)
        for b in circuit.at(net)
    )


def _brings(branch: Branch, net: str) -> bool:
    """Whether a signal comes through a branch: a pot, a source, or a capacitor not to gnd."""
    through = branch.kind is PartKind.CAPACITOR and branch.other(net) not in LANDMARKS
    return branch.kind in (PartKind.POT, PartKind.SIGNAL) or through


def _exchanged(case: Case, section: Section, bias: Branch, cathode: str) -> Finding:
    name = section.name
    value = bias.ohms or 0.0
    return grid_and_cathode_exchanged.finding(
        case,
        (name, bias.name),
        f"{name}: its grid hangs on {bias.name}, {ohms(value)}, and its cathode is on "
        f"{net_text(case.circuit, cathode)}, where the signal comes from",
        f"Exchange the two: {name}.cathode to {bias.name}, {name}.grid to the signal",
        evidence={"grid_to_gnd": figure(value, "ohm")},
        limit=MOST_BIAS_OHM.figure,
        certainty="likely",
    )


@rule(
    "tube.plate-and-screen-exchanged",
    title="Plate and screen of a small pentode exchanged",
    level="notice",
    blame=Blame.WIRING,
    states="the drawing alone",
    needs="the wiring, and the value of the bypass capacitor",
    criterion="The plate of a pentode behind a resistor has a capacitor of "
    f"{LEAST_BYPASS_F.value * 1e9:g} nF or more to gnd right on it, and its screen, behind another "
    "resistor, hands on through a capacitor; or its screen is on a coil of a can or of an "
    "oscillator, and its plate, with such a capacitor, on none.",
    why="The bypass of the screen then shorts the plate's signal, and what is handed on comes from "
    "the screen: hardly any gain, and odd voltages.",
    source=PRACTICE,
    limits="Exchanged leads of output tubes show otherwise. A stage whose plate is on a coil too "
    "is left alone.",
    thresholds=(LEAST_BYPASS_F,),
)
def plate_and_screen_exchanged(case: Case) -> Iterator[Outcome]:
    """Look at the capacitors on each plate and screen."""
    for _, section in working(case.circuit):
        plate, screen = section.net("plate"), section.net("screen")
        if plate is None or screen is None or {plate, screen} & set(LANDMARKS) or plate == screen:
            continue
        bypass = [b for b in _capacitors(case.circuit, plate) if _bypass(b, plate)]
        on = _hands_on(case.circuit, plate, screen)
        if bypass and on and not any(_bypass(b, screen) for b in case.circuit.at(screen)):
            name = section.name
            yield plate_and_screen_exchanged.finding(
                case,
                (name, bypass[0].name),
                f"{name}: {bypass[0].name} bypasses its plate to gnd, and {on[0].owner} takes the "
                "signal from its screen",
                f"Exchange {name}.plate and {name}.screen",
                evidence={"bypass": bypass[0].name, "coupling": on[0].owner},
            )


@rule(
    "tube.screen-and-suppressor-exchanged",
    title="Screen and suppressor of a pentode exchanged",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the wiring",
    criterion="The screen of a tube with a suppressor is on its own cathode or on gnd by wire, and "
    "direct current gets from what feeds its plate to its suppressor.",
    why="Screen and suppressor are near each other on many bases. With the screen at the cathode "
    "nothing draws electrons through the grid, and hardly any current flows.",
    source=PRACTICE,
    limits="A triode-connected tube has its screen at the plate, and is none of this.",
)
def screen_and_suppressor_exchanged(case: Case) -> Iterator[Outcome]:
    """Look at what the two grids next to the plate are wired to."""
    for _, section in working(case.circuit):
        screen, suppressor = section.net("screen"), section.net("suppressor")
        plate = section.net("plate")
        if plate is None or suppressor is None or screen not in (GROUND, *section.cathode_nets):
            continue
        if suppressor not in (screen, *LANDMARKS) and suppressor in _fed_with(case.circuit, plate):
            name = section.name
            yield screen_and_suppressor_exchanged.finding(
                case,
                (name, f"{name}.screen", f"{name}.suppressor"),
                f"{name}: its screen is at {net_text(case.circuit, screen)}, and its suppressor "
                "gets the supply",
                f"Exchange {name}.screen and {name}.suppressor",
                certainty="certain",
            )


def _fed_with(circuit: Circuit, plate: str) -> frozenset[str]:
    return frozenset(reach(circuit, [plate], LANDMARKS)) - set(LANDMARKS)


def _hands_on(circuit: Circuit, plate: str, screen: str) -> list[Branch]:
    """What takes a signal from a screen: a capacitor, or a coil where the plate is on none."""
    on = [b for b in _capacitors(circuit, screen) if b.other(screen) not in LANDMARKS]
    names = {b.name for s in circuit.coil_sets.values() if not s.iron for _, b in s.branches}
    coils = [b for b in circuit.at(screen) if b.name in names]
    return on or ([] if any(b.name in names for b in circuit.at(plate)) else coils)


def _capacitors(circuit: Circuit, net: str) -> list[Branch]:
    """The larger capacitors on a net that a resistor feeds."""
    at = circuit.at(net)
    if not any(b.kind is PartKind.RESISTOR for b in at):
        return []
    found = [b for b in at if b.kind is PartKind.CAPACITOR]
    return [b for b in found if (b.farads or 0.0) >= LEAST_BYPASS_F.value]


RULES: tuple[Rule, ...] = (
    grid_and_cathode_exchanged,
    plate_and_screen_exchanged,
    screen_and_suppressor_exchanged,
)
