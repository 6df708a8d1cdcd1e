"""How each tube's heater is wired: across a winding, in a string, or lead by lead.

Before the nets are named a :class:`HeaterPlan` says which way was taken and the leads are joined;
afterwards the plan becomes a :class:`~coldcheck.circuit.model.Heater` with its branches.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.circuit.leads import heater_ends
from coldcheck.circuit.model import Branch, Heater
from coldcheck.circuit.problems import (
    BAD_VALUE,
    UNKNOWN_NAME,
    USED_TWICE,
    ProblemLog,
    did_you_mean,
    listed,
)
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import magnitude
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.circuit.declare import Declared
    from coldcheck.circuit.nets import Nets
    from coldcheck.circuit.tubes import HeaterWay, TubeType
    from coldcheck.drawing.model import Part, Point, Span, TubeLine, WindingLine
    from coldcheck.drawing.units import Quantity

VOLTS_CLOSE = 0.25
"""How far a winding may be from a way's rated volts and still decide for it (25 %)."""

LAMP_VOLTS = 7.5
_LAMP_FIRST = {"7-pin miniature 5BQ": False, "octal 6AD": True}
"""Base -> whether the dial lamp's part of a rectifier's heater is between h1 and the tap. It is
7.5 V: pins 6-4 of the 35W4, pins 2-3 of the 35Z5GT and the 45Z5GT (memory: RCA sheets)."""


@dataclass(frozen=True, slots=True)
class HeaterPlan:
    """One heater, decided: ``halves`` says that its tap is used."""

    tube: str
    type: TubeType
    way: HeaterWay
    halves: bool
    winding: str | None
    span: Span


def plan_heaters(
    found: Declared, nets: Nets, strung: dict[str, tuple[Part, str, str]], log: ProblemLog
) -> list[HeaterPlan]:
    """Join the heater leads and say how each heater is wired.

    ``strung``: tube -> the ``[V5 heater]`` on a wire and the keys left and right of it.
    """
    plans = []
    for name, (line, kind) in found.tubes.items():
        if line.heater is not None and name in strung:
            part = strung[name][0]
            log.add(part.span, USED_TWICE, f"{name} heater", f"the heater of {name} drawn once")
        if kind.stranger:
            _across_unknown(line, kind, found, nets, log)
            continue
        if not kind.heaters:
            _refuse_cold(line, kind, strung.get(name), log)
            continue
        plan: HeaterPlan | None
        if line.heater is not None:
            plan = _across_winding(line, kind, found, nets, log)
        elif name in strung:
            plan = _on_a_wire(line, kind, strung[name], nets, log)
        else:
            plan = _by_leads(line, kind, nets)
        if plan is not None:
            plans.append(plan)
    return plans


def build_heater(plan: HeaterPlan, net: Callable[[str], str]) -> Heater:
    """The heater's branches: hot resistance = rated volts / rated amperes, halves by share."""
    volts, amps = plan.way.volts.quantity(), plan.way.amps.quantity()
    ohms = (volts / amps).to("ohm")
    a, b, *rest = heater_ends(plan.type)
    branches: tuple[Branch, ...]
    if not plan.halves:
        branches = (_branch(plan, "", a, b, ohms, net),)
    else:
        tap, (upper, lower) = rest[0], _half_ohms(plan, ohms)
        branches = (
            _branch(plan, f".{a}-{tap}", a, tap, upper, net),
            _branch(plan, f".{tap}-{b}", tap, b, lower, net),
        )
    return Heater(plan.tube, plan.way.mode, volts, amps, branches, plan.winding)


def _branch(
    plan: HeaterPlan, suffix: str, a: str, b: str, ohms: Quantity, net: Callable[[str], str]
) -> Branch:
    tube = plan.tube
    name = f"{tube}.heater{suffix}"
    return Branch(
        name, PartKind.HEATER, net(f"{tube}.{a}"), net(f"{tube}.{b}"), tube, plan.span, ohms
    )


def _half_ohms(plan: HeaterPlan, ohms: Quantity) -> tuple[Quantity, Quantity]:
    """In parallel each half takes half the current; in series the halves share the volts."""
    if plan.way.mode == "parallel":
        return ohms * 2, ohms * 2
    share = _share_before_tap(plan)
    return ohms * share, ohms * (1 - share)


def _share_before_tap(plan: HeaterPlan) -> float:
    first = _LAMP_FIRST.get(plan.type.base) if plan.way.mode == "single" else None
    lamp = LAMP_VOLTS / plan.way.volts.value
    return 0.5 if first is None else lamp if first else 1 - lamp


def _refuse_cold(
    line: TubeLine, kind: TubeType, strung: tuple[Part, str, str] | None, log: ProblemLog
) -> None:
    span = strung[0].span if strung else line.heater.span if line.heater else None
    if span is not None:
        text = f"{line.name} is a {kind.name}, which has a cold cathode"
        log.add(span, BAD_VALUE, f"{line.name} heater", "a tube that has a heater", text)


