"""Two triodes, one upon the other, that do not share the supply."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.case import unsolved_reason, warm_volts
from coldcheck.anatomy.coupling import still_nets
from coldcheck.anatomy.neighbourhood import net_text, resistors_at
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.wording import volts
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

LEAST = Threshold(
    "share of a stack's supply that each of its tubes keeps, at least", 0.05, "",
    Citation("practice", "the two of a stack share the supply about half and half"),
)  # fmt: skip

LEAST_SUPPLY_V = 20.0
"""Below this there is nothing to share."""


@dataclass(frozen=True, slots=True)
class _Stack:
    """Two sections and what joins them; the volts of the supply and those of each tube."""

    lower: Section
    upper: Section
    supply: float
    low: float
    high: float
    loaded: bool

    @property
    def starved(self) -> tuple[Section, float]:
        """The one that gets less, and its share; above a load only the lower one counts."""
        lower, upper = (self.lower, self.low / self.supply), (self.upper, self.high / self.supply)
        return lower if self.loaded else min(lower, upper, key=lambda pair: pair[1])


@rule(
    "tube.stack-starved",
    title="Tube of a stack that gets next to nothing of the supply",
    level="notice",
    states="warm",
    needs="a solved warm state",
    criterion=(
        "The plate of one section leads through at most two resistors to the cathode of another, "
        "whose plate is on a supply, straight or through its load, and of that supply less than "
        f"{100 * LEAST.value:g} % is across the lower one, or, without a load, across either."
    ),
    why=(
        "In a stack each tube is the load of the other. Where the upper grid is held by gnd "
        "instead of by the foot of its own cathode resistor, it pulls its cathode down to gnd "
        "with it, and nothing is left for the lower tube: hardly any sound, much distortion."
    ),
    source=(Citation("arithmetic", "load line"), PRACTICE),
    limits=(
        "A cascode whose upper grid is held by a divider is judged by the same share. A stage "
        "meant to rest cut off looks the same: accept it with that reason."
    ),
    thresholds=(LEAST,),
)
def stack_starved(case: Case) -> Iterator[Outcome]:
    """Look at how the two of each stack share the supply."""
    if unsolved_reason(case) is not None:
        return
    still = still_nets(case.circuit)
    for _, lower in working(case.circuit):
        upper = _upper(case.circuit, lower, still)
        stack = None if upper is None else _stack(case, lower, *upper)
        if stack is not None and stack.starved[1] < LEAST.value:
            yield _finding(case, stack)


def _upper(circuit: Circuit, lower: Section, still: frozenset[str]) -> tuple[Section, str] | None:
    """The section that stands on a plate, and the supply point that its own plate is fed from."""
    plate = lower.net("plate")
    if plate is None or plate in still or lower.net("grid") is None:
        return None
    nets = {plate}
    for _ in range(2):
        nets |= {b.other(n) for n in nets for b in resistors_at(circuit, n)} - still
    found = [s for n in sorted(nets) for s, e in circuit.electrodes_at(n) if e == "cathode"]
    fed = ((s, _supply(circuit, s, still)) for s in found if s.name != lower.name)
    return next(((s, top) for s, top in fed if top is not None), None)


def _supply(circuit: Circuit, upper: Section, still: frozenset[str]) -> str | None:
    """The supply point that an upper plate is on, straight or through the one load it has."""
    plate, supplies = upper.net("plate"), still - {GROUND}
    if plate is None or plate in supplies:
        return plate
    tops = [n for b in resistors_at(circuit, plate) if (n := b.other(plate)) in supplies]
    return tops[0] if len(tops) == 1 else None


def _stack(case: Case, lower: Section, upper: Section, top_net: str) -> _Stack | None:
    plate = upper.net("plate")
    low, high = lower.net("plate"), upper.cathode_nets[0]
    nets = (lower.cathode_nets[0], low, high, plate, top_net)
    found = [None if n is None else warm_volts(case, n) for n in nets]
    if None in found:
        return None
    foot, middle, cathode, over, top = (v for v in found if v is not None)
    if top - foot < LEAST_SUPPLY_V:
        return None
    return _Stack(lower, upper, top - foot, middle - foot, over - cathode, plate != top_net)


def _finding(case: Case, stack: _Stack) -> Finding:
    starved, share = stack.starved
    leak = _leak_to_gnd(case.circuit, stack.upper)
    at = (stack.upper.name, stack.lower.name)
    across = stack.low if starved is stack.lower else stack.high
    return stack_starved.finding(
        case,
        at if leak is None else (leak.name, *at),
        f"{stack.upper.name} stands on {stack.lower.name}, and of {volts(stack.supply)} over both "
        f"{starved.name} gets {volts(across)}" + _because(leak, stack),
        _remedy(case.circuit, leak, stack),
        state="warm",
        evidence={"share": figure(share, ""), "across": figure(across, "V")},
        limit=LEAST.figure,
        certainty="likely",
        excess=LEAST.value / max(share, 1e-3),
    )


def _because(leak: Branch | None, stack: _Stack) -> str:
    return "" if leak is None else f": {leak.name} holds the grid of {stack.upper.name} at gnd"


def _leak_to_gnd(circuit: Circuit, upper: Section) -> Branch | None:
    """The resistor that ties the upper grid to gnd, a stopper between or not."""
    grid = upper.net("grid")
    if grid is None:
        return None
    nets = {grid, *(b.other(grid) for b in resistors_at(circuit, grid))} - {GROUND}
    ties = (b for n in sorted(nets) for b in resistors_at(circuit, n))
    return next((b for b in ties if GROUND in (b.a, b.b)), None)


def _remedy(circuit: Circuit, leak: Branch | None, stack: _Stack) -> str:
    foot = _foot(circuit, stack.upper)
    if leak is not None and foot is not None:
        return (
            f"Take {leak.name} to {net_text(circuit, foot)}, the lower end of the cathode resistor "
            f"of {stack.upper.name}, instead of gnd"
        )
    return (
        f"Set the grid of {stack.upper.name} so that the two share the supply about half and half"
    )


def _foot(circuit: Circuit, upper: Section) -> str | None:
    cathode = upper.cathode_nets[0]
    below = [b.other(cathode) for b in resistors_at(circuit, cathode)]
    return next((n for n in below if n != GROUND), None)


RULES: tuple[Rule, ...] = (stack_starved,)
