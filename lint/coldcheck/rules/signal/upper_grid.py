"""The upper grid of a cascode: it has to hold still for the signal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.channels import behind
from coldcheck.anatomy.coupling import RADIO_F, decoupled, still_nets
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.rules.signal.second_grid import HOLDS_OHM
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule


@rule(
    "signal.upper-grid-loose",
    title="Upper grid of a cascode not held still",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the wiring of the two, and the resistors at the upper grid",
    criterion=(
        "The cathode of one section is on the plate of another, straight or through a coil, and "
        "gives its signal to nothing else; the upper plate has a load; and the upper grid, "
        f"straight or behind its stopper, hangs on resistors of {HOLDS_OHM.value / 1e3:g} kohm or "
        "more to points that hold still, with no capacitor on it."
    ),
    why=(
        "The upper tube of a cascode works from its cathode, against a grid at signal zero. On a "
        "divider without its capacitor that grid goes with the tube's own capacitances: at radio "
        "frequencies the gain is gone and the stage may oscillate, at low ones the divider's hum "
        "and noise are amplified. All voltages at rest are right."
    ),
    source=PRACTICE,
    limits="Grids with a signal of their own, and lower tubes that nothing drives, are left alone.",
    thresholds=(HOLDS_OHM, RADIO_F),
)
def upper_grid_loose(case: Case) -> Iterator[Outcome]:
    """Look at the upper grid of every cascode."""
    circuit = case.circuit
    still = still_nets(circuit)
    for _, upper in working(circuit):
        lower = _below(circuit, upper, still)
        divider = _divider(circuit, upper)
        if lower is not None and divider and _loaded(circuit, upper, still):
            yield _told(case, upper, lower, divider)


def _below(circuit: Circuit, upper: Section, still: frozenset[str]) -> Section | None:
    """The driven section on whose plate an upper cathode stands and that it alone is there for."""
    cathode = upper.cathode_nets[0]
    coils = [b.other(cathode) for b in circuit.at(cathode) if b.kind is PartKind.INDUCTOR]
    nets = {cathode, *coils} - still
    on = [(s, e) for n in nets for s, e in circuit.electrodes_at(n) if s.name != upper.name]
    rest = [b for n in nets for b in circuit.at(n) if not {b.a, b.b} <= nets]
    lower = on[0][0] if len(on) == 1 and on[0][1] == "plate" and not rest else None
    return lower if lower is not None and behind(circuit, lower) else None


def _divider(circuit: Circuit, upper: Section) -> list[Branch]:
    """The large resistors that are all a grid hangs on; none where something else is there."""
    grid = upper.net("grid")
    if grid is None or grid in LANDMARKS:
        return []
    stopper = circuit.at(grid) if len(circuit.at(grid)) == 1 else []
    net = stopper[0].other(grid) if stopper else grid
    at = [b for b in circuit.at(net) if b not in stopper]
    large = all(b.kind is PartKind.RESISTOR and (b.ohms or 0.0) >= HOLDS_OHM.value
                and decoupled(circuit, b.other(net)) for b in at)  # fmt: skip
    on = {s.name for n in (grid, net) for s, _ in circuit.electrodes_at(n)}
    return at if large and on == {upper.name} and not decoupled(circuit, net) else []


def _loaded(circuit: Circuit, upper: Section, still: frozenset[str]) -> bool:
    """Whether a plate is free to move."""
    plate = upper.net("plate")
    return plate is not None and plate not in still and bool(circuit.at(plate))


def _told(case: Case, upper: Section, lower: Section, divider: list[Branch]) -> Finding:
    name, least = upper.name, min(b.ohms or 0.0 for b in divider)
    return upper_grid_loose.finding(
        case,
        (f"{name}.grid", name, *(b.name for b in divider)),
        f"{name} is the upper tube of a cascode on {lower.name}, and its grid hangs on "
        f"{listed(b.name for b in divider)} with no capacitor to hold it for the signal",
        f"Put 100 nF, at radio frequencies 1 nF, from {name}.grid to gnd",
        evidence={"least resistor": figure(least, "ohm")},
        limit=HOLDS_OHM.figure,
        certainty="likely",
        excess=least / HOLDS_OHM.value,
    )


RULES: tuple[Rule, ...] = (upper_grid_loose,)