def _across_unknown(
    line: TubeLine, kind: TubeType, found: Declared, nets: Nets, log: ProblemLog
) -> None:
    """A heater of which nothing is known has its place on the winding, and no branch."""
    if line.heater is None:
        return
    winding = found.winding(line.heater.owner, line.heater.lead)
    if winding is None:
        _refuse_winding(line.heater, found, log)
        return
    for lead, end in zip(heater_ends(kind), ("1", "2"), strict=False):
        nets.join(f"{line.name}.{lead}", f"{line.heater.owner}.{winding.name}.{end}")


def _refuse_winding(point: Point, found: Declared, log: ProblemLog) -> None:
    hint = _winding_hint(point.text, found)
    if not log.declared_in_vain(point.owner):
        log.add(point.span, UNKNOWN_NAME, point.text, "a whole winding, like T1.warm", hint)


def _across_winding(
    line: TubeLine, kind: TubeType, found: Declared, nets: Nets, log: ProblemLog
) -> HeaterPlan | None:
    point = line.heater
    assert point is not None
    winding = found.winding(point.owner, point.lead)
    if winding is None:
        _refuse_winding(point, found, log)
        return None
    name = f"{point.owner}.{winding.name}"
    way = _said(line, kind, line.heater_mode, line.span, log) or _by_volts(kind, winding)
    return _wired(line, kind, way, (f"{name}.1", f"{name}.2"), nets, name)


def _winding_hint(text: str, found: Declared) -> str:
    names = found.winding_names()
    whole = next((n for n in names if text.casefold().startswith(f"{n.casefold()}.")), None)
    if whole:
        return f"say {whole} to put the heater across the whole winding"
    return did_you_mean(text, names) or (f"windings: {listed(names)}" if names else "")


def _on_a_wire(
    line: TubeLine,
    kind: TubeType,
    strung: tuple[Part, str, str],
    nets: Nets,
    log: ProblemLog,
) -> HeaterPlan:
    part, left, right = strung
    mode = next((w for w in part.words if w in ("series", "parallel")), None)
    said = _said(line, kind, mode or line.heater_mode, part.span, log)
    return _wired(line, kind, said or kind.heaters[0], (left, right), nets, None)


def _by_leads(line: TubeLine, kind: TubeType, nets: Nets) -> HeaterPlan | None:
    """The heater as wired lead by lead, or ``None`` where it is not drawn.

    One wired lead is enough, except where it is also the cathode: there it is the B+ lead. A
    filament that is not drawn is one piece of metal: both its ends are taken as one net.
    """
    leads = [f"{line.name}.{end}" for end in heater_ends(kind)]
    written = [key for key in leads if nets.is_written(key)]
    if not _is_drawn(written, kind):
        if kind.cathode == "filament":
            nets.join(leads[0], leads[1])
        return None
    tapped = any(key.endswith(".tap") for key in written)
    together = tapped and nets.joined(leads[0], leads[1])
    ways = {way.mode: way for way in kind.heaters}
    way = ways.get("parallel" if together else "series", kind.heaters[0])
    return HeaterPlan(line.name, kind, way, tapped, None, line.span)


def _is_drawn(written: list[str], kind: TubeType) -> bool:
    if kind.cathode == "filament":
        return len(written) > 1  # both ends, or one and the middle: half of it
    if kind.cathode_heater:
        return any(not key.endswith(f".{kind.cathode_heater}") for key in written)
    return bool(written)


def _wired(
    line: TubeLine,
    kind: TubeType,
    way: HeaterWay,
    ends: tuple[str, str],
    nets: Nets,
    winding: str | None,
) -> HeaterPlan:
    """Join the heater's leads to the two keys; in parallel h1 and h2 are against the tap."""
    a, b, *rest = (f"{line.name}.{end}" for end in heater_ends(kind))
    halves = way.mode == "parallel"
    nets.join(a, ends[0])
    nets.join(b, ends[0] if halves else ends[1])
    if halves:
        nets.join(rest[0], ends[1])
    halves = halves or (bool(rest) and nets.is_written(rest[0]))
    return HeaterPlan(line.name, kind, way, halves, winding, line.span)


def _said(
    line: TubeLine, kind: TubeType, mode: str | None, span: Span, log: ProblemLog
) -> HeaterWay | None:
    """The way the drawing asks for, or ``None`` where it asks for none the tube has."""
    if mode is None:
        return None
    ways = {way.mode: way for way in kind.heaters}
    if mode == "series" and "single" in ways:
        return ways["single"]  # "in a series string" says nothing about its halves
    if mode not in ways:
        modes = " or ".join(ways)
        text = f"{line.name} is a {kind.name}: its heater can only be wired {modes}"
        if modes == "single":
            text = f"{line.name} is a {kind.name}: its heater cannot be wired in two halves"
        log.add(span, BAD_VALUE, mode, "a way this heater can be wired", text)
    return ways.get(mode)


def _by_volts(kind: TubeType, winding: WindingLine) -> HeaterWay:
    """The way nearest to the winding's volts, if within 25 %; else the first one on file.

    On a winding of unknown volts the halves are in parallel, as where tubes of one share it.
    """
    if not winding.voltages:
        return min(kind.heaters, key=lambda way: way.volts.value)
    volts = sum(magnitude(v, "volt") for v in winding.voltages)
    best = min(kind.heaters, key=lambda way: abs(way.volts.value - volts))
    close = abs(best.volts.value - volts) <= VOLTS_CLOSE * best.volts.value
    return best if close else kind.heaters[0]
