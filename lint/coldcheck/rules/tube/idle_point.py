"""Resistance-loaded stages whose plate rests at an end of its load line."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.case import unsolved_reason, warm_volts
from coldcheck.anatomy.coupling import steers_its_tail, still_nets
from coldcheck.anatomy.neighbourhood import reading, resistors_at
from coldcheck.anatomy.ordinary import oddness
from coldcheck.anatomy.squelch import gated
from coldcheck.anatomy.tail import leaks_past_a_tail
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.tubes_types import SIGNAL_GRIDS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes, listed, ohms, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

LEAST = Threshold(
    "share of the supply that the plate resistor takes at rest, at least", 0.1, "",
    Citation("practice", "stages rest with a third to two thirds of the supply on the load"),
)  # fmt: skip
MOST = Threshold(
    "share of the supply that the plate resistor takes at rest, at most", 0.92, "",
    Citation("practice", "stages rest with a third to two thirds of the supply on the load"),
)  # fmt: skip
HIGH_CATHODE_OHM = 4.7e3
"""A small tube with a usual load has 470 ohm to 3.3 kohm in its cathode (common practice)."""


@dataclass(frozen=True, slots=True)
class _Stage:
    """A stage with its load, and where it rests: the share of the supply across the load."""

    section: Section
    load: Branch
    cathode: Branch | None
    supply: float
    share: float
    amps: float
    grid_v: float


@rule(
    "tube.idles-at-an-end",
    title="Plate that rests at an end of its load line",
    level="notice",
    states="warm",
    needs="a solved warm state; a plate resistor, with a coupling capacitor or a grid on the plate",
    criterion=(
        f"Of the voltage from cathode to supply less than {100 * LEAST.value:g} % or more than "
        f"{100 * MOST.value:g} % is across the plate resistor. Grids joined straight to a "
        "plate are left alone."
    ),
    why=(
        "A plate that rests near the supply can swing up by what little is left, one that rests on "
        "its cathode cannot swing down. A resistor ten times too large or too small does it: 15k "
        "for 1k5 in a cathode, 10k for 100k in a plate. Nothing burns, and it distorts or is quiet."
    ),
    source=(Citation("arithmetic", "load line"), Citation("practice", "the shares")),
    limits=(
        "Stages on chokes or transformers have no such line, and those that a squelch tube takes "
        "down are left alone. A gate or a stage meant to rest cut "
        "off looks the same: accept it with that reason."
    ),
    thresholds=(LEAST, MOST),
)
def idles_at_an_end(case: Case) -> Iterator[Outcome]:
    """Look at where each resistance-loaded plate rests."""
    if unsolved_reason(case) is not None:
        return
    off = gated(case.circuit)  # without a station they rest cut off
    for _, section in working(case.circuit):
        stage = None if section.name in off else _stage(case, section)
        if stage is not None and not LEAST.value <= stage.share <= MOST.value:
            yield _finding(case, stage)


def _stage(case: Case, section: Section) -> _Stage | None:
    circuit, found = case.circuit, reading(case.warm, section)
    plate, grid = section.net("plate"), section.net("grid")
    still = still_nets(circuit)
    if plate is None or grid is None or found is None or plate in still:
        return None
    loads = [
        b for b in circuit.at(plate) if b.kind is PartKind.RESISTOR and b.other(plate) in still
    ]
    if len(loads) != 1 or loads[0].other(plate) == GROUND or not _taken(circuit, plate, still):
        return None
    direct = any(e == "plate" for _, e in circuit.electrodes_at(grid))
    if direct or steers_its_tail(circuit, section):
        return None
    supply = warm_volts(case, loads[0].other(plate))
    low = warm_volts(case, section.cathode_nets[0])
    high = warm_volts(case, plate)
    if supply is None or low is None or high is None or supply - low < 20:
        return None
    foot = section.cathode_nets[0]
    below = circuit.at(foot) if foot not in LANDMARKS else ()
    ends = [b for b in below if b.kind is PartKind.RESISTOR]
    own = ends[0] if len(ends) == 1 else None
    share = (supply - high) / (supply - low)
    return _Stage(
        section, loads[0], own, supply - low, share, found.plate_ma / 1e3,
        found.grid_v or 0.0,
    )  # fmt: skip


def _taken(circuit: Circuit, plate: str, still: frozenset[str]) -> bool:
    """Whether a coupling capacitor or a grid takes the signal from a plate, and nothing else."""
    others = [b for b in circuit.at(plate) if b.other(plate) not in still]
    grids = any(e in SIGNAL_GRIDS for _, e in circuit.electrodes_at(plate))
    return bool(others or grids) and all(b.kind is PartKind.CAPACITOR for b in others)


def _finding(case: Case, stage: _Stage) -> Finding:
    name, share = stage.section.name, stage.share
    across = share * stage.supply
    end = "next to the supply" if share < LEAST.value else "down at its cathode"
    limit = LEAST if share < LEAST.value else MOST
    high = share > MOST.value and stage.section.net("screen") is not None
    screened = [b.name for b, _ in _droppers(case.circuit, stage.section)] if high else []
    return idles_at_an_end.finding(
        case,
        (name, *screened, *(b.name for b in (stage.load, stage.cathode) if b is not None)),
        f"the plate of {name} rests {end}: {amperes(stage.amps)} through {stage.load.name} "
        f"({ohms(si(stage.load.value, 'ohm') or 0.0)}) takes {volts(across)} of "
        f"{volts(stage.supply)}",
        _remedy(case.circuit, stage),
        state="warm",
        evidence={"share": figure(share, ""), "current": figure(stage.amps, "A")},
        limit=limit.figure,
        certainty="likely",
        excess=LEAST.value / max(share, 1e-6) if share < LEAST.value else share / MOST.value,
    )


def _remedy(circuit: Circuit, stage: _Stage) -> str:
    if stage.share < LEAST.value:
        return _less_bias(circuit, stage)
    load = stage.load.ohms or 0.0
    if stage.section.net("screen") is not None:
        larger = listed(f"{b.name} than {ohms(v)}" for b, v in _droppers(circuit, stage.section))
        return (
            f"Bring the screen of {stage.section.name} down (a larger "
            f"{larger or 'resistor to it'}), or use a "
            f"smaller {stage.load.name}: {ohms(load / 10)} for {ohms(load)}"
        )
    return f"{stage.load.name} ({ohms(load)}) looks ten times too large: try {ohms(load / 10)}"


def _droppers(circuit: Circuit, section: Section) -> list[tuple[Branch, float]]:
    """The resistors from a screen to its supply, with their ohms."""
    screen, still = section.electrodes["screen"], still_nets(circuit)
    found = [b for b in resistors_at(circuit, screen) if b.other(screen) in still - set(LANDMARKS)]
    return [(b, value) for b in found if (value := b.ohms)]


def _less_bias(circuit: Circuit, stage: _Stage) -> str:
    """What lets a stage that hardly conducts draw more, or its load take more of the supply."""
    for leak, foot in leaks_past_a_tail(circuit, stage.section):
        return f"Return {leak.name} to {foot} instead of gnd: the tail lifts the cathode off it"
    load = stage.load.ohms or 0.0
    cathode = stage.cathode.ohms if stage.cathode is not None else None
    if stage.cathode is not None and cathode and cathode >= HIGH_CATHODE_OHM:
        return (
            f"{stage.cathode.name} ({ohms(cathode)}) looks ten times too large: try "
            f"{ohms(cathode / 10)}"
        )
    if oddness(circuit, stage.load, load) == 0:
        return (
            f"Bring the grid of {stage.section.name} nearer to its cathode, which it is "
            f"{volts(-stage.grid_v)} below: less bias, or a smaller resistor in the cathode"
        )
    return f"{stage.load.name} ({ohms(load)}) looks ten times too small: try {ohms(load * 10)}"


RULES: tuple[Rule, ...] = (idles_at_an_end,)
