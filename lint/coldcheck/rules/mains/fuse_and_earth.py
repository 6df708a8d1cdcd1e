"""Mains rules: fuse and protective earth; what one can touch is in ``mains_touch``."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.anatomy import galvanic
from coldcheck.anatomy.galvanic import loads_at, mains_drawn, transformerless, upstream
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.units import engineering
from coldcheck.drawing.wording import listed
from coldcheck.judge.rule import Rule, rule
from coldcheck.rules.mains import fuse
from coldcheck.rules.mains.fuse import (
    advised,
    fuses_in,
    rated_amps,
)
from coldcheck.rules.supply import inrush
from coldcheck.solve.solution import Wave
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.judge.finding import Outcome

NOT_DRAWN = "the mains side is not drawn"


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
    source=(
        Citation("iec-61010-1", "protective bonding of at most 0.1 ohm"),
        Citation("iec-62368-1"),
    ),
    limits=(
        "Judged on the drawing: whether the wire is thick, short and screwed down is for the "
        "eye and the meter. Sets built as double-insulated have to be accepted with a reason."
    ),
    thresholds=(galvanic.SERIES_OHM,),
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
    own = circuit.points.get(metal)
    across = () if earth is None else circuit.at(earth)
    between = tuple(b.name for b in across if b.other(earth or "") == own)
    what = f"reaches it only through {listed(between)}" if between else "is not joined to it"
    yield no_earth.finding(
        case,
        (metal, "earth") if earth is not None else (metal,),
        f"the set has no protective earth: {metal} {what}",
        f"Take the protective-earth wire straight to the metal: `{metal} -- earth`, no switch, "
        "fuse or resistor in it; a hum-breaking resistor, with diodes across it, goes between gnd "
        "and chassis",
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
    source=Citation("practice", "the order line, fuse, switch, primary"),
    limits=(
        "Only the primary side is meant here; the fuse's value is judged by mains.fuse-too-"
        "large. A resistor written as fusible counts as one: when it opens is not judged. "
        "A fuse in the plug or in the wall is not in the drawing."
    ),
    thresholds=(inrush.SLOW_MAY, fuse.HALVES_V, galvanic.SERIES_OHM),
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
    rated, drawn = rated_amps(case.circuit), _line_amps(case)
    amps = max(rated or 0.0, drawn or 0.0)
    if not amps:
        return ": a slow one of 1.5 to 2 times the normal current"
    what = "it draws" if amps == drawn else "the transformer is rated for"
    return f": {advised(case, amps):g} A slow for the {engineering(amps, 'A')} {what}"


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
    return bool(fuses_in(case.circuit, "neutral")) and bool(
        loads_at(circuit, upstream(circuit, circuit.points["line"], through_fuses=False))
        if "line" in circuit.points
        else True
    )


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
    source=Citation("practice", "single-pole protection is in the line conductor"),
    limits=(
        "The drawing's line and neutral are trusted; a socket wired the other way round is "
        "not seen, nor a plug that fits both ways."
    ),
    thresholds=(galvanic.SERIES_OHM,),
)
def fuse_in_neutral(case: Case) -> Iterator[Outcome]:
    """See which lead the fuse is in."""
    if not mains_drawn(case.circuit):
        yield from _not_drawn(fuse_in_neutral, case)
        return
    if _fused_in_neutral_only(case):
        names = tuple(f.name for f in fuses_in(case.circuit, "neutral"))
        yield fuse_in_neutral.finding(
            case,
            names,
            f"{listed(names)} is in the neutral and the line has no fuse",
            f"Move {names[0]} into the line lead, ahead of the switch",
            evidence={"fuse": listed(names)},
            certainty="certain",
        )


RULES: tuple[Rule, ...] = (
    no_earth,
    no_fuse,
    fuse_in_neutral,
)
