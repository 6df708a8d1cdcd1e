"""Phase splitters that give one half more than the other."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.coupling import still_nets
from coldcheck.anatomy.neighbourhood import leads_to_a_grid, resistors_at
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed, ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome

ALIKE = Threshold("times one load of a split-load stage is the other, at most", 1.3, "", PRACTICE)


@dataclass(frozen=True, slots=True)
class _Loads:
    """The loads of a split-load stage, ohms, and the parts they are made of."""

    section: Section
    plate: float
    cathode: float
    parts: tuple[Branch, ...]

    @property
    def ratio(self) -> float:
        """The larger over the smaller."""
        return max(self.plate / self.cathode, self.cathode / self.plate)


@rule(
    "signal.split-load-unequal",
    title="Split-load phase splitter with unequal loads",
    level="notice",
    states="the drawing alone",
    needs="the resistors at plate and cathode of a stage that gives a signal from both",
    criterion=(
        "A triode gives a signal from its plate to one grid and from its cathode to another, and "
        f"the resistance at one of them is more than {ALIKE.value:g} times that at the other."
    ),
    why=(
        "One current flows through both loads: the two signals are as large as the resistors are. "
        "With one of them a decade out, one output tube gets a tenth of the drive of the other; "
        "the stage clips early, on one side, and every figure at rest may look usual."
    ),
    source=(Citation("arithmetic", "one current through both"), PRACTICE),
    limits=(
        "Resistors only, and what stands in series with the load at the cathode counts with it. "
        "The loads that follow are left out."
    ),
    thresholds=(ALIKE,),
)
def split_load_unequal(case: Case) -> Iterator[Outcome]:
    """Compare the two loads of every such stage."""
    still = still_nets(case.circuit)
    for _, section in working(case.circuit):
        loads = _loads(case.circuit, section, still)
        if loads is not None and loads.ratio > ALIKE.value:
            yield _finding(case, loads)


def _loads(circuit: Circuit, section: Section, still: frozenset[str]) -> _Loads | None:
    plate, cathode = section.net("plate"), section.cathode_nets[0]
    if plate is None or {plate, cathode} & still or section.net("grid") is None:
        return None
    if len(circuit.electrodes_at(cathode)) > 1:
        return None  # a long-tailed pair
    foot = {cathode, *_next(circuit, cathode, still)}
    if not _drives(circuit, {plate}, section) or not _drives(circuit, foot, section):
        return None
    upper = [b for b in resistors_at(circuit, plate) if b.other(plate) in still - {GROUND}]
    lower = _down(circuit, cathode, still)
    ohms_of = [b.ohms for b in (*upper, *lower)]
    if len(upper) != 1 or not lower or None in ohms_of:
        return None
    values = [v for v in ohms_of if v is not None]
    return _Loads(section, values[0], sum(values[1:]), (*upper, *lower))


def _next(circuit: Circuit, net: str, still: frozenset[str]) -> list[str]:
    """The points below a cathode, one resistor down, that carry its signal as well."""
    return [b.other(net) for b in resistors_at(circuit, net) if b.other(net) not in still]


def _down(circuit: Circuit, cathode: str, still: frozenset[str]) -> list[Branch]:
    """The resistors in series from a cathode to what holds still: one, or a bias and a load."""
    for first in resistors_at(circuit, cathode):
        far = first.other(cathode)
        if far in still:
            return [first]
        on = [b for b in resistors_at(circuit, far) if b != first and b.other(far) in still]
        if len(on) == 1 and not circuit.electrodes_at(far):
            return [first, on[0]]
    return []


def _drives(circuit: Circuit, nets: set[str], own: Section) -> bool:
    """Whether a capacitor leads from one of the nets to the grid of another section."""
    behind = (b.other(n) for n in nets for b in circuit.at(n) if b.kind is PartKind.CAPACITOR)
    return any(leads_to_a_grid(circuit, net, own) for net in behind if net not in nets)


def _finding(case: Case, loads: _Loads) -> Finding:
    name, (upper, *lower) = loads.section.name, loads.parts
    below = listed(b.name for b in lower)
    large = loads.plate > loads.cathode
    return split_load_unequal.finding(
        case,
        (lower[-1].name, upper.name, name),
        f"{name} splits the phase with {ohms(loads.plate)} at its plate ({upper.name}) and "
        f"{ohms(loads.cathode)} at its cathode ({below}): one side gets {loads.ratio:.3g} times "
        "the other's signal",
        f"Make them alike: {lower[-1].name if large else upper.name} as large as "
        f"{upper.name if large else lower[-1].name}, "
        f"{ohms(max(loads.plate, loads.cathode))} or so",
        evidence={
            "at the plate": figure(loads.plate, "ohm"),
            "at the cathode": figure(loads.cathode, "ohm"),
            "ratio": figure(loads.ratio, ""),
        },
        limit=ALIKE.figure,
        certainty="certain",
        excess=loads.ratio / ALIKE.value,
    )


RULES: tuple[Rule, ...] = (split_load_unequal,)
