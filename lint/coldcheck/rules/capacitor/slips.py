"""Capacitors whose value does not suit their place: mostly a lost or mistaken prefix."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

from coldcheck.anatomy import supplies
from coldcheck.anatomy.bias_network import outside
from coldcheck.anatomy.grid_kinds import around
from coldcheck.anatomy.neighbourhood import ohms_between
from coldcheck.anatomy.reach import reach
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering, si
from coldcheck.drawing.wording import ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule

LARGEST_COUPLING_F = Threshold("largest coupling capacitor", 10e-6, "F", PRACTICE)
LEAST_LEAK_OHM = Threshold("least grid leak behind a coupling", 10e3, "ohm", PRACTICE)
LEAST_POLARISED_F = Threshold("smallest electrolytic", 0.4e-6, "F", PRACTICE)
"""No electrolytic of a tube circuit is smaller (common practice)."""


@rule(
    "capacitor.unlikely-value",
    title="Capacitor value that does not suit its place",
    level="notice",
    states="the drawing alone",
    needs="the value of the capacitor",
    criterion="A capacitor from a plate or a cathode to a grid with "
    f"{LEAST_LEAK_OHM.value / 1e3:g} kohm or more to gnd is above "
    f"{LARGEST_COUPLING_F.value * 1e6:g} uF; or a polarised capacitor is below "
    f"{LEAST_POLARISED_F.value * 1e6:g} uF.",
    why="On old drawings mf is a microfarad and mmf a picofarad, and 20 may be either. A coupling "
    "of 22 uF takes seconds to charge and holds the grid positive all that time; 20 nF behind a "
    "rectifier filters nothing.",
    source=Citation("practice", "couplings of 1 nF to 1 uF, electrolytics from 1 uF up"),
    limits="Unpolarised filter capacitors are not judged, nor values within the usual range.",
    thresholds=(
        LARGEST_COUPLING_F,
        LEAST_LEAK_OHM,
        LEAST_POLARISED_F,
        supplies.FILTER_F,
        supplies.SERIES_OHMS,
    ),
)
def unlikely_capacitor(case: Case) -> Iterator[Outcome]:
    """Look at couplings and at electrolytics."""
    couplings = dict(_couplings(case.circuit))
    for branch in case.circuit.branches.values():
        farads = si(branch.value, "farad") if branch.kind is PartKind.CAPACITOR else None
        if farads is None:
            continue
        if branch.plus is not None and farads < LEAST_POLARISED_F.value:
            yield _too_small(case, branch, farads)
        elif branch.name in couplings and farads > LARGEST_COUPLING_F.value:
            yield _too_large(case, branch, farads, couplings[branch.name])


def _couplings(circuit: Circuit) -> Iterator[tuple[str, float]]:
    """(capacitor, ohms to gnd behind it) of each from a plate or cathode to a grid.

    Infinite ohms for a grid without a leak.
    """
    grids = {s.electrodes["grid"] for _, s in working(circuit) if "grid" in s.electrodes}
    fixed = {*outside(circuit), *LANDMARKS}
    ends = dict.fromkeys(
        n for _, s in working(circuit) for n in (s.net("plate"), s.net("cathode")) if n
    )
    for end in ends:
        for branch in circuit.at(end) if end not in LANDMARKS else ():
            if branch.kind is not PartKind.CAPACITOR:
                continue
            behind = branch.other(end)
            if behind in fixed or not (grids - fixed) & set(reach(circuit, [behind], fixed)):
                continue
            leak = ohms_between(around(circuit, behind), behind)
            if leak is not None and leak >= LEAST_LEAK_OHM.value:
                yield branch.name, leak


def _too_large(case: Case, branch: Branch, farads: float, leak: float) -> Outcome:
    timed = isfinite(leak)
    slow = (
        f" with {ohms(leak)}: it takes {3 * farads * leak:.2g} s to charge, and the grid is "
        "positive meanwhile"
        if timed
        else ""
    )
    return unlikely_capacitor.finding(
        case,
        (branch.name,),
        f"{branch.name}: {engineering(farads, 'F')} couples a plate to a grid{slow}",
        f"Look at the original again: {engineering(farads / 1e3, 'F')} would suit",
        evidence={
            "capacitance": figure(farads, "F"),
            **({"time_constant": figure(farads * leak, "s")} if timed else {}),
        },
        limit=LARGEST_COUPLING_F.figure,
        excess=farads / LARGEST_COUPLING_F.value,
    )


def _too_small(case: Case, branch: Branch, farads: float) -> Outcome:
    meant = farads
    while meant < 1e-6:
        meant *= 1e3
    return unlikely_capacitor.finding(
        case,
        (branch.name,),
        f"{branch.name}: {engineering(farads, 'F')} with a plus: no electrolytic is that small",
        f"Look at the original again: {engineering(meant, 'F')} would suit "
        "(mf is a microfarad there, mmf a picofarad)",
        evidence={"capacitance": figure(farads, "F")},
        limit=LEAST_POLARISED_F.figure,
        excess=LEAST_POLARISED_F.value / farads if farads else 1e6,
    )


RULES: tuple[Rule, ...] = (unlikely_capacitor,)
