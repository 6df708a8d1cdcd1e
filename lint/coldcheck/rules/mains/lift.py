"""A signal ground held off the earthed chassis by a resistor alone."""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_never

from coldcheck.anatomy import galvanic
from coldcheck.anatomy.galvanic import mains_drawn, transformerless
from coldcheck.anatomy.jacks import jacks
from coldcheck.anatomy.reach import reach
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed, ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Outcome

PATH_OHM = 0.1


@rule(
    "mains.lift-without-diodes",
    title="Ground lift without diodes across it",
    level="warning",
    states="the drawing alone",
    needs="the mains side on the drawing, gnd and chassis (or earth) as two points",
    criterion=(
        "`gnd` is joined to the chassis or to earth by resistors or capacitors only, with no diode "
        "across them: a fault current has more than 0.1 ohm to go through."
    ),
    why=(
        "The resistor breaks a hum loop, and it is fine as long as nothing goes wrong. When the "
        "transformer's insulation fails, the line comes out on gnd, the resistor burns open before "
        "the fuse blows, and every jack and string is at line voltage."
    ),
    source=(
        Citation("iec-61010-1", "protective bonding of at most 0.1 ohm"),
        Citation("iec-62368-1"),
    ),
    limits=(
        "Any diode across the resistor counts; whether it survives the fault current until the "
        "fuse blows is not judged. A gnd with no path to the chassis at all is mains.common-off-"
        "chassis; not looked at are sets without a mains transformer (mains.live-common)."
    ),
    thresholds=(galvanic.SERIES_OHM,),
)
def lift_without_diodes(case: Case) -> Iterator[Outcome]:
    """See what joins gnd to the metal, where it is not a wire."""
    circuit = case.circuit
    if not mains_drawn(circuit) or transformerless(circuit):
        return
    metal = {circuit.points[m] for m in ("chassis", "earth") if m in circuit.points}
    if not metal or GROUND in metal:
        return
    across = [b for b in circuit.at(GROUND) if b.other(GROUND) in metal]
    parts = [b for b in across if b.kind in (PartKind.RESISTOR, PartKind.CAPACITOR)]
    if parts and not any(_carries(b.kind) for b in across):
        yield _lifted(case, parts)


def _lifted(case: Case, parts: list[Branch]) -> Outcome:
    names = tuple(b.name for b in parts)
    resistors = [b for b in parts if b.kind is PartKind.RESISTOR]
    values = [v for b in resistors if (v := b.ohms) is not None]
    how = f" ({ohms(min(values))})" if values else ""
    metal = _metal_name(case.circuit)
    return lift_without_diodes.finding(
        case,
        (*names, GROUND),
        f"only {listed(names)}{how} joins gnd to {metal}: a fault to gnd burns it open before a "
        "fuse blows",
        f"Put two rectifier diodes of 5 A or more across {names[0]}, one each way (or a bridge "
        f"with its + and - joined): `{metal} --[D]-> gnd` and `gnd --[D]-> {metal}`",
        evidence={"resistance": figure(min(values), "ohm") if values else "none"},
        limit=figure(PATH_OHM, "ohm"),
        certainty="certain",
    )


def _metal_name(circuit: Circuit) -> str:
    return "chassis" if "chassis" in circuit.points else "earth"


@rule(
    "mains.common-off-chassis",
    title="Signal ground that is joined to the chassis nowhere",
    level="warning",
    states="the drawing alone",
    needs="the mains side on the drawing, gnd and chassis (or earth) as two points",
    criterion=(
        "Nothing joins `gnd` to the chassis or to earth: no wire, resistor, diode, nor anything "
        "else that direct current passes. Without a jack on `gnd` it is a notice."
    ),
    why=(
        "The earthed chassis protects only what is joined to it. When the transformer's insulation "
        "fails, gnd and every sleeve and string on it go to line voltage and no fuse blows. Until "
        "then the set hums, since its gnd floats on the capacitances of the windings."
    ),
    source=(
        Citation("iec-61010-1", "protective bonding of at most 0.1 ohm"),
        Citation("practice", "one wire from gnd to the chassis, at the input"),
    ),
    limits=(
        "A capacitor alone is mains.lift-without-diodes. Sets without a mains transformer are "
        "mains.live-common. A supply that is to float says so by an `accept`."
    ),
    thresholds=(galvanic.SERIES_OHM,),
)
def common_off_chassis(case: Case) -> Iterator[Outcome]:
    """See whether anything leads from gnd to the metal."""
    circuit = case.circuit
    if not mains_drawn(circuit) or transformerless(circuit):
        return
    metal = {circuit.points[m] for m in ("chassis", "earth") if m in circuit.points}
    if not metal or any(b.other(GROUND) in metal for b in circuit.at(GROUND)):
        return
    joined = set(reach(circuit, [GROUND], metal, (PartKind.DIODE, PartKind.SOURCE)))
    if joined & metal or len(joined) < 2:
        return
    sleeves = [j.name for j in jacks(circuit) if j.sleeve in joined]
    yield common_off_chassis.finding(
        case,
        (GROUND, _metal_name(circuit)),
        f"gnd is joined to {_metal_name(circuit)} nowhere"
        + (f", and {listed(sleeves)} to gnd" if sleeves else ""),
        f"`gnd -- {_metal_name(circuit)}`, at one point, near the input",
        level="warning" if sleeves else "notice",
        certainty="certain",
    )


RULES = (lift_without_diodes, common_off_chassis)


def _carries(kind: PartKind) -> bool:
    """Whether a part carries the current of a fault until the fuse blows."""
    match kind:
        case (
            PartKind.DIODE | PartKind.ZENER | PartKind.FUSE | PartKind.SWITCH
            | PartKind.CONTACT
        ):  # fmt: skip
            return True
        case (
            PartKind.RESISTOR | PartKind.CAPACITOR | PartKind.INDUCTOR | PartKind.LED
            | PartKind.THERMISTOR | PartKind.BARRETTER | PartKind.PHOTOCELL | PartKind.LAMP
            | PartKind.SPEAKER | PartKind.JACK
            | PartKind.SOURCE | PartKind.HEATER | PartKind.WINDING | PartKind.POT
            | PartKind.JACK_CONTACT
            | PartKind.PLUG | PartKind.SIGNAL | PartKind.RELAY | PartKind.METER
            | PartKind.ARRESTER | PartKind.THYRISTOR | PartKind.TRIGGER
            | PartKind.VIBRATOR | PartKind.CRYSTAL
            | PartKind.CHANNEL | PartKind.GATE | PartKind.BASE
        ):  # fmt: skip
            return False
        case _:
            assert_never(kind)
