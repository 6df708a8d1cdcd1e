"""Mains rules: fuse and protective earth; what one can touch is in ``mains_touch``."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.circuit.model import GROUND
from coldcheck.drawing.units import engineering
from coldcheck.rules.galvanic import (
    loads_at,
    mains_drawn,
    transformerless,
    upstream,
)
from coldcheck.rules.mains_capacitors import capacitor_stays_charged, capacitor_to_chassis
from coldcheck.rules.mains_touch import live_chassis, live_common
from coldcheck.rules.model import Rule, rule
from coldcheck.rules.places import listed, si, unsolved_reason
from coldcheck.solve.solution import Wave

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Branch
    from coldcheck.rules.model import Case, Outcome

FUSE_FACTOR = 3.0
SMALLEST_A = 0.5
NOT_DRAWN = "the mains side is not drawn"
FUSES_A = (
    0.1,
    0.16,
    0.2,
    0.25,
    0.315,
    0.4,
    0.5,
    0.63,
    0.8,
    1.0,
    1.25,
    1.6,
    2.0,
    2.5,
    3.15,
    4.0,
    5.0,
)


def _mains_expected(case: Case) -> bool:
    """Whether a mains side belongs to the drawing even where it does not show it."""
    return bool(case.circuit.transformers) or case.circuit.mains is not None


def _not_drawn(this: Rule, case: Case) -> Iterator[Outcome]:
    if _mains_expected(case):
        yield this.not_judged((), NOT_DRAWN)


@rule(
    "mains.no-earth",
    title="Chassis without protective earth",
    level="danger",
    states="the drawing alone",
    needs="the mains side on the drawing: line, neutral, earth",
    criterion=(
        "The mains is wired and `chassis` (or `gnd` where no chassis is drawn) is not joined to "
        "`earth` by plain wire. A part of any kind in between does not do. Sets without a mains "
        "transformer are judged by mains.live-chassis and mains.live-common."
    ),
    why=(
        "If the line ever touches unearthed metal, the metal stays at line voltage until somebody "
        "completes the circuit. Earthed metal blows the fuse instead."
    ),
    source="protective bonding of at most 0.1 ohm: IEC 61010-1, IEC 62368-1 (memory)",
)
def no_earth(case: Case) -> Iterator[Outcome]:
    """Compare the nets of chassis and earth."""
    circuit = case.circuit
    if not mains_drawn(circuit):
        yield from _not_drawn(no_earth, case)
        return
    if transformerless(circuit):
        return
    metal = "chassis" if "chassis" in circuit.points else GROUND
    earth = circuit.points.get("earth")
    if earth is not None and earth == circuit.points.get(metal):
        return
    between = () if earth is None else tuple(b.name for b in circuit.at(earth))
    what = f"reaches it only through {listed(between)}" if between else "is not joined to it"
    yield no_earth.finding(
        case,
        (metal, "earth") if earth is not None else (metal,),
        f"the set has no protective earth: {metal} {what}",
        f"Take the green-yellow wire straight to the metal: `{metal} -- earth`, no switch, fuse "
        "or resistor in it; a hum-breaking resistor goes between gnd and chassis",
        evidence={"path_to_earth": listed(between) or "none"},
        certainty="certain",
    )


@rule(
    "mains.no-fuse",
    title="No fuse in the line",
    level="danger",
    states="the drawing alone",
    needs="the mains side on the drawing",
    criterion="The line reaches a primary winding, rectifier or heater string without a fuse.",
    why=(
        "A shorted rectifier, winding or filter capacitor then draws whatever the house fuse "
        "lets through: the transformer burns inside a wooden cabinet."
    ),
    source="common practice; the order line, fuse, switch, primary",
)
def no_fuse(case: Case) -> Iterator[Outcome]:
    """Follow the line through everything but fuses."""
    circuit = case.circuit
    if not mains_drawn(circuit):
        yield from _not_drawn(no_fuse, case)
        return
    if "line" not in circuit.points or _fused_in_neutral_only(case):
        return
    line = circuit.points["line"]
    unfused = loads_at(circuit, upstream(circuit, line, through_fuses=False))
    if unfused:
        yield no_fuse.finding(
            case,
            ("line", *unfused),
            f"{listed(unfused)} is on the line without a fuse",
            f"Put a fuse first in the line lead{_fuse_hint(case)}",
            evidence={"unfused": listed(unfused)},
            certainty="certain",
        )


def _fuse_hint(case: Case) -> str:
    """A slow fuse of 1.5 to 2 times the current in the line, where that is known."""
    amps = _line_amps(case)
    if not amps:
        return ": a slow one of 1.5 to 2 times the normal current"
    fits = next((f for f in FUSES_A if f >= 1.5 * amps), FUSES_A[-1])
    return f": {fits:g} A slow for the {engineering(amps, 'A')} it draws"


def _line_amps(case: Case) -> float | None:
    """RMS current drawn from the line when warm; ``None`` where it has no number."""
    warm = case.solutions.get("warm")
    if warm is None or not warm.converged:
        return None
    line = case.circuit.points.get("line", "line")
    waves = [(warm.current(b.name), b.a == line) for b in case.circuit.at(line)]
    if not waves or any(w is None for w, _ in waves):
        return None
    total = Wave(np.sum([w.samples if out else -w.samples for w, out in waves if w], axis=0))
    return total.rms or None


def _fused_in_neutral_only(case: Case) -> bool:
    circuit = case.circuit
    return bool(_fuses_in(case, "neutral")) and bool(
        loads_at(circuit, upstream(circuit, circuit.points["line"], through_fuses=False))
        if "line" in circuit.points
        else True
    )


def _fuses_in(case: Case, pole: str) -> list[Branch]:
    """Fuses in one mains lead ahead of the set."""
    circuit = case.circuit
    if pole not in circuit.points or circuit.points[pole] == GROUND:
        return []
    before = upstream(circuit, circuit.points[pole], through_fuses=False)
    return [
        b
        for b in circuit.branches.values()
        if b.kind == "fuse" and len({b.a, b.b} & before) >= 1 and b.a != b.b
    ]


@rule(
    "mains.fuse-in-neutral",
    title="Fuse in the neutral instead of the line",
    level="danger",
    states="the drawing alone",
    needs="the mains side on the drawing",
    criterion=(
        "There is a fuse between `neutral` and the set and none between `line` and the set. A "
        "fuse in both leads is accepted: plugs that go in either way are fused so."
    ),
    why=(
        "When such a fuse blows the set is dead but every part of it still carries line voltage. "
        "A fault from line to chassis does not pass through the fuse at all."
    ),
    source="common practice; IEC single-pole protection is in the line conductor (memory)",
)
def fuse_in_neutral(case: Case) -> Iterator[Outcome]:
    """See which lead the fuse is in."""
    if not mains_drawn(case.circuit):
        yield from _not_drawn(fuse_in_neutral, case)
        return
    if _fused_in_neutral_only(case):
        names = tuple(f.name for f in _fuses_in(case, "neutral"))
        yield fuse_in_neutral.finding(
            case,
            names,
            f"{listed(names)} is in the neutral and the line has no fuse",
            f"Move {names[0]} into the line lead, ahead of the switch",
            evidence={"fuse": listed(names)},
            certainty="certain",
        )


@rule(
    "mains.fuse-too-large",
    title="Mains fuse far too large",
    level="caution",
    states="warm",
    needs="the fuse's value, the mains side on the drawing and a solved state",
    criterion=(
        f"The fuse is rated more than {FUSE_FACTOR:g} times the rms current it carries when "
        f"warm, and more than {SMALLEST_A:g} A. Not judged while a tube's heater is not drawn."
    ),
    why=(
        "A fuse sized for the wire and not for the set sits through a shorted winding or a "
        "failed rectifier until the transformer smokes."
    ),
    source="1.5 to 2 times the normal primary current, slow (found, a builders' guide to fuses); "
    "3 leaves room for the magnetising current, which is not counted",
)
def fuse_too_large(case: Case) -> Iterator[Outcome]:
    """Compare each line fuse with the current it carries."""
    circuit = case.circuit
    fuses = _fuses_in(case, "line") if mains_drawn(circuit) else []
    reason = unsolved_reason(case)
    if reason is not None:
        if fuses:
            yield fuse_too_large.not_judged(tuple(f.name for f in fuses), reason)
        return
    for fuse in fuses:
        wave = case.warm.current(fuse.name)
        rated = si(fuse.value, "ampere")
        if rated is None or wave is None:
            yield fuse_too_large.not_judged((fuse.name,), "its rating or current is not known")
            continue
        if rated <= SMALLEST_A or rated <= FUSE_FACTOR * wave.rms:
            continue
        cold = [t.name for t in circuit.tubes.values() if t.heater is None]
        if cold:
            text = f"the heaters of {listed(cold)} are not drawn, so its current is not known"
            yield fuse_too_large.not_judged((fuse.name,), text)
            continue
        fits = next((f for f in FUSES_A if f >= 1.5 * wave.rms), FUSES_A[-1])
        yield fuse_too_large.finding(
            case,
            (fuse.name,),
            f"{fuse.name} is rated {engineering(rated, 'A')} and carries "
            f"{engineering(wave.rms, 'A')}",
            f"Use {fits:g} A slow (1.5 to 2 times the current; the transformer's own "
            "magnetising current is not counted)",
            state="warm",
            evidence={
                "current_rms_a": wave.rms,
                "fuse_a": rated,
                "limit_a": FUSE_FACTOR * wave.rms,
            },
            excess=rated / (FUSE_FACTOR * wave.rms),
        )


RULES: tuple[Rule, ...] = (
    no_earth,
    no_fuse,
    fuse_in_neutral,
    fuse_too_large,
    live_chassis,
    live_common,
    capacitor_to_chassis,
    capacitor_stays_charged,
)
