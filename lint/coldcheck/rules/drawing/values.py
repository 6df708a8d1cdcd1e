"""Values that no series has: a resistor or a capacitor nobody ever sold is a slip of the pen."""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_never

from coldcheck.circuit.preferred import E24
from coldcheck.circuit.tuning import adjustable
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering
from coldcheck.drawing.wording import ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import Rule, rule
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Outcome

E192 = frozenset(920 if k == 185 else round(100 * 10 ** (k / 192)) for k in range(192))
"""IEC 60063 (memory): round(100 * 10^(k/192)), but 920 where that gives 919. E48 and E96 are every
fourth and every second of it."""

OLD = (10, 12.5, 15, 20, 25, 30, 35, 40, 50, 60, 70, 75, 80)
"""The round values of American sets before about 1950: 25k, 50k, 250k, 500k, 0.25 Mohm (memory)."""

DECADES = (90, 99)
"""The upper resistors of dividers by ten and by a hundred, as instruments have them (memory)."""

OLD_CAPACITORS = (*OLD, 16, 32, 64, 100, 125, 45)
"""Besides those, electrolytics of 4, 8, 16, 32 uF and the decimal series of ISO 3 (memory)."""


@rule(
    "drawing.value-in-no-series",
    title="Value that is in no series",
    level="advice",
    states="the drawing alone",
    needs="the value of the part",
    criterion="The significant digits of a resistor, pot or capacitor are in none of E3 to E192 of "
    "IEC 60063 and not among the old round values (1, 1.25, 1.5, 2, 2.5, 3, 3.5, 4, 5, 6, 7, 7.5, "
    "8; capacitors also 1.6, 3.2, 4.5, 6.4; resistors 9 and 99, of dividers by ten and a hundred). "
    "Capacitors that a hand sets are left alone.",
    why="Parts come in series. A value that is in none of them was probably misread: 74k for 47k, "
    "480k for 430k or 470k. Nearly always the voltages look about right, and the slip stays.",
    source=(Citation("iec-60063"), Citation("practice", "old American round values")),
    limits="The tolerance is not looked at: 348 ohm is taken as it stands though only 1 % parts "
    "have it. Misread digits that make another value of a series are not seen; parts selected by "
    "hand or made of two show here.",
)
def in_no_series(case: Case) -> Iterator[Outcome]:
    """Look at the digits of every value."""
    for name, kind, value in _values(case.circuit):
        if value <= 0 or in_series(value, kind):
            continue
        near = nearest_values(value)
        shown = [_text(v, kind) for v in near]
        yield in_no_series.finding(
            case,
            (name,),
            f"{name}: {_text(value, kind)} is in no series",
            f"Look at the original again: {shown[0]} and {shown[1]} are its neighbours in E24; "
            "write a made-up value as the parts it is made of",
            evidence={"value": figure(value, "F" if kind is PartKind.CAPACITOR else "ohm")},
            certainty="possible",
            excess=1.0,
        )


def in_series(value: float, kind: PartKind) -> bool:
    """Whether a value (ohm, farad) is of a preferred series or an old round value."""
    digits = _digits(value)
    old = OLD_CAPACITORS if kind is PartKind.CAPACITOR else (*OLD, *DECADES)
    if any(abs(digits - 10 * d) < 0.01 for d in (*E24, *old)):
        return True
    return abs(digits - round(digits)) < 0.01 and round(digits) in E192


def _digits(value: float) -> float:
    """The value scaled to 100 up to 1000."""
    exponent = int(f"{value:.5e}".partition("e")[2])
    return float(f"{value / 10.0**exponent * 100:.4f}")


def nearest_values(value: float) -> tuple[float, float]:
    """The E24 values just below and just above."""
    exponent = int(f"{value:.5e}".partition("e")[2])
    steps = [s * 10.0 ** (exponent - 1) for s in (*E24, 100, 110)]
    below = max(s for s in steps if s <= value * 1.0001)
    return below, min(s for s in steps if s > below)


def _text(value: float, kind: PartKind) -> str:
    return engineering(value, "F") if kind is PartKind.CAPACITOR else ohms(value)


def _values(circuit: Circuit) -> Iterator[tuple[str, PartKind, float]]:
    """(name, kind, SI value) of each part; a pot once, as a whole."""
    pots: dict[str, list[Branch]] = {}
    for branch in circuit.branches.values():
        if branch.kind is PartKind.POT:
            pots.setdefault(branch.owner, []).append(branch)
        elif (value := _preferred(branch)) is not None:
            yield branch.name, branch.kind, value
    for pot, halves in pots.items():
        ohm = [h.ohms for h in halves]
        known = [o for o in ohm if o is not None]
        if len(known) == len(ohm):
            yield pot, PartKind.POT, sum(known)


RULES: tuple[Rule, ...] = (in_no_series,)


def _preferred(branch: Branch) -> float | None:
    """The value of a part that is made in preferred values, SI."""
    kind = branch.kind
    match kind:
        case PartKind.RESISTOR | PartKind.POT:
            return branch.ohms
        case PartKind.CAPACITOR:
            return None if adjustable(branch) else branch.farads
        case (
            PartKind.INDUCTOR | PartKind.DIODE | PartKind.LED | PartKind.ZENER
            | PartKind.FUSE | PartKind.SWITCH | PartKind.THERMISTOR | PartKind.BARRETTER
            | PartKind.PHOTOCELL | PartKind.LAMP
            | PartKind.SPEAKER | PartKind.JACK | PartKind.SOURCE | PartKind.HEATER
            | PartKind.WINDING | PartKind.CONTACT | PartKind.JACK_CONTACT | PartKind.PLUG
            | PartKind.SIGNAL | PartKind.RELAY | PartKind.METER
            | PartKind.ARRESTER | PartKind.THYRISTOR | PartKind.TRIGGER
            | PartKind.VIBRATOR | PartKind.CRYSTAL
            | PartKind.CHANNEL | PartKind.GATE | PartKind.BASE
        ):  # fmt: skip
            return None
        case _:
            assert_never(kind)
