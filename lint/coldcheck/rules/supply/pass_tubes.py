"""A series regulator whose pass tube is wide open, since too little comes in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import metal, own_text
from coldcheck.anatomy.supplies import rectified
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import listed, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.rules.supply.reservoir import FEEDING_OHM, drives, output_of, within
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit, Section, Winding
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

OPEN_V = Threshold(
    "bias of a pass tube that is wide open", -0.5, "V",
    Citation("practice", "5 to 50 V negative are left to regulate with"),
)  # fmt: skip
SAGS = Threshold(
    "share of what it is set to that a starved regulator still gives", 0.75, "", PRACTICE
)
"""With less than that the load is too heavy, not the winding too low."""

HEAD_V = 60.0
"""Beyond what drops across it wide open, a pass tube is given so much to regulate with."""


@dataclass(frozen=True, slots=True)
class _Starved:
    """What comes in and goes out, the volts the divider asks for, and the winding."""

    points: tuple[str, str]
    raw: float
    out: float
    wanted: float
    bias: float
    winding: Winding


@rule(
    "supply.regulator-starved",
    title="Series regulator with too little coming in",
    level="notice",
    blame=Blame.SLIP,
    states="warm, nominal mains",
    needs="a solved state, a pass tube, the tube that steers it, and the winding that feeds both",
    criterion=(
        f"The grid of a pass tube is above {OPEN_V.value:g} V to its cathode, so that it gives all "
        "it can; the divider at the tube that steers it asks for more than comes out, of which "
        f"{100 * SAGS.value:g} % or more are there; and the winding is not overloaded."
    ),
    why=(
        "A regulator takes away what is too much. With too little there is nothing to take: the "
        "pass tube is a resistor, its grid draws current, ripple and mains come through whole."
    ),
    source=(PRACTICE, Citation("arithmetic", "reference voltage times the divider's ratio")),
    limits=(
        "That the winding is too low, and not the output set too high, is taken from what is "
        "drawn: both are reported. An overloaded winding is supply.coil-overload."
    ),
    thresholds=(OPEN_V, SAGS),
)
def regulator_starved(case: Case) -> Iterator[Outcome]:
    """Look at each pass tube with the tube that steers it; tubes in parallel are one finding."""
    found: dict[tuple[str, str], tuple[_Starved, list[str]]] = {}
    for passing, driver in _pairs(case.circuit) if unsolved(case) is None else ():
        starved = _starved(case, passing, driver)
        if starved is not None:
            found.setdefault(starved.points, (starved, []))[1].append(passing.name)
    for starved, names in found.values():
        yield _finding(case, starved, names)


def _pairs(circuit: Circuit) -> list[tuple[Section, Section]]:
    sections, graph = [s for _, s in working(circuit)], metal(circuit)
    return [(p, d) for p in sections for d in sections
            if p.name != d.name and drives(circuit, graph, d, p)]  # fmt: skip


def _starved(case: Case, passing: Section, driver: Section) -> _Starved | None:
    """The figures of a regulator that is wide open, where they are known."""
    circuit, warm = case.circuit, case.warm
    reading, graph = warm.readings.get(passing.name), metal(case.circuit)
    grid = None if reading is None else reading.grid_v
    if grid is None or grid <= OPEN_V.value:
        return None
    out = output_of(circuit, graph, passing)
    raw = _raw(circuit, passing, out)
    winding = None if raw is None else _winding(circuit, raw)
    nets = (raw or "", out, driver.electrodes["grid"], driver.cathode_nets[0])
    waves = [warm.wave(n) for n in nets]
    levels = [w.dc for w in waves if w is not None]
    if winding is None or raw is None or len(levels) < len(nets) or not levels[1] or not levels[2]:
        return None
    wanted = levels[3] * levels[1] / levels[2]
    fits = SAGS.value * wanted <= levels[1] < wanted
    return (
        _Starved((raw, out), levels[0], levels[1], wanted, grid, winding)
        if fits and not _overloaded(case, winding)
        else None
    )


def _raw(circuit: Circuit, passing: Section, out: str) -> str | None:
    """The rectifier's output that a pass tube's plate hangs on."""
    near = within(metal(circuit), passing.electrodes["plate"], FEEDING_OHM, (GROUND, out))
    return next((n for n in sorted(near) if rectified(circuit, n)), None)


def _winding(circuit: Circuit, raw: str) -> Winding | None:
    """The winding at the plates or diodes that give their current to a net."""
    on = {b.a for b in circuit.at(raw) if b.kind is PartKind.DIODE and b.b == raw}
    on |= {n for s, e in circuit.electrodes_at(raw) if s.kind is SectionKind.RECTIFIER
           and e not in s.plates for n in (s.electrodes[p] for p in s.plates)}  # fmt: skip
    found = [w for w in circuit.windings() if not w.primary and on & set(w.nets) - set(LANDMARKS)]
    return found[0] if len(found) == 1 else None


def _overloaded(case: Case, winding: Winding) -> bool:
    """Whether a winding gives more than it is made for, as far as both are known."""
    rated = si(winding.current, "ampere")
    waves = [case.warm.current(b.name) for b in winding.branches]
    return rated is not None and any(w is not None and abs(w.dc) > rated / 2 for w in waves)


def _finding(case: Case, it: _Starved, names: list[str]) -> Finding:
    raw, out = (own_text(case.circuit, n) for n in it.points)
    made = si(it.winding.branches[0].value, "volt") or 0.0
    head = it.raw - it.out + HEAD_V
    better = made * (it.wanted + head) / it.raw if it.raw else 0.0
    side = " a side" if "ct" in dict(it.winding.leads) else ""
    verb = "is" if len(names) == 1 else "are"
    return regulator_starved.finding(
        case,
        (it.winding.name, *names, out),
        f"{listed(names)} {verb} wide open: the divider asks for {volts(it.wanted)} at {out}, "
        f"{volts(it.raw)} come in at {raw} from {it.winding.name} ({volts(made)}{side}), "
        f"and {volts(it.out)} come out",
        f"Give it a winding of about {volts(round(better, -1))} in place of {volts(made)} "
        f"({it.winding.name}), or set {out} to {volts(round(max(it.raw - head, 0.0), -1))} at most",
        state="warm",
        evidence={
            "in": figure(it.raw, "V"),
            "out": figure(it.out, "V"),
            "asked_for": figure(it.wanted, "V"),
            "share": figure(it.out / it.wanted, ""),
            "bias": figure(it.bias, "V"),
        },
        limit=figure(it.wanted, "V"),
        certainty="likely",
        excess=it.wanted / it.out,
    )


RULES: tuple[Rule, ...] = (regulator_starved,)
