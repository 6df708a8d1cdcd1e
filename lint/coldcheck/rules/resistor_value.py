"""Resistors whose value does not suit their place: mostly a lost or doubled k."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from coldcheck.circuit.model import LANDMARKS
from coldcheck.rules.model import rule
from coldcheck.rules.places import net_text, ohms, ohms_between, si
from coldcheck.rules.reach import reach
from coldcheck.rules.tube import working

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.rules.model import Case, Finding, Outcome

SHARE = 0.1
"""A grid leak below a tenth of the plate load ahead of it leaves no gain (common practice)."""

LEAST_LOAD_OHM = 1e3
LIKELY_LEAK = (47e3, 2.2e6)
LIKELY_LOAD = (10e3, 470e3)
COUPLING_F = 1e-9


@dataclass(frozen=True, slots=True)
class _Coupling:
    """A stage that hands on through a capacitor: its plate, its load, and the net behind."""

    section: Section
    load: Branch
    capacitor: Branch
    behind: str

    @property
    def load_ohms(self) -> float:
        """The plate resistor, ohms."""
        return si(self.load.value, "ohm") or 0.0


@rule(
    "resistor.unlikely-value",
    title="Resistor value that does not suit its place",
    level="notice",
    states="the drawing alone",
    needs="the values of plate and grid resistors around coupling capacitors of 1 nF or more",
    criterion=(
        f"A grid leak behind a coupling capacitor is below {SHARE:g} of the plate resistor ahead "
        f"of it; or a plate resistor with a coupling capacitor on it is below "
        f"{LEAST_LOAD_OHM / 1e3:g} kohm."
    ),
    why=(
        "470 for 470k is the commonest slip in copying a drawing. Nothing burns, all voltages "
        "are right, and the set is silent: the stage works into what is nearly a short."
    ),
    source="common practice: plate loads of 47 to 470 kohm, grid leaks of 220 kohm to 1 Mohm",
)
def unlikely_value(case: Case) -> Iterator[Outcome]:
    """Look at both sides of every coupling capacitor between a plate and a grid."""
    done: set[str] = set()
    for coupling in _couplings(case.circuit):
        if coupling.load_ohms < LEAST_LOAD_OHM:
            if coupling.load.name not in done:
                yield _small_load(case, coupling)
            done.add(coupling.load.name)
            continue
        leak = ohms_between(case.circuit, coupling.behind)
        if leak is not None and leak < SHARE * coupling.load_ohms:
            yield _small_leak(case, coupling, leak)


def _couplings(circuit: Circuit) -> Iterator[_Coupling]:
    grids = {s.electrodes["grid"] for _, s in working(circuit) if "grid" in s.electrodes}
    for _, section in working(circuit):
        plate = section.net("plate")
        loads = [b for b in circuit.at(plate) if _is_load(b)] if plate is not None else []
        if plate is None or len(loads) != 1:
            continue
        for capacitor in circuit.at(plate):
            farads = si(capacitor.value, "farad") if capacitor.kind == "capacitor" else None
            behind = capacitor.other(plate)
            if farads is None or farads < COUPLING_F or behind in LANDMARKS:
                continue
            if grids & set(reach(circuit, [behind], LANDMARKS)):
                yield _Coupling(section, loads[0], capacitor, behind)


def _is_load(branch: Branch) -> bool:
    return branch.kind == "resistor" and branch.value is not None and branch.a != branch.b


def _small_leak(case: Case, coupling: _Coupling, leak: float) -> Finding:
    at = [b for b in case.circuit.at(coupling.behind) if b.kind in ("resistor", "pot") and b.value]
    part = min(at, key=lambda b: si(b.value, "ohm") or 0.0) if at else coupling.capacitor
    return unlikely_value.finding(
        case,
        (part.owner,),
        f"{part.owner}: {ohms(leak)} from {net_text(case.circuit, coupling.behind)} to gnd loads "
        f"the plate of {coupling.section.name}, which works with {ohms(coupling.load_ohms)} "
        f"({coupling.load.name}): hardly any signal is left",
        _meant(part, LIKELY_LEAK) or "Use a grid leak of 220 kohm to 1 Mohm",
        evidence={"leak_ohm": leak, "limit_ohm": SHARE * coupling.load_ohms},
        excess=SHARE * coupling.load_ohms / max(leak, 1e-3),
    )


def _small_load(case: Case, coupling: _Coupling) -> Finding:
    value = coupling.load_ohms
    return unlikely_value.finding(
        case,
        (coupling.load.name,),
        f"{coupling.load.name}: {ohms(value)} is no load for the plate of {coupling.section.name}, "
        f"whose signal {coupling.capacitor.name} is to hand on",
        _meant(coupling.load, LIKELY_LOAD) or "Use a plate resistor of 47 to 470 kohm",
        evidence={"load_ohm": value, "limit_ohm": LEAST_LOAD_OHM},
        excess=LEAST_LOAD_OHM / max(value, 1e-3),
    )


def _meant(part: Branch, likely: tuple[float, float]) -> str | None:
    """The value with a k that was lost, where that would suit."""
    value = 1e3 * (si(part.value, "ohm") or 0.0)
    if part.kind != "resistor" or not likely[0] <= value <= likely[1]:
        return None
    return f"Look at the original again: {ohms(value)} would suit; write it with its k"
