"""Equalisers for records, recognised by what they become when one value is put right."""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING

from coldcheck.anatomy.coupling import still_nets
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering, si
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

WANTED_S = (3180e-6, 318e-6, 75e-6)
"""The time constants of the record curve of 1954: 3180, 318 and 75 microseconds (memory)."""

FITS = Threshold("a time constant within this of the record curve's fits it", 0.25, "", PRACTICE)
DECADES = (10.0, 0.1)
UNIT = {PartKind.RESISTOR: "ohm", PartKind.CAPACITOR: "farad"}


@dataclass(frozen=True, slots=True)
class Network:
    """Two resistors and two capacitors, and the three time constants they make, seconds."""

    parts: tuple[Branch, ...]
    constants: Callable[[tuple[float, ...]], tuple[float, float, float] | None]

    @property
    def values(self) -> tuple[float, ...] | None:
        """Ohms and farads, ``None`` where one is not known."""
        found = [si(b.value, UNIT[b.kind]) for b in self.parts]
        return tuple(v for v in found if v) if all(found) else None

    def off(self, values: tuple[float, ...]) -> float:
        """The largest share by which a time constant misses the curve."""
        made = self.constants(values)
        if made is None:
            return float("inf")
        pairs = zip(made, WANTED_S, strict=True)
        return max(max(t / w, w / t) - 1 if t > 0 else float("inf") for t, w in pairs)


@rule(
    "signal.equaliser-decade-off",
    title="Record equaliser with one value a decade off",
    level="notice",
    states="the drawing alone",
    needs="the values of the equaliser's two resistors and two capacitors",
    criterion=(
        "Two resistors and two capacitors, in one of the two usual forms, do not make the time "
        "constants 3180, 318 and 75 microseconds, and do, each within "
        f"{100 * FITS.value:g} %, as soon as one value is ten times larger or smaller."
    ),
    why=(
        "220p for 2n2 in an equaliser and the record sounds like a telephone, or like a cellar. "
        "All voltages at rest are right, and only the ear or an oscilloscope finds it."
    ),
    source=(
        Citation("riaa-1954", "the record curve"),
        Citation("arithmetic", "the time constants of the two forms"),
    ),
    limits=(
        "Known are a resistor into a shunt of C beside R and C in series, and two parallel pairs "
        "of R and C in series. What the stages around add to them is not reckoned; other forms, "
        "and networks in two stages, are signal.record-curve-missed's. Other curves and tone "
        "controls are not recognised."
    ),
    thresholds=(FITS,),
)
def equaliser_decade_off(case: Case) -> Iterator[Outcome]:
    """Try each value of each such network a decade up and down."""
    for network in (*_passive(case.circuit), *_two_pairs(case.circuit)):
        values = network.values
        if values is None or network.off(values) <= FITS.value:
            continue
        cures = [(k, factor) for k in range(len(values)) for factor in DECADES
                 if network.off(_changed(values, k, factor)) <= FITS.value]  # fmt: skip
        if len(cures) == 1:
            yield _finding(case, network, values, cures[0])


@rule(
    "signal.equaliser-exchanged",
    title="Record equaliser with two of its parts in each other's place",
    level="notice",
    states="the drawing alone",
    needs="the values of the equaliser's two resistors and two capacitors",
    criterion=(
        "Two resistors and two capacitors, in one of the two usual forms, do not make the time "
        "constants 3180, 318 and 75 microseconds, and do, each within "
        f"{100 * FITS.value:g} %, as soon as its capacitors, or its resistors, change places."
    ),
    why=(
        "All voltages at rest are right, and so is every value on the parts list: only the ear or "
        "an oscilloscope finds that bass and treble are wrong."
    ),
    source=(
        Citation("practice", "the record curve of 1954, from memory"),
        Citation("arithmetic", "the time constants of the two forms"),
    ),
    limits=(
        "Known are the forms that signal.equaliser-decade-off knows. A part exchanged with one "
        "outside the equaliser is not seen."
    ),
    thresholds=(FITS,),
)
def equaliser_exchanged(case: Case) -> Iterator[Outcome]:
    """Let the two capacitors, and the two resistors, of each such network change places."""
    told = set[frozenset[str]]()
    for network in (*_passive(case.circuit), *_two_pairs(case.circuit)):
        parts, places = frozenset(b.name for b in network.parts), _exchange(network)
        if places is not None and parts not in told:
            told.add(parts)
            yield _exchanged(case, network, network.values or (), places)


def _exchange(network: Network) -> tuple[int, int] | None:
    """The places that, exchanged, make the curve; two pairs of R and C may do with either."""
    values = network.values
    if values is None or network.off(values) <= FITS.value:
        return None
    ways = ((2, 3), (0, 1))
    return next((w for w in ways if network.off(_swapped(values, *w)) <= FITS.value), None)


def _swapped(values: tuple[float, ...], one: int, other: int) -> tuple[float, ...]:
    moved = list(values)
    moved[one], moved[other] = moved[other], moved[one]
    return tuple(moved)


