"""Gas regulator tubes: the window of their current, and capacitors across them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import net_text
from coldcheck.anatomy.running import running
from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.preferred import preferred
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering
from coldcheck.drawing.wording import amperes, listed, ohms, watts
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.ranges import UNKNOWN, certainty
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.rules.supply.current import RUNNING
from coldcheck.solve.solution import PULLED, STANDBY, WARM
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section, Tube
    from coldcheck.circuit.tubes import Sourced
    from coldcheck.judge.finding import Outcome
    from coldcheck.solve.solution import Solution, TubeReading

UNLOADED = (STANDBY, PULLED)
"""States in which only the greatest current is asked: the load is off, and the tube takes it."""

GLOW_F = Threshold("capacitance across a gas regulator", 0.1e-6, "F", Citation("rca-rc"))
DARK_A = Threshold("current of a dark gas regulator", 1e-6, "A", PRACTICE)


def is_dark(reading: TubeReading) -> bool:
    """Whether a regulator does not glow at all, which is ``supply.regulator-dark``."""
    return reading.plate_ma / 1000 < DARK_A.value


@rule(
    "supply.regulator-current",
    title="Gas regulator outside its range",
    level="notice",
    states="warm, high line, low line; the greatest also in standby and with a tube pulled",
    needs="a solved state and the regulator's current limits on file",
    criterion=(
        "The current of a gas regulator tube is below its least or above its greatest, or a "
        "capacitor of more than 0.1 uF stands right across it, or across several in series. "
        "Tubes in series that are off in the same way are one finding."
    ),
    why=(
        "With too little current the glow goes out and comes back, with too much the cathode is "
        "sputtered away. A capacitor across the tube makes the two a sawtooth oscillator."
    ),
    source=(Citation("type-sheet"), Citation("rca-rc", "0.1 uF")),
    limits=(
        "The seconds after switch-on, for which the makers allow more current, are left out. A "
        "tube that does not light at all is supply.regulator-dark. Too little is not judged where "
        "a stage that oscillates may leave it enough: it takes less than at rest."
    ),
    thresholds=(DARK_A, GLOW_F, UNKNOWN),
)
def regulator_current(case: Case) -> Iterator[Outcome]:
    """Compare the glow's current with its window, in every running state."""
    yield from _capacitors_across(case)
    for tube, section in regulators(case.circuit):
        low, high = tube.type.rating("minimum-current"), tube.type.rating("maximum-current")
        if low is None or high is None:
            text = f"no current limits of {tube.type.name} are on file"
            yield regulator_current.not_judged((tube.name,), text)
            continue
        stages = _oscillating(case.circuit, section)
        for solution in case.solved(*RUNNING, *UNLOADED):
            reading = solution.readings.get(section.name)
            if reading is not None and not is_dark(reading):
                amps = reading.plate_ma / 1000
                if solution.state.kind in UNLOADED and amps < low.value:
                    continue
                if amps < low.value <= amps + _taken(solution, stages):
                    yield from _spared(solution, (tube.name, *stages))
                else:
                    yield from _outside(case, (tube, section), solution, amps, low, high)


def _oscillating(circuit: Circuit, section: Section) -> tuple[str, ...]:
    """The stages that oscillate and hang on a regulator by a resistor or coil."""
    plates = [section.electrodes[p] for p in section.plates]
    fed = {b.other(n) for n in plates for b in circuit.at(n) if b.traits.metal}
    return tuple(stage.section.name for stage in running(circuit) if stage.nets & fed)


def _taken(solution: Solution, stages: tuple[str, ...]) -> float:
    """What stages take at rest, amperes."""
    readings = [solution.readings[name] for name in stages if name in solution.readings]
    return sum(r.plate_ma + r.screen_ma for r in readings) / 1000


def _spared(solution: Solution, names: tuple[str, ...]) -> Iterator[Outcome]:
    if solution.state.kind == WARM:
        takes = f"{listed(names[1:])} takes less than at rest as it oscillates"
        yield regulator_current.not_judged(names, f"how much {names[0]} carries: {takes}")


def regulators(circuit: Circuit) -> Iterator[tuple[Tube, Section]]:
    """Gas regulators with their plate wired, in drawing order."""
    for tube in circuit.tubes.values():
        for section in tube.sections:
            if section.kind is SectionKind.REGULATOR and any(
                _wired(circuit, section.electrodes[p]) for p in section.plates
            ):
                yield tube, section


def _wired(circuit: Circuit, plate: str) -> bool:
    """Whether a part is on a plate, or another tube's electrode."""
    return bool(circuit.at(plate)) or len(circuit.electrodes_at(plate)) > 1


