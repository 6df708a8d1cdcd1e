"""What a rectifier has to block in the half cycle in which it does not conduct."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.anatomy.rectifiers import rectifier_tubes
from coldcheck.circuit.tubes import centred
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import magnitude
from coldcheck.drawing.wording import volts
from coldcheck.judge.figure import figure
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.ranges import BARELY, UNKNOWN, WIDEST, certainty, possible, reach
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch
    from coldcheck.drawing.model import Part
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.solve.solution import Solution
    from coldcheck.sources.register import Origin

DIODE_VOLTS = {
    name: Threshold(f"inverse voltage of the {name}", volts, "V", Citation("jedec-1n4001"))
    for name, volts in {
        "1N4001": 50.0,
        "1N4002": 100.0,
        "1N4003": 200.0,
        "1N4004": 400.0,
        "1N4005": 600.0,
        "1N4006": 800.0,
        "1N4007": 1000.0,
        "UF4007": 1000.0,
    }.items()
}
CONDUCTS_V = 0.3
CENTRE_DOUBT = Threshold(
    "times a design-centre inverse rating up to which it is advice", 1.10, "", PRACTICE
)
"""A design-centre rating has the usual spread of the mains in it: this little is advice."""


@rule(
    "supply.inverse-voltage",
    title="Rectifier asked to block more than it can",
    level="notice",
    states="every solved state; high line is usually the worst",
    needs="a solved state and the inverse rating of the tube or diode",
    criterion=(
        "The largest reverse voltage over a mains cycle exceeds the peak inverse rating; a "
        "possible advice where only the usual spread of the parts reaches that of a diode, or an "
        "absolute or design-maximum rating of a tube. Up to 10 % beyond a design-centre rating is "
        "advice."
    ),
    why=(
        "In the half cycle in which it does not conduct, a rectifier holds off the winding's "
        "peak on top of the charged capacitor. If it breaks down it shorts the winding and puts "
        "AC on the filter capacitors."
    ),
    source=(Citation("type-sheet"), Citation("jedec-1n4001")),
    limits=(
        "Mains transients and ringing of the winding are not in the figure: silicon wants a "
        "margin of its own. Series diodes are taken to share by their leakage only as far as "
        "the drawing shows resistors."
    ),
    thresholds=(*DIODE_VOLTS.values(), CENTRE_DOUBT, UNKNOWN, WIDEST),
)
def inverse_voltage(case: Case) -> Iterator[Outcome]:
    """Compare reverse peaks with ratings, tubes first, then diodes."""
    boxes = case.circuit.vibrators
    diodes = [
        b
        for b in case.circuit.branches.values()
        if b.kind is PartKind.DIODE and boxes.keys().isdisjoint(b.throws)
    ]  # the contacts of a synchronous vibrator block by their gap
    names = (*(t.name for t, _ in rectifier_tubes(case.circuit)), *(d.name for d in diodes))
    reason = unsolved(case)
    if reason is not None:
        if names:
            yield inverse_voltage.not_judged(names, reason)
        return
    yield from _tube_inverse(case)
    for diode in diodes:
        yield from _diode_inverse(case, diode)


def _tube_inverse(case: Case) -> Iterator[Outcome]:
    for tube, section in rectifier_tubes(case.circuit):
        limit = tube.type.rating("inverse-voltage", section.type.name)
        if limit is None:
            reason = f"no peak inverse voltage of {tube.type.name} is on file"
            yield inverse_voltage.not_judged((tube.name,), reason)
            continue
        edge = not centred(tube.type)
        cathode = section.cathode_nets[0]
        for solution in case.solved():
            reading = solution.readings.get(section.name)
            if reading is not None:
                ends = (section.electrodes.get("plate", cathode), cathode)
                found = _Blocked(tube.name, reading.inverse_v, limit.value, limit.cited)
                yield from _inverse(case, solution, found, ends, edge=edge)


def _diode_inverse(case: Case, diode: Branch) -> Iterator[Outcome]:
    block = case.circuit.bridges.get(diode.owner)
    limit, source = _diode_rating(diode.part if block is None else block.part)
    place = diode.name if block is None else block.name
    for solution in case.solved():
        wave = solution.between(diode.b, diode.a)
        if wave is None:
            continue
        if limit is None:
            first = block is None or diode is block.diodes[0]
            if first and solution.state.kind == "warm" and wave.high > 1:
                text = f"no inverse voltage rating; it blocks {volts(wave.high)}"
                yield inverse_voltage.not_judged((place,), text)
        else:
            found = _Blocked(place, wave.high, limit, source)
            yield from _inverse(case, solution, found, (diode.b, diode.a), edge=True)


def _diode_rating(part: Part | None) -> tuple[float | None, Origin]:
    if part is None:
        return None, ""
    if part.voltage is not None:
        rms = math.sqrt(2) if part.voltage_is_ac else 1.0
        return rms * magnitude(part.voltage, "volt"), Citation("drawing", "the rating written")
    known = DIODE_VOLTS.get((part.type or "").upper())
    return (None, "") if known is None else (known.value, known.source)


@dataclass(frozen=True, slots=True)
class _Blocked:
    """What a rectifier blocks, its limit (volts), and where the limit is from."""

    name: str
    peak: float
    limit: float
    source: Origin


def _inverse(
    case: Case, solution: Solution, found: _Blocked, ends: tuple[str, str], *, edge: bool
) -> Iterator[Finding]:
    most = reach(solution, ends, found.peak, found.limit, edge=edge)
    if most is not None:
        finding = _blocked(case, solution, found)
        if not edge and found.peak <= found.limit * CENTRE_DOUBT.value:
            finding = replace(finding, level="advice")
        yield finding if found.peak > found.limit * BARELY else possible(finding, most)


def _blocked(case: Case, solution: Solution, found: _Blocked) -> Finding:
    name, peak, limit = found.name, found.peak, found.limit
    return inverse_voltage.finding(
        case,
        (name,),
        f"{name} has to block {volts(peak)} and is rated {volts(limit)}",
        _never_conducts(case, name)
        + f"Use one rated {volts(_round_up(peak * 1.25))} or more, or two in series",
        state=solution.state.name,
        evidence={"inverse_peak": figure(peak, "V")},
        limit=figure(limit, "V"),
        certainty=certainty(peak / limit),
        source=found.source,
        excess=peak / limit,
    )


def _never_conducts(case: Case, name: str) -> str:
    """A word about the direction of a diode that no state makes conduct."""
    diode = case.circuit.branches.get(name)
    if diode is None or diode.kind is not PartKind.DIODE:
        return ""
    waves = [s.between(diode.a, diode.b) for s in case.solved()]
    if any(w is not None and w.high > CONDUCTS_V for w in waves):
        return ""
    return f"Look at its direction first: as drawn {name} never conducts. "


def _round_up(number: float) -> float:
    return float(100 * math.ceil(number / 100))


RULES = (inverse_voltage,)
