"""Electrolytics without room to spare, and capacitors on plates that swing above the supply."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from coldcheck.anatomy.galvanic import jacks
from coldcheck.anatomy.neighbourhood import AMPLIFYING
from coldcheck.anatomy.reach import reach
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import listed, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.ranges import UNKNOWN, certainty
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Finding, Outcome

STOCK_V = (6.3, 10, 16, 25, 35, 50, 63, 100, 160, 200, 250, 350, 400, 450, 500, 630, 1000, 1600)
"""Working voltages one can buy (common practice)."""

LARGEST_V = Threshold("highest working voltage of ordinary electrolytics", 500.0, "V", PRACTICE)
"""The highest working voltage of ordinary electrolytics (common practice)."""

HELD_F = Threshold("capacitance that holds a plate where it is", 1e-6, "F", PRACTICE)
"""A capacitor this large on a plate keeps it where it is."""

SUPPLY_SHARE = Threshold(
    "rise of a supply that is allowed for, times its DC",
    1.2,
    "",
    Citation("magazine-1993", "1.2 times B+"),
)
RATING_SHARE = Threshold(
    "share of its rating an electrolytic is used to",
    0.8,
    "",
    Citation("magazine-1993", "0.8 of the rating"),
)
LARGEST_SHARE = Threshold(
    "share of its rating an electrolytic of the highest voltage is used to", 0.9, "", PRACTICE
)


@rule(
    "capacitor.little-margin",
    title="Electrolytic with no voltage to spare",
    level="advice",
    states="warm",
    needs="a working voltage on the drawing, and a solved state",
    criterion=(
        "1.2 times the DC across an electrolytic is more than 0.8 times its working voltage. One "
        "of 500 V or more, the largest made, is held to 0.9 times its working voltage."
    ),
    why=(
        "An electrolytic run at its limit, warm, dries out in a few years instead of twenty. "
        "The mains rises, tubes are pulled, the supply is up before the tubes draw: the 1.2 is "
        "for that, the 0.8 for a long life."
    ),
    source=(
        Citation("magazine-1993", "1.2 times B+ against 0.8 of the rating"),
        Citation("practice", "80 to 90 % of the rating"),
    ),
    limits=(
        "The nominal warm state only; what other states do to it is capacitor.over-voltage. "
        "Temperature and ripple current are not reckoned."
    ),
    thresholds=(LARGEST_SHARE, LARGEST_V, RATING_SHARE, SUPPLY_SHARE, UNKNOWN),
)
def little_margin(case: Case) -> Iterator[Outcome]:
    """Hold the warm DC of every electrolytic against its de-rated working voltage."""
    if unsolved(case) is not None or not case.warm.converged:
        return
    for branch in case.circuit.branches.values():
        rated = working_volts(branch)
        wave = case.warm.between(branch.a, branch.b)
        if rated is None or wave is None or branch.plus is None or branch.a == branch.b:
            continue
        steady = abs(wave.dc)
        most = rated * usable_share(rated)
        if steady > most * 1.0005 and steady <= rated:
            yield _no_room(case, branch, steady, rated)


def usable_share(rated: float) -> float:
    """The share of a working voltage one should use for the nominal DC."""
    return (
        LARGEST_SHARE.value if rated >= LARGEST_V.value else RATING_SHARE.value / SUPPLY_SHARE.value
    )


def _no_room(case: Case, branch: Branch, steady: float, rated: float) -> Finding:
    most = rated * usable_share(rated)
    fits = next(
        (v for v in STOCK_V if rated < v <= LARGEST_V.value and steady <= v * usable_share(v)), None
    )
    remedy = (
        f"Use one for {fits:g} V"
        if fits
        else "Use two in series with the same resistor across each, or a film capacitor"
    )
    return little_margin.finding(
        case,
        (branch.name,),
        f"{branch.name} runs at {volts(steady)}, rated {volts(rated)}: for a long life no more "
        f"than {volts(most)}",
        remedy,
        state=case.warm.state.name,
        evidence={"dc": figure(steady, "V"), "rated": figure(rated, "V")},
        limit=figure(most, "V"),
        certainty=certainty(steady / most),
        excess=steady / most,
    )


def working_volts(branch: Branch) -> float | None:
    """A capacitor's written DC working voltage; ``None`` for AC parts and where none is written."""
    part = branch.part
    if (
        branch.kind is not PartKind.CAPACITOR
        or part is None
        or part.voltage_is_ac
        or part.safety_class
    ):
        return None
    return si(part.voltage, "volt")


HARDLY_OHM = Threshold("coil across which a plate hardly swings", 2e3, "ohm", PRACTICE)


