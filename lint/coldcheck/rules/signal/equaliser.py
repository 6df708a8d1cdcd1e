"""Equalisers for records, recognised by what they become when one value is put right."""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING

from coldcheck.anatomy.coupling import coupled, still_nets
from coldcheck.anatomy.neighbourhood import is_own, own_text
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering, si
from coldcheck.drawing.wording import listed
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
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

TAPE_S = (3180e-6, (28e-6, 280e-6))
"""What a replay equaliser for tape makes: 3180 microseconds, and above it 35 to 200 by speed and
standard (common practice; a fifth beside them)."""

FITS = Threshold("a time constant within this of the record curve's fits it", 0.25, "", PRACTICE)
LEAST_RATIO = Threshold(
    "least ratio of two resistors that are no divider of volts", 1.5, "", PRACTICE
)
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
    blame=Blame.SLIP,
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


@rule(
    "signal.tape-equaliser-decade-off",
    title="Replay equaliser for tape with one value a decade off",
    level="notice",
    blame=Blame.VALUE,
    states="the drawing alone",
    needs="the values of the equaliser's two resistors and its capacitor",
    criterion=(
        "Two resistors and a capacitor alone lead from behind a plate back to a cathode or a grid, "
        "the capacitor across the larger one or in series with the smaller one. They do not make "
        f"3180 microseconds within {100 * FITS.value:g} % and one of "
        f"{TAPE_S[1][0] * 1e6:g} to {TAPE_S[1][1] * 1e6:g}, nor 3180 and 318, and do as soon as "
        "one value, and no other, is ten times larger or smaller."
    ),
    why=(
        "15n for 1n5 in the feedback, and a tape sounds as if a blanket lay over it. All voltages "
        "at rest are right, and the gain in the bass too."
    ),
    source=(
        Citation("practice", "3180 us, and 35 to 120 us by speed: replay curves from memory"),
        Citation("arithmetic", "the time constants of the two forms"),
    ),
    limits=(
        "Replay curves without a time constant in the bass, of a resistor and a capacitor, and "
        "passive equalisers are not recognised."
    ),
    thresholds=(FITS,),
)
def tape_equaliser_decade_off(case: Case) -> Iterator[Outcome]:
    """Try each value of each such network a decade up and down."""
    for parts, constants in _fed_back(case.circuit):
        found = [si(b.value, UNIT[b.kind]) for b in parts]
        values = tuple(v for v in found if v)
        if len(values) < len(parts) or _replays(constants(values)) or _cuts(constants(values)):
            continue
        cures = [(k, factor) for k in range(len(values)) for factor in DECADES
                 if _replays(constants(_changed(values, k, factor)))]  # fmt: skip
        if len(cures) == 1:
            yield _for_tape(case, parts, (values, constants), cures[0])


Pair = tuple[float, float]


def _replays(made: Pair) -> bool:
    """Whether time constants are those of a tape's replay."""
    low, high = TAPE_S[1]
    return _near(made[0], TAPE_S[0]) and low <= made[1] <= high


def _cuts(made: Pair) -> bool:
    """Whether time constants are the two of the record curve that lie in the bass."""
    return _near(made[0], WANTED_S[0]) and _near(made[1], WANTED_S[1])


def _near(made: float, wanted: float) -> bool:
    return made > 0 and max(made / wanted, wanted / made) - 1 <= FITS.value


def _across_constants(values: tuple[float, ...]) -> Pair:
    """A capacitor across the larger resistor, the smaller in series with both."""
    high, low, farads = values
    return high * farads, high * low / (high + low) * farads


def _beside_constants(values: tuple[float, ...]) -> Pair:
    """The larger resistor across the capacitor in series with the smaller."""
    high, low, farads = values
    return (high + low) * farads, low * farads


def _fed_back(
    circuit: Circuit,
) -> Iterator[tuple[tuple[Branch, ...], Callable[[tuple[float, ...]], Pair]]]:
    """Such networks: the larger and the smaller resistor, the capacitor; and what they make."""
    for net in circuit.graph.nodes:
        near = {b.name: b for b in circuit.at(net)}
        caps = [b for b in near.values() if b.kind is PartKind.CAPACITOR]
        ohmic = [b for b in near.values() if b.kind is PartKind.RESISTOR]
        if circuit.electrodes_at(net) or len(caps) != 1 or len(near) != len(ohmic) + 1:
            continue
        end = caps[0].other(net)
        across = [b for b in ohmic if b.other(net) == end]
        rest = [b for b in ohmic if b.other(net) != end]
        if len(across) == len(rest) == 1 and _feeds_back(circuit, end, rest[0].other(net)):
            yield (across[0], rest[0], caps[0]), _across_constants
        elif len(rest) == 1 and not across:
            far = rest[0].other(net)
            both = [b for b in circuit.at(end) if b.other(end) == far
                    and b.kind is PartKind.RESISTOR]  # fmt: skip
            if len(both) == 1 and _feeds_back(circuit, end, far):
                yield (both[0], rest[0], caps[0]), _beside_constants


def _feeds_back(circuit: Circuit, one: str, other: str) -> bool:
    """Whether one end is at a cathode or a grid, and a plate gives a signal to the other."""
    still = still_nets(circuit)
    for near, far in ((one, other), (other, one)):
        taken = any(e in ("cathode", "grid") for _, e in circuit.electrodes_at(near))
        reached = coupled(circuit, [far], {*still, near}) if taken and far not in still else ()
        if any(e == "plate" for n in reached for _, e in circuit.electrodes_at(n)):
            return True
    return False


