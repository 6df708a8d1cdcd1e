"""Capacitors whose value does not suit their place: mostly a lost or mistaken prefix."""

from __future__ import annotations

from math import inf, isfinite, pi
from typing import TYPE_CHECKING

from coldcheck.anatomy import supplies
from coldcheck.anatomy.bias_network import outside
from coldcheck.anatomy.coupling import coupled, still_nets
from coldcheck.anatomy.grid_kinds import around
from coldcheck.anatomy.neighbourhood import ohms_between
from coldcheck.anatomy.reach import reach
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering
from coldcheck.drawing.wording import ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule

LARGEST_COUPLING_F = Threshold("largest coupling capacitor", 10e-6, "F", PRACTICE)
LEAST_LEAK_OHM = Threshold("least grid leak behind a coupling", 10e3, "ohm", PRACTICE)
THIN_HZ = Threshold(
    "corner above which a coupling passes no music", 1000.0, "Hz",
    Citation("practice", "couplings that leave out the bass on purpose have 100 to 700 Hz"),
)  # fmt: skip
AUDIO_HZ = 5e3
"""A `signal` above this is none of an audio amplifier's."""

LEAST_POLARISED_F = Threshold("smallest electrolytic", 0.4e-6, "F", PRACTICE)
"""No electrolytic of a tube circuit is smaller (common practice)."""


@rule(
    "capacitor.unlikely-value",
    title="Capacitor value that does not suit its place",
    level="notice",
    states="the drawing alone; warm for where the stated signal goes",
    needs="the value of the capacitor",
    criterion="A capacitor from a plate or a cathode to a grid with "
    f"{LEAST_LEAK_OHM.value / 1e3:g} kohm or more to gnd is above "
    f"{LARGEST_COUPLING_F.value * 1e6:g} uF; or it is all that brings a grid the stated "
    f"`signal` of {AUDIO_HZ / 1e3:g} kHz or less, and with what is to gnd behind it cuts off above "
    f"{THIN_HZ.value / 1e3:g} kHz; or a polarised capacitor is below "
    f"{LEAST_POLARISED_F.value * 1e6:g} uF.",
    why="On old drawings mf is a microfarad and mmf a picofarad, and 20 may be either. A coupling "
    "of 22 uF takes seconds to charge and holds the grid positive all that time; 20 nF behind a "
    "rectifier filters nothing.",
    source=Citation("practice", "couplings of 1 nF to 1 uF, electrolytics from 1 uF up"),
    limits="Unpolarised filter capacitors are not judged, nor values within the usual range. A "
    "coupling that another way goes past (a tone control, a bright capacitor), and a drawing with "
    "a signal of more than 5 kHz, is not judged for what it leaves out.",
    thresholds=(
        LARGEST_COUPLING_F,
        LEAST_LEAK_OHM,
        LEAST_POLARISED_F,
        THIN_HZ,
        supplies.FILTER_F,
        supplies.SERIES_OHMS,
    ),
)
def unlikely_capacitor(case: Case) -> Iterator[Outcome]:
    """Look at couplings and at electrolytics."""
    couplings = dict(_couplings(case.circuit))
    for branch in case.circuit.branches.values():
        farads = branch.farads if branch.kind is PartKind.CAPACITOR else None
        if farads is None:
            continue
        if branch.plus is not None and farads < LEAST_POLARISED_F.value:
            yield _too_small(case, branch, farads)
        elif branch.name in couplings and farads > LARGEST_COUPLING_F.value:
            yield _too_large(case, branch, farads, couplings[branch.name])
        elif branch.name in couplings and isfinite(couplings[branch.name]):
            yield from _thin(case, branch, farads, couplings[branch.name])


def _thin(case: Case, branch: Branch, farads: float, leak: float) -> Iterator[Outcome]:
    """A coupling that leaves nothing but treble, on the way of the stated signal."""
    corner = 1 / (2 * pi * farads * leak) if farads else inf
    meant = next((farads * f for f in PREFIXES if corner / f <= USUAL_HZ), None)
    if corner <= THIN_HZ.value or meant is None or not _only_way(case, branch):
        return
    yield unlikely_capacitor.finding(
        case,
        (branch.name,),
        f"{branch.name}: {engineering(farads, 'F')} into {ohms(leak)} lets through what is above "
        f"{engineering(corner, 'Hz')}, and is the only way of the signal",
        f"Look at the original again: {engineering(meant, 'F')} would suit",
        evidence={"corner": figure(corner, "Hz")},
        limit=THIN_HZ.figure,
        certainty="likely",
        excess=corner / THIN_HZ.value,
    )


PREFIXES = (10.0, 100.0, 1e3)
"""By how many a value is lost: a nought or two, or a prefix."""

USUAL_HZ = 50.0
"""A coupling of an audio stage has a corner below this (common practice)."""


def _only_way(case: Case, branch: Branch) -> bool:
    """Whether a capacitor alone couples what gives an audio signal to the grids behind it."""
    signal, still = case.signal, still_nets(case.circuit)
    driven = [] if signal is None or not signal.solved else list(signal.sources.values())
    if not driven or any(d.frequency > AUDIO_HZ for d in driven):
        return False
    stages = {s.section for d in driven for s in d.stages}
    ends, without = (branch.a, branch.b), (branch.name,)
    sides = [coupled(case.circuit, [n], still, without=without) for n in ends]
    given = [_on(case.circuit, side, GIVES) & stages for side in sides]
    taken = [_on(case.circuit, side, ("grid",)) & stages for side in sides]
    coils = any(b.traits.coil for side in sides for n in side for b in case.circuit.at(n))
    apart = not coils and not sides[0] & sides[1]
    ways = ((given[k], taken[1 - k]) for k in (0, 1) if not given[1 - k])
    return apart and any(a and b and not a & _after(case.circuit, b, without) for a, b in ways)


GIVES = ("plate", "cathode")


def _on(circuit: Circuit, nets: Collection[str], electrodes: tuple[str, ...]) -> set[str]:
    """The sections with one of these electrodes on one of these nets."""
    return {s.name for n in nets for s, e in circuit.electrodes_at(n) if e in electrodes}


def _after(circuit: Circuit, first: set[str], without: tuple[str, ...]) -> set[str]:
    """These stages and those that their signal gets to: what feeds back is among them."""
    still, every = still_nets(circuit), {s.name: s for _, s in working(circuit)}
    seen, todo = set(first), list(first)
    while todo:
        section = every.get(todo.pop())
        nets = [] if section is None else [section.net("plate"), *section.cathode_nets]
        reached = coupled(circuit, [n for n in nets if n], still, without=without)
        new = _on(circuit, reached, ("grid",)) - seen
        seen |= new
        todo += new
    return seen


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