@rule(
    "capacitor.no-room-for-swing",
    title="Capacitor on a choke-fed plate that cannot take the swing",
    level="notice",
    states="warm",
    needs="a working voltage on the drawing, and a solved state",
    criterion=(
        "A capacitor ends on a plate that is fed through a choke, coil or transformer, and the DC "
        "across it plus a swing of the whole plate-to-cathode voltage is more than its working "
        "voltage. With a jack behind it, it is a warning. Where nothing but a leak is on the far "
        "end, that end follows the plate, unless the coil of the plate still has more than "
        f"{HARDLY_OHM.value / 1e3:g} kohm where the capacitor takes half of the swing."
    ),
    why=(
        "A plate with an inductance as its load swings as far above the supply as it swings below "
        "it: at full output it peaks near twice the supply, and higher when it is modulated. A "
        "blocking capacitor that gives way puts the supply on the antenna or the output."
    ),
    source=Citation("arithmetic", "B+ plus the peak of the signal, nearly twice B+ at full output"),
    limits=(
        "A full swing is assumed, whatever the signal written; more than that (plate modulation, "
        "an output transformer without load) is not seen. RC-coupled plates stay below the supply "
        "and are judged by capacitor.over-voltage."
    ),
    thresholds=(HARDLY_OHM, HELD_F, UNKNOWN),
)
def no_room_for_swing(case: Case) -> Iterator[Outcome]:
    """Add the swing of choke-fed plates to the DC of the capacitors on them."""
    if unsolved(case) is not None or not case.warm.converged:
        return
    swings = _swings(case)
    for branch in case.circuit.branches.values():
        rated = working_volts(branch)
        standing, swing = _standing_and_swing(case, branch, swings)
        if rated is not None and swing and standing <= rated < standing + swing:
            yield _swung(case, branch, (standing, swing, rated))


def full_swing(case: Case, branch: Branch) -> float | None:
    """Volts across a capacitor at the top of a full swing; ``None`` where nothing swings freely."""
    if not case.warm.converged:
        return None
    standing, swing = _standing_and_swing(case, branch, _swings(case))
    return standing + swing if swing else None


def _standing_and_swing(
    case: Case, branch: Branch, swings: Mapping[str, float]
) -> tuple[float, float]:
    if branch.a == branch.b:
        return 0.0, 0.0
    wave = case.warm.between(branch.a, branch.b)
    standing = abs(wave.dc) if wave is not None else _one_sided(case, branch)
    free = [n for n in {branch.a, branch.b} & swings.keys() if not _follows(case, branch, n)]
    return standing, sum(swings[n] for n in free)


def _follows(case: Case, branch: Branch, plate: str) -> bool:
    """Whether the far end of a capacitor goes up and down with a plate, a leak alone being on it.

    Half of the swing is across it at 1 / (R C), where the coil of the plate has L / (R C) ohms.
    """
    circuit = case.circuit
    behind = [b for b in circuit.at(branch.other(plate)) if b is not branch]
    coils = [b for b in circuit.at(plate) if b.traits.coil]
    plain = all(b.kind is PartKind.RESISTOR for b in behind) and all(
        b.kind is PartKind.INDUCTOR for b in coils
    )
    if branch.kind is not PartKind.CAPACITOR or not (plain and behind):
        return False
    farads, leaks = branch.farads, [b.ohms for b in behind]
    most = max((b.henries or inf for b in coils), default=inf)
    siemens = sum(1 / ohm if ohm else inf for ohm in leaks)
    return bool(farads) and most * siemens < HARDLY_OHM.value * (farads or 0.0)


def _one_sided(case: Case, branch: Branch) -> float:
    """The DC of the end that has a number, where the other floats at an unknown one."""
    waves = [w for n in (branch.a, branch.b) if (w := case.warm.wave(n)) is not None]
    return max((abs(w.dc) for w in waves), default=0.0)


def _swings(case: Case) -> dict[str, float]:
    """Net of a choke-fed plate -> its plate-to-cathode DC when warm, volts."""
    found = {}
    for section in case.circuit.sections():
        net, reading = section.net("plate"), case.warm.readings.get(section.name)
        if section.kind not in AMPLIFYING or net is None or reading is None:
            continue
        if reading.plate_v and reading.plate_v > 0 and choke_fed(case.circuit, net):
            found[net] = reading.plate_v
    return found


def choke_fed(circuit: Circuit, plate: str) -> bool:
    """Whether a plate gets its direct current through an inductance and is free to swing."""
    near = [b for b in circuit.at(plate) if b.a != b.b]
    held = any(b.kind is PartKind.CAPACITOR and (b.farads or 0.0) >= HELD_F.value for b in near)
    return not held and any(b.traits.coil for b in near)


def _swung(case: Case, branch: Branch, figures: tuple[float, float, float]) -> Finding:
    standing, swing, rated = figures
    peak = standing + swing
    behind = jacks_behind(case.circuit, branch)
    fits = next((v for v in STOCK_V if v >= peak), None)
    size = f"for {fits:g} V or more" if fits else f"for {volts(peak)} or more, or two in series"
    return no_room_for_swing.finding(
        case,
        (branch.name,),
        f"{branch.name} holds {volts(standing)} and its plate swings {volts(swing)} more at full "
        f"output: {volts(peak)}, rated {volts(rated)}"
        + (f"; behind it is {listed(behind)}" if behind else ""),
        f"Use one {size}",
        state=case.warm.state.name,
        level="warning" if behind else "notice",
        evidence={
            "dc": figure(standing, "V"),
            "swing": figure(swing, "V"),
            "peak": figure(peak, "V"),
        },
        limit=figure(rated, "V"),
        certainty=certainty(peak / rated),
        excess=peak / rated,
    )


def jacks_behind(circuit: Circuit, branch: Branch) -> tuple[str, ...]:
    """Jacks that the ends of a capacitor lead to, straight or through resistors and pots."""
    ends = set(reach(circuit, {branch.a, branch.b} - set(LANDMARKS), LANDMARKS)) - set(LANDMARKS)
    return tuple(name for name, nets in jacks(circuit).items() if ends & set(nets))


RULES = (
    little_margin,
    no_room_for_swing,
)
