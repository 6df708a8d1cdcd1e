"""Mistakes in the value, the rating or the direction of a part."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import magnitude
from coldcheck.teach.plant import Planted

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from coldcheck.circuit.model import Branch
    from coldcheck.teach.clean import Clean

WORKING_VOLTS = (6.3, 10, 16, 25, 35, 50, 63, 100, 160, 250, 350, 450, 500)
"""Working voltages capacitors are sold with (common practice)."""

REVERSED_FROM = 1.5
"""Volts of polarising DC above which a turned electrolytic is a mistake and not a question."""

OVERLOAD_FROM = 0.25
EIGHTH_WATT = 0.125


def electrolytic_turned(clean: Clean) -> Iterator[Planted]:
    """An electrolytic is drawn the wrong way round."""
    for part, branch in clean.parts(PartKind.CAPACITOR):
        volts = across(clean, branch)
        text = clean.turned(part.name) if part.plus else None
        if text and volts is not None and abs(volts) > REVERSED_FROM:
            what = f"{part.name} is drawn with its plus at the lower voltage"
            yield Planted((part.name,), text, what, ("capacitor.reversed",))


def diode_turned(clean: Clean) -> Iterator[Planted]:
    """A silicon diode of a supply is drawn the wrong way round."""
    for part, branch in clean.parts(PartKind.DIODE):
        text = clean.turned(part.name)
        if text and _rectifies(clean, branch):
            what = f"{part.name} is drawn the wrong way round"
            rules = (
                "supply.open-rectifier",
                "supply.winding-shorted",
                "capacitor.reversed",
                "grid.positive",
                "supply.reversed-bias",
                "grid.bias-reversed",
            )
            near = tuple(p.name for p, b in clean.parts(PartKind.CAPACITOR) if b.plus is not None)
            yield Planted((part.name,), text, what, rules, (*near, *clean.circuit.tubes))


def _rectifies(clean: Clean, branch: Branch) -> bool:
    windings = {net for w in clean.circuit.windings() for net in w.nets}
    return bool({branch.a, branch.b} & windings)


def voltage_rating_too_low(clean: Clean) -> Iterator[Planted]:
    """A capacitor's working voltage is the largest standard one below what it sees warm."""
    for part, branch in clean.parts(PartKind.CAPACITOR):
        volts = across(clean, branch)
        if part.voltage is None or part.voltage_is_ac or volts is None:
            continue
        below = [v for v in WORKING_VOLTS if v < 0.9 * abs(volts)]
        old = re.search(r"\b[\d.]+\s*V\b", clean.inside(part))
        text = clean.part_replaced(part, old.group(), f"{below[-1]:g} V") if below and old else None
        if text:
            what = f"{part.name} is rated for {below[-1]:g} V and sees {abs(volts):.0f} V"
            rules = ("capacitor.over-voltage", "heater.lift-capacitor-underrated")
            yield Planted((part.name,), text, what, rules)


def power_rating_too_low(clean: Clean) -> Iterator[Planted]:
    """A resistor that takes a quarter watt or more is drawn as an eighth-watt one."""
    for part, branch in clean.parts(PartKind.RESISTOR):
        amps = clean.solutions["warm"].current(branch.name)
        ohms = magnitude(branch.value, "ohm") if branch.value is not None else None
        old = re.search(r"\b[\d.]+\s*W\b", clean.inside(part))
        if amps is None or ohms is None or old is None or amps.rms**2 * ohms < OVERLOAD_FROM:
            continue
        text = clean.part_replaced(part, old.group(), f"{EIGHTH_WATT} W")
        if text:
            what = f"{part.name} takes {amps.rms**2 * ohms:.2g} W and is drawn as {EIGHTH_WATT} W"
            yield Planted((part.name,), text, what, ("resistor.over-power",))


def lost_k(clean: Clean) -> Iterator[Planted]:
    """The k of a resistor is lost: 470k becomes 470, 1k5 becomes 1.5.

    Resistors across an input are left out: what the source wants to see is not in the drawing.
    """
    inputs = {b.a for b in clean.circuit.branches.values() if b.kind is PartKind.SIGNAL}
    for part, branch in clean.parts(PartKind.RESISTOR):
        if {branch.a, branch.b} & inputs and "gnd" in {branch.a, branch.b}:
            continue
        ohms = magnitude(branch.value, "ohm") if branch.value is not None else 0.0
        old = re.search(r"\b\d+(?:\.\d+)?[kM]\d*\b", clean.inside(part))
        text = None
        if 1e3 <= ohms < 1e6 and old:
            text = clean.part_replaced(part, old.group(), f"{ohms / 1e3:g}")
        if text:
            what = (
                f"{part.name} has lost its k: {ohms / 1e3:g} ohm for {old.group() if old else ''}"
            )
            yield Planted((part.name,), text, what, LOST_K, around(clean, branch))


