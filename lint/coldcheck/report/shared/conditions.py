"""The words for what the figures of a sheet are for, on every sheet alike."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.report.shared.plain import listed

if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import Any

    from coldcheck.bench.chart.conditions import Conditions, Control

METER = (
    "Meter: 10 Mohm on DC (what it loads by 1 % or more is noted), true rms on AC, one reading at "
    "a time."
)


def sentences(conditions: Conditions) -> Iterator[str]:
    """What was assumed, a sentence each."""
    yield f"Mark of the drawing: {conditions.mark}."
    yield _mains(conditions)
    yield from _scaling(conditions)
    at_nothing = f" ({listed(conditions.signals)} at nothing)" if conditions.signals else ""
    yield f"Signal: none{at_nothing}."
    if conditions.state:
        yield f"State: {conditions.state}."
    if conditions.controls:
        yield f"Controls: {', '.join(map(_control, conditions.controls))}."
    yield f"Read with: {'; '.join(conditions.meters)}." if conditions.meters else METER


def paragraph_of(conditions: Conditions) -> str:
    """All of it as one paragraph."""
    return " ".join(sentences(conditions))


def _mains(conditions: Conditions) -> str:
    if conditions.volts is None:
        return "Mains: none in the drawing; bench supplies at what is written."
    hertz = f", {conditions.hertz:g} Hz" if conditions.hertz else ""
    return f"Mains: {conditions.volts:.4g} V{hertz}."


def _scaling(conditions: Conditions) -> Iterator[str]:
    """How to go over to the mains one has."""
    scaling, volts = conditions.scaling, conditions.volts
    if scaling is None or volts is None:
        return
    yield (
        f"At other mains multiply volts by yours over {volts:.4g} V: up to "
        f"{100 * scaling.reach:.0f} % off, the DC of named points goes so within "
        f"{max(100 * scaling.within, 1):.0f} %{_but(scaling.not_at)}."
    )


def _but(names: tuple[str, ...]) -> str:
    return f", but not that of {listed(names)}" if names else ""


def _control(control: Control) -> str:
    if control.thrown:
        apart = control.thrown.removeprefix(control.name).strip()
        return f"{control.name} {apart or 'thrown'}"
    if control.below is None:
        return f"{control.name} as drawn"
    return f"{control.name} at {100 * control.below:.0f} %"


def as_data(conditions: Conditions) -> dict[str, Any]:
    """For JSON: plain values."""
    scaling = conditions.scaling
    return {
        "drawing": conditions.file,
        "mark": conditions.mark,
        "state": conditions.state,
        "mains_v": conditions.volts,
        "mains_hz": conditions.hertz,
        "goes_with_mains": None
        if scaling is None
        else {
            "reach": scaling.reach,
            "within": float(f"{scaling.within:.3g}"),
            "not_at": list(scaling.not_at),
        },
        "signals_at_nothing": list(conditions.signals),
        "controls": [
            {"name": c.name, "below_wiper": c.below, "thrown": c.thrown or None}
            for c in conditions.controls
        ],
        "meter": "; ".join(conditions.meters) or METER,
    }
