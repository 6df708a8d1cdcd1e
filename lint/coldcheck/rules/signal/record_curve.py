"""Record equalisers of any form, recognised by the response that one value a decade off spoils."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import net_text, resistors_at
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering, si
from coldcheck.drawing.wording import ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.rules.signal.equaliser import DECADES, UNIT, WANTED_S
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    import numpy as np
    from numpy.typing import NDArray

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.signal.linearised import Linearised
    from coldcheck.solve.signal.results import Driven

    Array = NDArray[np.float64]
    Complex = NDArray[np.complex128]

FITS_DB = Threshold("a response within this, in dB, of the record curve fits it", 1.0, "", PRACTICE)
MISSES_DB = Threshold("a response further than this, in dB, is none for records", 3.0, "", PRACTICE)
CARTRIDGE_V = (1.5e-3, 15e-3)
"""What magnetic cartridges give, rms volts (common practice); moving coils a tenth of it."""

LEAST_LOAD = Threshold("smallest load of a magnetic cartridge", 15e3, "ohm", PRACTICE)
MOST_LOAD = Threshold("largest load of a magnetic cartridge", 220e3, "ohm", PRACTICE)
DECADE_DB = 10.0
"""One value ten times off moves a response by some 20 dB at most, 10 up and 10 down."""

MOST_PARTS = 600
"""Each part is a column to be solved for: what a set with two such channels does not reach."""

AT_HZ = (40.0, 75.0, 150.0, 300.0, 600.0, 1e3, 2e3, 4e3, 8e3, 15e3)
"""Where it is looked at: above the corners of coupling capacitors, below those of strays."""


@dataclass(frozen=True, slots=True)
class Cure:
    """A value, the factor that mends it, the net that has the curve then, within how many dB."""

    part: Branch
    factor: float
    net: str
    within: float


@rule(
    "signal.record-curve-missed",
    title="Record preamplifier that one value keeps from its curve",
    level="notice",
    states="warm",
    needs="a solved warm state, a signal source, and the values of the parts",
    criterion="From a signal source to every grid, plate, cathode and output the response misses "
    f"the record curve of 3180, 318 and 75 us by more than {MISSES_DB.value:g} dB either way "
    f"between 40 Hz and 15 kHz, and to one of them it follows it within {FITS_DB.value:g} dB as "
    "soon as one resistor or capacitor, and no other, is ten times larger or smaller.",
    why="10 nF for 1 nF in the section of 75 us, and every record sounds dull; a capacitor in the "
    "feedback a decade off, and the bass is gone. All voltages at rest are right.",
    source=(
        Citation("riaa-1954", "the record curve"),
        Citation("arithmetic", "the linear network with one value changed"),
    ),
    limits="The tubes work as they do with the values drawn. Interelectrode and stray capacitances "
    "and the inductance of a pick-up are not in the response. Of two values that would both mend "
    "it none is named; other curves are not recognised, nor a curve that only comes out with "
    "tone controls in the middle of a longer chain. Drawings of more than "
    f"{MOST_PARTS} parts are not looked at.",
    thresholds=(FITS_DB, MISSES_DB),
)
def record_curve_missed(case: Case) -> Iterator[Outcome]:
    """Look at each source's response, and at what it becomes with each value a decade off."""
    signal = case.signal
    if signal is None or not signal.solved or len(case.circuit.branches) > MOST_PARTS:
        return
    for driven in signal.sources.values():
        nets = _looked_at(case.circuit, driven)
        missed = min((_missed_at(driven, n) for n in nets), default=0.0)
        if MISSES_DB.value < missed <= FITS_DB.value + DECADE_DB:
            cures = list(_cures(case, driven, nets))
            if len(cures) == 1:
                yield _finding(case, driven, cures[0])


