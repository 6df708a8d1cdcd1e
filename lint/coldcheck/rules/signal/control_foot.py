"""Controls of which one end of the track is on nothing, where a divider is wanted."""

from __future__ import annotations

from math import inf, nan
from typing import TYPE_CHECKING

from coldcheck.anatomy.coupling import coupled, givers, still_nets
from coldcheck.anatomy.detectors import diodes, diodes_beside
from coldcheck.anatomy.loose import in_the_air
from coldcheck.anatomy.oscillators import at_grid
from coldcheck.anatomy.reach import Ways
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule


@dataclass(frozen=True, slots=True)
class Hanging:
    """A pot with one end, ``free``, on nothing: the nets of its wiper and its other end.

    ``track`` is in ohms, nan where its value is open.
    """

    name: str
    free: str
    wiper: str
    high: str
    track: float


@rule(
    "signal.control-foot-open",
    title="Control with one end of its track on nothing",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the wiring of the pot, its value and those of what is in series and behind",
    criterion="One end of a pot is on nothing. Either the other end has a signal and the wiper "
    "leads to a grid, which no less than the track's own resistance loads: no divider is left. "
    "Or the wiper feeds the screen of a stage with a coil at its grid, and a resistor of the "
    "track's value or more is in series with the whole.",
    why="With its foot on nothing a control is a resistor in series. In front of a grid, which "
    "takes no current, it does next to nothing; a detector may lose its load with it. In front "
    "of a screen it changes the voltage by a few volts and never brings it to nothing.",
    source=(PRACTICE, Citation("arithmetic", "the divider of the track")),
    limits="Pots that are adjustable resistors in a cathode, a bias, a tone network or a loop that "
    "oscillates are left alone, and grids that have lost their return with the foot.",
)
def control_foot_open(case: Case) -> Iterator[Outcome]:
    """Look at the pots of which one end is in the air."""
    for pot in _hanging(case.circuit):
        screen = _screen_of(case.circuit, pot)
        if screen is not None:
            yield _finding(case, pot, screen, "it can be set only within a few volts")
        elif grids := _unloaded_grids(case.circuit, pot):
            yield _finding(case, pot, grids[0], "the level hardly changes")


def _hanging(circuit: Circuit) -> Iterator[Hanging]:
    pots = dict.fromkeys(b.owner for b in circuit.branches.values() if b.kind is PartKind.POT)
    for name in pots:
        leads = {x: f"{name}.{x}" for x in ("top", "bottom")}
        free = [x for x, lead in leads.items() if in_the_air(circuit, lead)]
        if len(free) != 1:
            continue
        high = circuit.points[next(lead for x, lead in leads.items() if x not in free)]
        wiper = circuit.points[f"{name}.wiper"]
        ohms = (b.ohms or nan for b in circuit.branches.values() if b.owner == name)
        if wiper not in (high, circuit.points[leads[free[0]]]) and high not in LANDMARKS:
            yield Hanging(name, leads[free[0]], wiper, high, sum(ohms))


def _unloaded_grids(circuit: Circuit, pot: Hanging) -> list[str]:
    """The stages that hear the wiper, where another one or a source is at the other end."""
    still = still_nets(circuit)
    if pot.wiper in still:
        return []
    behind = coupled(circuit, [pot.wiper], {*still, pot.high}, [pot.name])
    before = coupled(circuit, [pot.high], {*still, pot.wiper}, [pot.name])
    gives = {name for name, _ in givers(circuit, before)} | _detectors(circuit, before)
    ways = Ways.of(circuit)
    heard = [s.name for n in behind for s, e in circuit.electrodes_at(n)
             if e == "grid" and ways.held(s, n)]  # fmt: skip
    on = {n for n in behind for b in circuit.at(n) if b.traits.coil or b.traits.opens}
    if not gives or gives & set(heard) or givers(circuit, behind) or on:
        return []
    return sorted(heard) if _least_load(circuit, behind) >= pot.track else []


def _detectors(circuit: Circuit, nets: frozenset[str]) -> set[str]:
    """The diodes of which one end is on these nets, or on a coil that is."""
    far = {b.other(n) for n in nets for b in circuit.at(n) if b.traits.coil}
    found = (*diodes(circuit), *(d for _, d in diodes_beside(circuit)))
    return {d.name for d in found if {d.plate, d.cathode} & (nets | far) - set(LANDMARKS)}


def _least_load(circuit: Circuit, nets: frozenset[str]) -> float:
    """The smallest resistor from these nets to what holds still, ohms; infinite without one."""
    still = still_nets(circuit)
    near = {b.name: b for n in nets for b in circuit.at(n) if b.traits.steady}
    down = [b for b in near.values() if {b.a, b.b} & still]
    return min((b.ohms or 0.0 for b in down), default=inf)


def _screen_of(circuit: Circuit, pot: Hanging) -> str | None:
    """The stage for radio frequencies whose screen hangs on the wiper, behind a large resistor."""
    series = [b for b in circuit.at(pot.high) if b.kind is PartKind.RESISTOR]
    before = [b for b in series if Ways.of(circuit).fed(b.other(pot.high))]
    if len(series) != 1 or not before or not (si(before[0].value, "ohm") or 0.0) >= pot.track:
        return None
    alone = all(_holds(b) or b.owner == pot.name for b in circuit.at(pot.wiper))
    for _, section in working(circuit) if alone else ():
        nets = at_grid(circuit, section)
        if section.net("screen") == pot.wiper and any(
            b.traits.coil for n in nets for b in circuit.at(n)
        ):
            return f"{section.name}.screen"
    return None


def _holds(branch: Branch) -> bool:
    return branch.kind is PartKind.CAPACITOR


def _finding(case: Case, pot: Hanging, to: str, so: str) -> Finding:
    return control_foot_open.finding(
        case,
        (pot.free, pot.name, to),
        f"{pot.free} is on nothing: {pot.name} is no divider but a resistor in series with "
        f"{to}, and {so}",
        f"Wire {pot.free} to gnd",
        evidence={"free_lead": pot.free},
        certainty="certain",
    )


RULES: tuple[Rule, ...] = (control_foot_open,)