def _exchanged(
    case: Case, network: Network, values: tuple[float, ...], places: tuple[int, int]
) -> Finding:
    first, second = (network.parts[k].name for k in places)
    return equaliser_exchanged.finding(
        case,
        (first, second, *(b.name for b in network.parts if b.name not in (first, second))),
        f"{first} and {second} are in each other's place: exchanged, the equaliser makes the "
        "3180, 318 and 75 us of a record, as drawn it does not",
        f"Exchange {first} and {second}",
        evidence={"off_by": figure(network.off(values), "")},
        limit=FITS.figure,
        certainty="likely",
        excess=min(network.off(values), 1e6) / FITS.value,
    )


def _changed(values: tuple[float, ...], k: int, factor: float) -> tuple[float, ...]:
    return (*values[:k], values[k] * factor, *values[k + 1 :])


def _shunt_constants(values: tuple[float, ...]) -> tuple[float, float, float] | None:
    """Series R, then R2 with C1 in series beside C2: poles by the quadratic, zero R2 C1."""
    series, low, large, small = values
    product = series * low * large * small
    total = series * (large + small) + low * large
    root = total**2 - 4 * product
    if root < 0:
        return None
    slow = (total + sqrt(root)) / 2
    return slow, low * large, product / slow


def _pair_constants(values: tuple[float, ...]) -> tuple[float, float, float]:
    """R1 beside C1 in series with R2 beside C2: poles R1 C1, R2 C2, and the zero between."""
    high, low, large, small = values
    return high * large, high * low * (large + small) / (high + low), low * small


def _passive(circuit: Circuit) -> Iterator[Network]:
    """Nets with a series resistor and both shunts to points that hold still."""
    still = still_nets(circuit)
    for net in set(circuit.graph.nodes) - still:
        near = circuit.at(net)
        shunts = [b for b in near if b.kind is PartKind.CAPACITOR and b.other(net) in still]
        resistors = [b for b in near if b.kind is PartKind.RESISTOR and b.other(net) not in still]
        for first in near if len(shunts) == 1 else ():
            leg = _leg(circuit, first, net, still)
            for series in (b for b in resistors if leg and b not in leg):
                yield Network((series, *leg, shunts[0]), _shunt_constants)


def _leg(circuit: Circuit, first: Branch, net: str, still: frozenset[str]) -> tuple[Branch, ...]:
    """Resistor and capacitor in series to a still point, whichever comes first; else nothing."""
    far = first.other(net)
    others = [b for b in circuit.at(far) if b is not first] if far not in still else []
    if len(others) != 1 or circuit.electrodes_at(far) or others[0].other(far) not in still:
        return ()
    kinds = {b.kind: b for b in (first, others[0])}
    fits = kinds.keys() == {PartKind.RESISTOR, PartKind.CAPACITOR}
    return (kinds[PartKind.RESISTOR], kinds[PartKind.CAPACITOR]) if fits else ()


def _two_pairs(circuit: Circuit) -> Iterator[Network]:
    """Nets on which two parallel pairs of R and C meet, and nothing else."""
    for net in circuit.graph.nodes:
        near = circuit.at(net)
        if len(near) != 4 or circuit.electrodes_at(net):
            continue
        sides: dict[str, dict[PartKind, Branch]] = {}
        for branch in near:
            sides.setdefault(branch.other(net), {})[branch.kind] = branch
        pairs = [s for s in sides.values() if set(s) == {PartKind.RESISTOR, PartKind.CAPACITOR}]
        if len(pairs) == 2:
            for one, two in (pairs, pairs[::-1]):
                parts = (
                    *(one[PartKind.RESISTOR], two[PartKind.RESISTOR]),
                    *(one[PartKind.CAPACITOR], two[PartKind.CAPACITOR]),
                )
                yield Network(parts, _pair_constants)


def _finding(
    case: Case, network: Network, values: tuple[float, ...], cure: tuple[int, float]
) -> Finding:
    k, factor = cure
    part = network.parts[k]
    unit = "ohm" if part.kind is PartKind.RESISTOR else "F"
    now, then = engineering(values[k], unit), engineering(values[k] * factor, unit)
    others = tuple(b.name for b in network.parts if b is not part)
    return equaliser_decade_off.finding(
        case,
        (part.name, *others),
        f"{part.name} ({now}) looks a decade off: with {then} it and {', '.join(others)} make the "
        "3180, 318 and 75 us of a record equaliser, as drawn they do not",
        f"Look at {part.name}: {then} fits",
        evidence={
            "written": figure(values[k], "ohm") if unit == "ohm" else figure(values[k], "F"),
            "off_by": figure(network.off(values), ""),
        },
        limit=figure(FITS.value, ""),
        certainty="likely",
        excess=min(network.off(values), 1e6) / FITS.value,
    )


RULES: tuple[Rule, ...] = (equaliser_decade_off, equaliser_exchanged)