def _looked_at(circuit: Circuit, driven: Driven) -> tuple[str, ...]:
    """The nets at which a stage takes or gives this signal, outputs first, its own left out."""
    sections = (s for _, s in working(circuit))
    nets = {n for s in sections for e, n in s.electrodes.items() if not e.startswith("screen")}
    ordered = dict.fromkeys([*(o.a for o in driven.outputs), *sorted(nets)])
    return tuple(n for n in ordered if n != driven.net and n in driven.response)


def _missed_at(driven: Driven, net: str) -> float:
    """By how many dB, up and down from the middle, a net's response as drawn misses the curve."""
    import numpy as np

    at = driven.response[net]
    if not np.all(np.abs(at) > 0.0):
        return float("inf")
    level = np.interp(np.log(AT_HZ), np.log(driven.frequencies), 20 * np.log10(np.abs(at)))
    return float(np.ptp(level - _curve()) / 2)


def _curve() -> Array:
    """The record curve at ``AT_HZ``, dB, from direct current down."""
    import numpy as np

    s = 2j * np.pi * np.array(AT_HZ)
    slow, middle, fast = WANTED_S
    return np.asarray(20 * np.log10(np.abs((1 + s * middle) / (1 + s * slow) / (1 + s * fast))))


def _cures(case: Case, driven: Driven, nets: tuple[str, ...]) -> Iterator[Cure]:
    """Each value that, a decade off, gives some net the curve."""
    import numpy as np

    parts = [b for b in case.circuit.branches.values() if b.kind in UNIT and _value(b)]
    for part, factor, share in _varied(case, driven, parts):
        level = 20 * np.log10(np.abs(np.stack([share[n] for n in nets], axis=1)) + 1e-30)
        within = np.ptp(level - _curve()[:, None], axis=0) / 2
        first = int(np.argmax(within <= FITS_DB.value))
        if within[first] <= FITS_DB.value:
            yield Cure(part, factor, nets[first], float(within[first]))


def _varied(
    case: Case, driven: Driven, parts: list[Branch]
) -> Iterator[tuple[Branch, float, dict[str, Complex]]]:
    """Each part a decade up and down; every net's volts (F,) then, per volt at the source."""
    import numpy as np

    from coldcheck.solve.signal.linearised import Linearised

    linear = Linearised(case.circuit, case.warm)
    across = [_across(linear, b) for b in parts]
    columns = np.stack([linear.column({driven.net: 1.0}), *across], axis=1)
    found = np.stack([linear.solve(f, columns) for f in AT_HZ])
    rows = linear.network.nets
    for k, part in enumerate(parts):
        for factor in DECADES:
            moved = _moved(found, k, part, factor, across[k])
            here = moved[:, rows[driven.net]]
            yield part, factor, {n: moved[:, row] / here for n, row in rows.items()}


def _across(linear: Linearised, part: Branch) -> Array:
    return linear.column({part.a: 1.0}) - linear.column({part.b: 1.0})


def _value(part: Branch) -> float | None:
    return si(part.value, UNIT[part.kind])


def _moved(found: Complex, k: int, part: Branch, factor: float, across: Array) -> Complex:
    """The unknowns (F, m) with one value changed, by the formula of Sherman and Morrison.

    ``found`` (F, m, 1 + K) has what the source and a current through each part alone make.
    """
    import numpy as np

    value, hertz = _value(part) or 1.0, np.array(AT_HZ)
    capacitor = part.kind is PartKind.CAPACITOR
    more = 2j * np.pi * hertz * value * (factor - 1) if capacitor else (1 / factor - 1) / value
    alone, own = found[:, :, 0], found[:, :, 1 + k]
    share = more * (alone @ across) / (1 + more * (own @ across))
    return np.asarray(alone - own * share[:, None])