def _for_tape(
    case: Case,
    parts: tuple[Branch, ...],
    made: tuple[tuple[float, ...], Callable[[tuple[float, ...]], Pair]],
    cure: tuple[int, float],
) -> Finding:
    (values, constants), (k, factor) = made, cure
    part, unit = parts[k], "ohm" if parts[k].kind is PartKind.RESISTOR else "F"
    now, then = engineering(values[k], unit), engineering(values[k] * factor, unit)
    drawn, mended = constants(values), constants(_changed(values, k, factor))
    others = tuple(b.name for b in parts if b is not part)
    slow, fast = (f"{t * 1e6:.0f}" for t in mended)
    return tape_equaliser_decade_off.finding(
        case,
        (part.name, *others),
        f"{part.name} ({now}) looks a decade off: with {then} it and {', '.join(others)} make the "
        f"{slow} and {fast} us of a tape's replay, as drawn "
        f"{drawn[0] * 1e6:.0f} and {drawn[1] * 1e6:.0f} us",
        f"Look at {part.name}: {then} fits",
        evidence={
            "written": figure(values[k], "ohm") if unit == "ohm" else figure(values[k], "F"),
            "slow": figure(drawn[0], "s"),
            "fast": figure(drawn[1], "s"),
        },
        limit=FITS.figure,
        certainty="likely",
    )


@rule(
    "signal.equaliser-joint-open",
    title="Two resistors and two capacitors whose middles are not joined",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the wiring",
    criterion=(
        "Between the same two points lie two resistors in series and two unpolarised capacitors in "
        "series, nothing else is at either of their middles, and the larger of the resistors is "
        f"{LEAST_RATIO.value:g} times the smaller or more."
    ),
    why=(
        "Joined they are two pairs of R and C in series, as in an equaliser for records. "
        "With the dot at the crossing missing they are one resistor across one capacitor: one "
        "corner in place of three."
    ),
    source=PRACTICE,
    limits=(
        "Two equal resistors in series stand more volts than one, and are left alone; "
        "electrolytics are capacitor.series-unbalanced's."
    ),
    thresholds=(LEAST_RATIO, FITS),
)
def equaliser_joint_open(case: Case) -> Iterator[Outcome]:
    """Look for a pair of each between the same ends."""
    strings = list(_strings(case.circuit))
    for middle, pair, ends in strings:
        for other, caps, same in strings:
            kinds = (pair[0].kind, caps[0].kind)
            if ends == same and kinds == (PartKind.RESISTOR, PartKind.CAPACITOR):
                values = sorted(b.ohms or 0.0 for b in pair)
                if values[0] > 0 and values[1] >= LEAST_RATIO.value * values[0]:
                    yield _unjoined(case, (pair, caps), (middle, other), values)


def _strings(circuit: Circuit) -> Iterator[tuple[str, tuple[Branch, Branch], frozenset[str]]]:
    """Two resistors, or two unpolarised capacitors, on a net that has nothing else; their ends."""
    for net in circuit.graph.nodes:
        at = circuit.at(net)
        alike = len(at) == 2 and at[0].kind is at[1].kind and at[0].kind in UNIT
        if alike and not circuit.electrodes_at(net) and not any(b.plus for b in at):
            ends = frozenset(b.other(net) for b in at)
            if len(ends) == 2:
                yield net, (at[0], at[1]), ends


def _unjoined(
    case: Case,
    strings: tuple[tuple[Branch, Branch], tuple[Branch, Branch]],
    middles: tuple[str, str],
    values: list[float],
) -> Finding:
    pair, caps = strings
    ohmic, held = (listed(b.name for b in s) for s in strings)
    named = [own_text(case.circuit, n) for n in middles]
    made = Network((*pair, *_in_step(pair, caps, middles)), _pair_constants)
    fits = made.values is not None and min(
        made.off(made.values), made.off(_swapped(_swapped(made.values, 0, 1), 2, 3))
    ) <= FITS.value  # fmt: skip
    joined = ", and joined they make the 3180, 318 and 75 us of a record" if fits else ""
    return equaliser_joint_open.finding(
        case,
        (*(b.name for b in caps), *(b.name for b in pair)),
        f"the middle of {held} is not joined to that of {ohmic}, across which they lie: as drawn "
        f"they are one resistor and one capacitor{joined}",
        f"Join {named[1]}, the middle of {held}, to {named[0]}, that of {ohmic}"
        if all(map(is_own, named))
        else f"Join the middle of {held} to that of {ohmic}",
        evidence={"ratio": figure(values[1] / values[0], "")},
        limit=LEAST_RATIO.figure,
        certainty="certain" if fits else "likely",
    )


def _in_step(
    pair: tuple[Branch, Branch], caps: tuple[Branch, Branch], middles: tuple[str, str]
) -> tuple[Branch, Branch]:
    """The capacitors in the order of the resistors that they would be across."""
    first = pair[0].other(middles[0])
    return caps if caps[0].other(middles[1]) == first else (caps[1], caps[0])


RULES: tuple[Rule, ...] = (
    equaliser_decade_off,
    equaliser_exchanged,
    tape_equaliser_decade_off,
    equaliser_joint_open,
)