TWINS = "drawing.twins-differ"
"""Where a sample has the circuit twice, the other copy tells."""

LOST_K = (
    "resistor.unlikely-value",
    "resistor.without-effect",
    "resistor.over-power",
    "resistor.over-voltage",
    "grid.no-stopper",
    "grid.bias-set-away",
    "output.no-screen-resistor",
    "signal.no-plate-load",
    "tube.screen-undropped",
    "tube.plate-dissipation-both",
    "tube.plate-dissipation",
    "tube.screen-dissipation",
    "tube.screen-voltage",
    "tube.cathode-current",
    "grid.positive",
    "grid.low-leak",
    "supply.rectifier-overload",
    "supply.regulator-current",
    "heater.lifted-too-far",
    "heater.cathode-stress",
    "signal.positive-feedback",
    "signal.split-load-unequal",
    "capacitor.over-voltage",
    "capacitor.series-unbalanced",
    "mains.fuse-too-large",
    TWINS,
)


def nano_for_micro(clean: Clean) -> Iterator[Planted]:
    """A coupling capacitor is written in uF instead of nF."""
    grids = {s.net("grid") for s in clean.circuit.sections()}
    plates = {s.net(e) for s in clean.circuit.sections() for e in ("plate", "cathode")}
    for part, branch in clean.parts(PartKind.CAPACITOR):
        ends = {branch.a, branch.b}
        if not (ends & plates) or ends & {"gnd"} or not _leads_to(clean, branch, grids):
            continue
        text = clean.part_replaced(part, " nF", " uF")
        if text:
            what = f"{part.name} is written in uF where nF is meant"
            rules = ("capacitor.unlikely-value", "grid.blocking-time", "grid.slow-coupling", TWINS)
            yield Planted((part.name,), text, what, rules, around(clean, branch))


def nano_electrolytic(clean: Clean) -> Iterator[Planted]:
    """An electrolytic is written in nF instead of uF."""
    for part, branch in clean.parts(PartKind.CAPACITOR):
        text = clean.part_replaced(part, " uF", " nF") if part.plus else None
        if text:
            what = f"{part.name} is written in nF where uF is meant"
            rules = ("capacitor.unlikely-value", "output.bass-cut", TWINS)
            yield Planted((part.name,), text, what, rules, around(clean, branch))


def _leads_to(clean: Clean, branch: Branch, grids: set[str | None]) -> bool:
    """Whether one end is a grid, or a resistor away from one."""
    for net in (branch.a, branch.b):
        others = {b.other(net) for b in clean.circuit.at(net) if b.kind is PartKind.RESISTOR}
        if ({net} | others) & grids:
            return True
    return False


def across(clean: Clean, branch: Branch) -> float | None:
    """Volts DC across a branch, warm, from ``a`` to ``b``."""
    high, low = clean.dc(branch.a), clean.dc(branch.b)
    return None if high is None or low is None else high - low


def around(clean: Clean, branch: Branch) -> tuple[str, ...]:
    """The tubes, sections, parts and points at a part's two ends (gnd apart)."""
    near: list[str] = []
    for net in {branch.a, branch.b} - {"gnd"}:
        near += [net, *clean.circuit.names.get(net, ())]
        near += [b.name for b in clean.circuit.at(net)] + [b.owner for b in clean.circuit.at(net)]
        near += [n for s, _ in clean.circuit.electrodes_at(net) for n in (s.name, s.tube)]
    return tuple(dict.fromkeys(near))


KINDS: Mapping[str, Callable[[Clean], Iterable[Planted]]] = {
    "electrolytic turned round": electrolytic_turned,
    "diode turned round": diode_turned,
    "working voltage too low": voltage_rating_too_low,
    "resistor too small": power_rating_too_low,
    "k lost": lost_k,
    "uF for nF": nano_for_micro,
    "nF for uF": nano_electrolytic,
}