def _finding(case: Case, driven: Driven, cure: Cure) -> Finding:
    part, value = cure.part, _value(cure.part) or 0.0
    unit = "ohm" if part.kind is PartKind.RESISTOR else "F"
    now, then = engineering(value, unit), engineering(value * cure.factor, unit)
    there, missed = net_text(case.circuit, cure.net), _missed_at(driven, cure.net)
    return record_curve_missed.finding(
        case,
        (part.name,),
        f"{part.name} ({now}) looks a decade off: with {then} the response from "
        f"{net_text(case.circuit, driven.net)} to {there} is the 3180, 318 and 75 us of a record "
        f"within {cure.within:.1f} dB, as drawn it misses them by {missed:.0f} dB",
        f"Look at {part.name}: {then} fits",
        state="warm",
        evidence={
            "written": figure(value, "ohm") if unit == "ohm" else figure(value, "F"),
            "off_by_db": figure(missed, ""),
            "mended_db": figure(cure.within, ""),
        },
        limit=FITS_DB.figure,
        certainty="likely",
        excess=min(missed, 1e3) / FITS_DB.value,
    )


@rule(
    "signal.cartridge-load-off",
    title="Magnetic cartridge with a load a decade off",
    level="notice",
    states="warm",
    needs="a solved warm state, a signal source of a cartridge's level, and an equaliser",
    criterion="A signal source of "
    f"{1e3 * CARTRIDGE_V[0]:g} to {1e3 * CARTRIDGE_V[1]:g} mV whose response somewhere follows the "
    f"record curve within {MISSES_DB.value:g} dB has resistors to gnd of less than "
    f"{LEAST_LOAD.value / 1e3:g} kohm or more than {MOST_LOAD.value / 1e3:g} kohm, and ten or a "
    "hundred times as much, or a tenth, is within that.",
    why="A magnetic cartridge has some half a henry, and its makers reckon with 47 kohm. With 4.7 "
    "kohm its own inductance cuts the treble from 2 kHz on; with 470 kohm it peaks above 10 kHz.",
    source=(Citation("practice", "47 kohm; old types 27 to 100 kohm"), Citation("arithmetic")),
    limits="Moving coils, which give less than a millivolt and want 100 ohm or so, are left alone, "
    "and what is loaded elsewhere than at the source. The inductance itself is not reckoned.",
    thresholds=(LEAST_LOAD, MOST_LOAD, MISSES_DB),
)
def cartridge_load_off(case: Case) -> Iterator[Outcome]:
    """Look at what loads the source of each record preamplifier."""
    signal = case.signal
    for driven in signal.sources.values() if signal is not None and signal.solved else ():
        if not CARTRIDGE_V[0] <= driven.volts <= CARTRIDGE_V[1]:
            continue
        loads = [b for b in resistors_at(case.circuit, driven.net) if GROUND in (b.a, b.b)]
        values = [v for b in loads if (v := b.ohms)]
        nets = _looked_at(case.circuit, driven)
        fits = any(_missed_at(driven, n) <= MISSES_DB.value for n in nets)
        if fits and len(loads) == 1 and values:
            yield from _load(case, driven, loads[0], values[0])


def _load(case: Case, driven: Driven, part: Branch, value: float) -> Iterator[Outcome]:
    """One resistor that is out of what cartridges want, where a nought or two more is not."""
    low, high = LEAST_LOAD.value, MOST_LOAD.value
    meant = next((value * f for f in (10.0, 100.0, 0.1) if low <= value * f <= high), None)
    if low <= value <= high or meant is None:
        return
    limit = LEAST_LOAD if value < low else MOST_LOAD
    heard = "cuts the treble" if value < low else "lets the treble peak"
    yield cartridge_load_off.finding(
        case,
        (part.name, net_text(case.circuit, driven.net)),
        f"{part.name}: {ohms(value)} loads {net_text(case.circuit, driven.net)}, a magnetic "
        f"cartridge's {engineering(driven.volts, 'V')}: with its inductance that {heard}",
        f"Look at the original again: {ohms(meant)} would suit",
        state="warm",
        evidence={"load": figure(value, "ohm")},
        limit=limit.figure,
        certainty="likely",
        excess=max(low / value, value / high),
    )


RULES: tuple[Rule, ...] = (record_curve_missed, cartridge_load_off)
