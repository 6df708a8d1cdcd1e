"""A mains transformer's primary against the voltage it gets."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.chopped import is_chopped
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import listed, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Transformer, Winding
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

OFF = Threshold("share the mains may be off what a primary is wound for", 0.15, "", PRACTICE)
LEAST = 0.3
"""With less than this share of its voltage a primary is not connected, which is another matter."""


@rule(
    "supply.primary-voltage",
    title="Primary on the wrong mains voltage",
    level="notice",
    states="warm, nominal mains",
    needs="the mains line, the primary's voltage, and its wiring or a solved state",
    criterion=(
        f"A primary gets more than {100 * OFF.value:g} % more or less than the voltage it is wound "
        "for: 115 V on 230 V mains and the reverse, two halves side by side where they belong in "
        "series, or in series where they belong side by side."
    ),
    why=(
        "At twice its voltage the core saturates: the primary takes amperes without any load, and "
        "until the fuse goes every heater, capacitor and plate gets double. At half of it the set "
        "stays dark and cold, and whoever looks for the fault finds it everywhere."
    ),
    source=(Citation("drawing", "the voltages written"), Citation("practice", "15 %")),
    limits=(
        "Saturation of the core is not solved: with too much voltage the real currents are far "
        "greater than any figure here. A dropper ahead of the primary is in the figure."
    ),
    thresholds=(OFF,),
)
def primary_voltage(case: Case) -> Iterator[Outcome]:
    """Compare each primary with what is across it; one finding a transformer."""
    for transformer in case.circuit.transformers.values():
        off = [(w, v) for w in transformer.primaries if (v := _off(case, transformer, w))]
        if off and not is_chopped(case.circuit, transformer.name):
            yield _finding(case, transformer, off)


def _off(case: Case, transformer: Transformer, winding: Winding) -> float | None:
    """The volts across a primary where they are not what it is wound for."""
    wound, got = si(winding.volts, "volt"), _volts(case, transformer, winding)
    if not wound or got is None or got < LEAST * wound:
        return None
    return got if abs(got / wound - 1) > OFF.value else None


def _volts(case: Case, transformer: Transformer, winding: Winding) -> float | None:
    """Rms volts across a primary; the mains itself where the drawing leaves its wiring out."""
    mains = si(case.circuit.mains.voltage, "volt") if case.circuit.mains else None
    warm = case.solutions.get("warm")
    if not transformer.wired:
        return mains if len(transformer.primaries) == 1 else None
    if warm is not None and warm.converged:
        wave = warm.between(winding.nets[0], winding.nets[-1])
        return None if wave is None else wave.rms
    ends = {case.circuit.points.get("line"), case.circuit.points.get("neutral")}
    return mains if {winding.nets[0], winding.nets[-1]} == ends else None


def _finding(case: Case, transformer: Transformer, off: list[tuple[Winding, float]]) -> Finding:
    first, got = off[0]
    wound = si(first.volts, "volt") or 0.0
    names = tuple(w.name for w, _ in off)
    excess = max(got / wound, wound / got)
    return primary_voltage.finding(
        case,
        names,
        f"{listed(names)} {'gets' if len(names) == 1 else 'get'} {volts(got)}, wound for "
        f"{volts(wound)}",
        _remedy(case, transformer, off),
        state="warm",
        evidence={"primary": figure(got, "V"), "wound_for": figure(wound, "V")},
        limit=figure((1 + OFF.value if got > wound else 1 - OFF.value) * wound, "V"),
        certainty="certain",
        excess=excess / (1 + OFF.value),
    )


def _remedy(case: Case, transformer: Transformer, off: list[tuple[Winding, float]]) -> str:
    """Join its two halves the other way where that suits; else another transformer."""
    mains = (si(case.circuit.mains.voltage, "volt") or 0.0) if case.circuit.mains else 0.0
    first, got = off[0]
    wound = si(first.volts, "volt") or 1.0
    names = [w.name for w in transformer.primaries]
    if len(names) == 2 and abs(mains / (2 * wound) - 1) <= OFF.value and got > wound:
        return (
            f"Join {listed(names)} in series, in step: the second's dot to the first's lead "
            "without one. Change nothing else for this"
        )
    if len(names) == 2 and abs(mains / wound - 1) <= OFF.value and got < wound:
        return f"Join {listed(names)} side by side, dot to dot. Change nothing else for this"
    if (tap := _fitting(transformer, mains)) is not None:
        return f"Put the mains across {tap}; change nothing behind it for this"
    return (
        f"Use a transformer with a primary for {volts(mains)}, or the tap for it; change nothing "
        "behind it for this"
    )


def _fitting(transformer: Transformer, mains: float) -> str | None:
    """The leads of a tapped primary that are made for this mains, where there are such."""
    first, parts = transformer.primaries[0], transformer.fed
    made_for = sum(si(b.value, "volt") or 0.0 for b in parts)
    if transformer.taken is None or abs(mains / made_for - 1) > OFF.value:
        return None
    ends = (first.leads[0][0], first.leads[len(parts)][0])
    return listed(f"{first.name}.{end}" for end in ends)


RULES: tuple[Rule, ...] = (primary_voltage,)
