"""Socket pins that are not for the builder's use, and shields that are nowhere."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import wired
from coldcheck.drawing.wording import listed, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.limits import TOUCH_DC
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit, Tube
    from coldcheck.judge.finding import Outcome


AC_V = Threshold("AC on a shield, rms", 0.5, "V", PRACTICE)


@rule(
    "tube.internal-pin",
    title="Wire on a pin that is connected inside the tube",
    level="notice",
    states="the drawing alone",
    needs="the tube's base on file, with its internal connections (IC)",
    criterion="A pin that the data sheet marks IC, internal connection, has anything wired to it.",
    why="Makers hang electrodes, getters and supports on such pins as they please, and differently "
    "from one lot to the next. A pin used as a tie point puts its voltage on whatever is there; "
    "more often it is the wrong pin number, and the electrode that was meant has nothing.",
    source=Citation("type-sheet", "IC pins are not to be used as tie points"),
    limits="Wrong pins that belong to another electrode are not reported as such: the voltages and "
    "the missing paths show them. A pin number the base does not have is refused when the "
    "drawing is read.",
)
def internal_pin(case: Case) -> Iterator[Outcome]:
    """Every IC pin is left alone."""
    circuit = case.circuit
    for tube in circuit.tubes.values():
        used = [pin for pin in _pins(tube, "ic") if _used(circuit, f"{tube.name}:{pin}")]
        if used:
            pins = tuple(f"{tube.name}:{pin}" for pin in used)
            parts = dict.fromkeys(b.name for p in pins for b in circuit.at(circuit.points[p]))
            there = f" with {listed(parts)}" if parts else ""
            verb = "is" if len(pins) == 1 else "are"
            yield internal_pin.finding(
                case,
                (tube.name, *pins),
                f"{listed(pins)} {verb} wired{there}, and connected inside the tube (type "
                f"{tube.type.name}): not for use",
                f"Leave it open and use a tag; {_base(tube)}",
                evidence={"pins": listed(used), "base": tube.type.base},
                certainty="certain",
                source=sheet.cited if (sheet := tube.type.pins_source) else None,
            )


def _pins(tube: Tube, what: str) -> list[str]:
    return [pin for pin, (_, electrode) in tube.type.pins.items() if electrode == what]


def _used(circuit: Circuit, point: str) -> bool:
    return point in circuit.points and wired(circuit, circuit.points[point])


def _base(tube: Tube) -> str:
    """The base pin by pin, as the remedy for a wrong number."""
    if not tube.type.pins_known:
        return f"the pins of {tube.type.name} are not on file"
    shown = {
        pin: f"{section}.{electrode}".lstrip(".").replace("ic", "(inside)")
        for pin, (section, electrode) in tube.type.pins.items()
    }
    return f"{tube.type.name}: " + ", ".join(f"{pin} {what}" for pin, what in shown.items())


@rule(
    "tube.shield-not-quiet",
    title="Shield or metal shell wired to something that is not quiet",
    level="notice",
    states="warm",
    needs="the tube's base on file with its shield or shell pin, and a solved state",
    criterion="The pin of an internal shield or a metal shell is wired to a net with more than "
    "0.5 V of AC, or more than 60 V DC, to gnd.",
    why="A shield keeps hum and radio out only if it is at rest itself. On a heater bus it puts "
    "the mains' hum right beside the grids, which is what happens when a 6DJ8 goes into a socket "
    "wired for a 12AX7, whose pin 9 is the heater's middle. A shell at high voltage is a bare "
    "metal tube at high voltage.",
    source=(
        Citation("type-sheet", "bases 9A and 9AJ"),
        Citation("iec-62368-1", "touch voltage 60 V DC"),
    ),
    limits="A shield that is not wired at all is not reported. Signal on the shield is not "
    "counted.",
    thresholds=(AC_V, TOUCH_DC),
)
def shield_not_quiet(case: Case) -> Iterator[Outcome]:
    """Every shield that is wired is at rest."""
    circuit = case.circuit
    for tube in circuit.tubes.values():
        point = f"{tube.name}.shield"
        if not _pins(tube, "shield") or not _used(circuit, point):
            continue
        wave = case.warm.wave(point) if case.warm.converged else None
        if wave is None:
            yield shield_not_quiet.not_judged((tube.name,), f"no voltage of {point} is known")
        elif wave.ac_rms > AC_V.value or abs(wave.dc) > TOUCH_DC.value:
            pins = listed(_pins(tube, "shield"))
            yield shield_not_quiet.finding(
                case,
                (tube.name,),
                f"the shield of {tube.name} (pin {pins}) is wired to "
                f"{_beside(circuit, tube, point)} with {volts(wave.dc)} DC and "
                f"{volts(wave.ac_rms)} rms of AC",
                f"Join pin {pins} of {tube.name} to gnd (`{point} -- gnd`); {_base(tube)}",
                state="warm",
                evidence={
                    "ac_rms": figure(wave.ac_rms, "V"),
                    "dc": figure(wave.dc, "V"),
                    "limit_ac": AC_V.figure,
                    "limit_dc": TOUCH_DC.figure,
                },
                certainty="certain",
                source=sheet.cited if (sheet := tube.type.pins_source) else None,
                excess=max(wave.ac_rms / AC_V.value, abs(wave.dc) / TOUCH_DC.value),
            )  # fmt: skip


def _beside(circuit: Circuit, tube: Tube, point: str) -> str:
    """Another name of the net a lead is on."""
    own = (point, *(f"{tube.name}:{pin}" for pin in _pins(tube, "shield")))
    net = circuit.points[point]
    others = [n for n in (net, *circuit.names.get(net, ())) if n not in own]
    return others[0] if others else net


RULES: tuple[Rule, ...] = (internal_pin, shield_not_quiet)