def _outside(
    case: Case,
    which: tuple[Tube, Section],
    solution: Solution,
    amps: float,
    low: Sourced,
    high: Sourced,
) -> Iterator[Outcome]:
    tube, section = which
    stack = stack_of(case.circuit, section)
    alike = tuple(
        n for n in stack if _sense(case, solution, n) == _sense(case, solution, tube.name)
    )
    if alike[:1] != (tube.name,):
        return  # said once, for the uppermost tube that is off in the same way
    limit, word = (low, "at least") if amps < low.value else (high, "at most")
    others = f" (so does {listed(alike[1:])} below it)" if len(alike) > 1 else ""
    excess = low.value / max(amps, 1e-6) if limit is low else amps / high.value
    if excess > 1.0005:
        own = series_resistor(solution, section)
        yield regulator_current.finding(
            case,
            (*alike, *(b.name for b in own)),
            f"{tube.name} carries {amperes(amps)}{with_ohms('through', own)}{others}"
            f"{_with(solution)}; type {tube.type.name} wants {word} {amperes(limit.value)}",
            _ballast(solution, section, too_much=limit is high)
            + _worked(case.circuit, solution, section, (amps, low.value, high.value)),
            state=solution.state.name,
            evidence={"current": figure(amps * 1000, "mA")},
            limit=figure(limit.value * 1000, "mA"),
            certainty=certainty(excess),
            source=limit.cited,
            excess=excess,
        )


def _with(solution: Solution) -> str:
    """Which tube is out of its socket, where that is what leaves the current to the regulator."""
    out = listed(sorted(solution.state.pulled))
    return f" with {out} pulled" if out else ""


def _sense(case: Case, solution: Solution, name: str) -> int:
    """-1 for a regulator below its least current in a state, 1 above its greatest, else 0."""
    tube = case.circuit.tubes[name]
    low, high = tube.type.rating("minimum-current"), tube.type.rating("maximum-current")
    reading = solution.readings.get(tube.sections[0].name)
    if low is None or high is None or reading is None:
        return 0
    amps = reading.plate_ma / 1000
    return int(amps > high.value) - int(amps < low.value)


def stack_of(circuit: Circuit, section: Section) -> tuple[str, ...]:
    """The regulators in series that a section belongs to, uppermost first.

    Each cathode stands on the next one's plate, and most of their current is the same.
    """
    every = [s for _, s in regulators(circuit)]
    names = [section.tube]
    for _ in every:
        top = next(s for s in every if s.tube == names[0])
        low = next(s for s in every if s.tube == names[-1])
        above = [s.tube for s in every if top.electrodes[top.plates[0]] in _feet(s)]
        below = [s.tube for s in every if s.electrodes[s.plates[0]] in _feet(low)]
        names = [*(n for n in above if n not in names), *names]
        names += [n for n in below if n not in names]
    return tuple(names)


def _feet(section: Section) -> set[str]:
    """Where another may stand on: not gnd, from which a negative supply's hangs down."""
    return set(section.cathode_nets) - set(LANDMARKS)


def _ballast(solution: Solution, section: Section, *, too_much: bool) -> str:
    """What to do about the series resistor: fit one where the plate has none."""
    resistors = [b.name for b in _series_resistors(solution, section)]
    if too_much and not resistors:
        return (
            f"Put a resistor between the supply and {section.tube}: (supply - tube voltage) over "
            "load and tube current, reckoned for the lowest and the highest mains"
        )
    named = f" ({listed(resistors)})" if len(resistors) == 1 else ""
    size = "larger" if too_much else "smaller"
    return f"Use a {size} series resistor{named}, reckoned for the lowest and the highest mains"


def series_resistor(solution: Solution, section: Section) -> tuple[Branch, ...]:
    """The one resistor through which a regulator's plate is fed; empty where there are more."""
    found = _series_resistors(solution, section)
    return (found[0],) if len(found) == 1 else ()


def with_ohms(word: str, resistors: tuple[Branch, ...]) -> str:
    """In words: ``through R1 (22 kohm)``; nothing without a resistor of known ohms."""
    found = (f" {word} {b.name} ({ohms(v)})" for b in resistors if (v := b.ohms))
    return "".join(found)


def _series_resistors(solution: Solution, section: Section) -> list[Branch]:
    """The resistors through which a regulator is fed."""
    end, way = _fed_end(section)
    every = (b for b in solution.circuit.at(end) if b.kind is PartKind.RESISTOR)
    return [b for b in every if way * _drop(solution, b, end) > 0]


def _fed_end(section: Section) -> tuple[str, int]:
    """The net at which a regulator is fed, and the sign of what drives current there.

    Its plate; in a negative supply, where that is on gnd, its cathode. A load's current flows the
    other way.
    """
    plate = section.electrodes[section.plates[0]]
    return (section.cathode_nets[0], -1) if plate in LANDMARKS else (plate, 1)


