"""Tubes in parallel that do not share what they carry."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import resistors_at
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes, listed, ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

SHARED = Threshold(
    "ratio of the currents of like tubes in parallel", 1.5, "",
    Citation("practice", "sound ones of one type differ by a fifth or so"),
)  # fmt: skip
SMALL_OHM = 2e3
"""Between electrodes in parallel there are wires, stoppers and sharing resistors."""

FEEDS_MA = 1.0
"""Below this there is nothing to share."""


@rule(
    "tube.shared-unequally",
    title="Tubes in parallel that share unequally",
    level="notice",
    blame=Blame.SLIP,
    states="warm",
    needs="a solved warm state",
    criterion="Two triodes, or two pentodes, have plates, grids and cathodes joined by wires or by "
    f"resistors of {SMALL_OHM:g} ohm or less, and one carries {SHARED.value:g} times the current "
    "of the other or more; their resistors differ.",
    why="In parallel each is to carry its part. One with a larger resistor in its cathode leaves "
    "the work to the others, which then pass their limit first.",
    source=(Citation("arithmetic", "the solved currents"), PRACTICE),
    limits="Copies of one type are taken as equal; what they differ by is not in the drawing.",
    thresholds=(SHARED,),
)
def shared_unequally(case: Case) -> Iterator[Outcome]:
    """Compare the sections that are in parallel, pair by pair."""
    warm = case.solutions.get("warm")
    if warm is None or not warm.converged:
        return
    sections = [s for _, s in working(case.circuit)]
    for one, other in combinations(sections, 2):
        if one.kind is not other.kind or not _parallel(case.circuit, one, other):
            continue
        found = [(s, r.plate_ma) for s in (one, other) if (r := warm.readings.get(s.name))]
        if len(found) < 2:
            continue  # of one the current is not known
        (small, less), (large, more) = sorted(found, key=lambda x: x[1])
        parts = _differing(case.circuit, small, large)
        if more > FEEDS_MA and more > SHARED.value * max(less, 1e-9) and parts:
            yield _unequal(case, (large, more), (small, less), parts)


def _unequal(
    case: Case, most: tuple[Section, float], least: tuple[Section, float], parts: list[Branch]
) -> Finding:
    (large, more), (small, less) = most, least
    values = listed(f"{b.owner} {ohms(si(b.value, 'ohm') or 0.0)}" for b in parts)
    return shared_unequally.finding(
        case,
        (*(b.owner for b in parts), large.name, small.name),
        f"{large.name} carries {amperes(more / 1e3)} and {small.name}, in parallel with it, "
        f"{amperes(less / 1e3)}: {values}",
        f"Use one value for {listed(b.owner for b in parts)}",
        state="warm",
        evidence={"most": figure(more / 1e3, "A"), "least": figure(less / 1e3, "A")},
        limit=SHARED.figure,
        certainty="likely",
        excess=more / max(less, 1e-9) / SHARED.value,
    )


def _parallel(circuit: Circuit, one: Section, other: Section) -> bool:
    """Whether plates, grids and cathodes of two sections are joined, each by little."""
    ends = [(one.net(e), other.net(e)) for e in ("plate", "grid", "cathode")]
    return all(a is not None and b is not None and _near(circuit, a) & _near(circuit, b)
               for a, b in ends)  # fmt: skip


def _near(circuit: Circuit, net: str) -> set[str]:
    """A net and what a small resistor leads to."""
    return {net} if net in LANDMARKS else {net, *(b.other(net) for b in _small(circuit, net))}


def _small(circuit: Circuit, net: str) -> list[Branch]:
    return [b for b in resistors_at(circuit, net) if (b.ohms or 1e9) <= SMALL_OHM]


def _differing(circuit: Circuit, one: Section, other: Section) -> list[Branch]:
    """The sharing resistors at the cathodes of two sections, where they are not alike."""
    found = [b for s in (one, other) for b in _small(circuit, s.cathode_nets[0])]
    values = {round(b.ohms or 0.0, 6) for b in found}
    return found if len(found) == 2 and len(values) == 2 else []


RULES: tuple[Rule, ...] = (shared_unequally,)