def _drop(solution: Solution, resistor: Branch, end: str) -> float:
    """Volts across a resistor, its far end against ``end``; 0 where they are not known."""
    drop = solution.between(resistor.other(end), end)
    return 0.0 if drop is None else drop.dc


def _worked(
    circuit: Circuit, solution: Solution, section: Section, amps: tuple[float, float, float]
) -> str:
    """The series resistor that puts the tube in the middle of its range, with its power."""
    end, way = _fed_end(section)
    feeding = ballast(circuit, end)
    now, low, high = amps
    if feeding is None:
        return ""
    drop, resistance = way * _drop(solution, feeding, end), feeding.ohms
    if not resistance or drop <= 0:
        return ""
    middle = (low + high) / 2
    value = preferred(drop / (max(drop / resistance - now, 0.0) + middle))
    return f": {ohms(value)} ({watts(drop**2 / value)}) gives it about {amperes(middle)}"


def ballast(circuit: Circuit, plate: str) -> Branch | None:
    """The one resistor that feeds a regulator's plate; ``None`` where there are more or none."""
    found = [
        b
        for b in circuit.at(plate)
        if b.kind is PartKind.RESISTOR and b.other(plate) not in LANDMARKS
    ]
    return found[0] if len(found) == 1 else None


def _capacitors_across(case: Case) -> Iterator[Outcome]:
    """Large capacitors across a regulator, or across two or more in series."""
    sections = {s.tube: s for _, s in regulators(case.circuit)}
    for branch in case.circuit.branches.values():
        farads = branch.farads if branch.kind is PartKind.CAPACITOR else None
        if farads is None or farads <= GLOW_F.value * 1.001:
            continue
        across = _spanned(case.circuit, sections, {branch.a, branch.b})
        told = _filters(case.circuit, branch) and _known(case, across)
        if across and not told:
            yield regulator_current.finding(
                case,
                (*across, branch.name),
                f"{branch.name} ({engineering(farads, 'F')}) stands right across {listed(across)} "
                "and can make the glow oscillate",
                "Use 0.1 uF or less, or put 100 ohm to 1 kohm between them",
                evidence={"capacitance": figure(farads, "F")},
                limit=GLOW_F.figure,
                source=GLOW_F.source,
                excess=farads / GLOW_F.value,
            )


def _known(case: Case, tubes: tuple[str, ...]) -> bool:
    """Whether the warm current of regulators has a number."""
    sections = [s for n in tubes for s in case.circuit.tubes[n].sections]
    return all(case.warm.readings.get(s.name) is not None for s in sections)


def _filters(circuit: Circuit, capacitor: Branch) -> bool:
    """Whether it is the supply's own: a missing series resistor, which the current tells."""
    nets = {capacitor.a, capacitor.b} - set(LANDMARKS)
    return any(
        b.traits.supplies or b.kind is PartKind.INDUCTOR for n in nets for b in circuit.at(n)
    )


def _spanned(circuit: Circuit, sections: dict[str, Section], ends: set[str]) -> tuple[str, ...]:
    """The regulators of one stack that lie between two nets; empty when none do."""
    for section in sections.values():
        if section.electrodes[section.plates[0]] not in ends:
            continue
        stack = stack_of(circuit, section)
        names = stack[stack.index(section.tube) :]
        for i, name in enumerate(names):
            if ends & set(sections[name].cathode_nets) - {section.electrodes[section.plates[0]]}:
                return names[: i + 1]
    return ()


@rule(
    "supply.regulators-paralleled",
    title="Gas regulators in parallel without resistors",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the wiring",
    criterion="Two or more gas regulator tubes have their anodes on one point and their cathodes "
    "on another.",
    why="The first to strike holds the point at its own voltage, below what the other needs to "
    "start: it carries all the current, the other none. In series their voltages add up.",
    source=(PRACTICE, Citation("type-sheet")),
    limits="With a resistor at each anode they share, and are not judged.",
)
def regulators_paralleled(case: Case) -> Iterator[Outcome]:
    """Group the regulators by the two points they stand between."""
    groups: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for tube, section in regulators(case.circuit):
        key = (section.electrodes[section.plates[0]], tuple(sorted(set(section.cathode_nets))))
        groups.setdefault(key, []).append(tube.name)
    for (net, _), names in groups.items():
        if len(names) > 1:
            first, second, *_ = names
            yield regulators_paralleled.finding(
                case,
                tuple(names),
                f"{listed(names)} are in parallel from {net_text(case.circuit, net)}: the first to "
                "strike carries everything, and the others stay dark",
                f"Put them in series, {first}.cathode to {second}.plate, if their volts are to add "
                "up; else give each a resistor of its own",
                certainty="certain",
            )


RULES = (regulator_current, regulators_paralleled)
