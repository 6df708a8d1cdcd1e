"""What the leakage of an old capacitor does to a bias: through the coupling, and off the line."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from coldcheck.anatomy import supplies
from coldcheck.anatomy.bias_network import outside
from coldcheck.anatomy.case import unsolved_reason
from coldcheck.anatomy.grid_kinds import around
from coldcheck.anatomy.neighbourhood import ohms_between
from coldcheck.anatomy.reach import reach
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.tubes_types import SIGNAL_GRIDS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed, ohms, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

LEAK_OHMS = Threshold(
    "leakage of an aged paper capacitor", 100e6, "ohm", Citation("magazine-restoring")
)
"""An aged paper capacitor (catalogue of faults: found, a magazine on restoring sets)."""

SHIFT_V = Threshold("shift of a grid by leakage", 0.5, "V", PRACTICE)
SHARE = Threshold("leakage resistance over the line's, least", 20.0, "", PRACTICE)
ELECTROLYTIC_AMPS = Threshold(
    "leakage of an electrolytic, amperes a farad and volt",
    0.01,
    "",
    Citation("electrolytic-sheets", "I = 0.01 C V"),
)
"""Leakage of an electrolytic, ampere a farad and volt (data sheets: I = 0.01 C V, memory)."""

TIGHT = ("film", "mica", "ceramic", "polyester", "polypropylene", "polystyrene")
"""Dielectrics that do not leak with age; where one is written nothing is assumed."""


@dataclass(frozen=True, slots=True)
class _Leaky:
    """A coupling capacitor: the volts across it, the ohms behind it, the grid's share of them.

    ``leak`` is the resistance from the capacitor to gnd, ``shared`` the part of it that the grid
    sees the drop of.
    """

    section: Section
    capacitor: Branch
    across: float
    leak: float
    shared: float

    @property
    def shift(self) -> float:
        """V R / (R + leakage), volts; with a divider behind the capacitor, the grid's share."""
        return self.across * self.shared / (self.leak + LEAK_OHMS.value)


@rule(
    "grid.leakage-moves-bias",
    title="Bias at the mercy of a coupling capacitor's leakage",
    level="advice",
    states="warm",
    needs="a solved warm state and the resistance from the grid to gnd",
    criterion=f"With {LEAK_OHMS.value / 1e6:g} Mohm of leakage in its coupling capacitor a grid "
    "would "
    f"move up by more than {SHIFT_V.value:g} V: voltage across the capacitor times R / (R + "
    "leakage). "
    "All such grids are one advice. Capacitors written as film, mica, ceramic or the like are "
    "left out.",
    why="An old paper capacitor leaks, and the leakage flows out through the grid leak: 250 V, "
    "100 Mohm and 470 kohm make 1.2 V. The next tube draws more than it should, an output tube "
    "so much more that it dies.",
    source=(Citation("arithmetic"), Citation("magazine-restoring")),
    limits="The leakage is assumed, not known. A grid with several coupling capacitors is taken "
    "with each alone; leakage into a grid that another tube's electrode holds is not looked at.",
    thresholds=(LEAK_OHMS, SHIFT_V, supplies.FILTER_F, supplies.SERIES_OHMS),
)
def leakage_moves_bias(case: Case) -> Iterator[Outcome]:
    """Leak 100 megohm into every grid."""
    if unsolved_reason(case) is not None:
        return
    found = sorted(_leaky(case), key=lambda x: -x.shift)
    if not found:
        return
    worst = found[0]
    names = [x.capacitor.name for x in found]
    parts = [f"{x.section.name} by {volts(x.shift)} ({x.capacitor.name})" for x in found]
    yield leakage_moves_bias.finding(
        case,
        tuple(dict.fromkeys([*names, *(x.section.name for x in found)])),
        f"{ohms(LEAK_OHMS.value)} of leakage in the coupling capacitor would move the grid of "
        f"{listed(parts)}",
        f"Write film if {listed(names)} {'is' if len(names) == 1 else 'are'} (a sound film "
        f"capacitor does not leak); use a grid leak of {ohms(_small_enough(worst))} or less for "
        f"{worst.section.name}, or measure the leakage first",
        state="warm",
        evidence={
            "shift": figure(worst.shift, "V"),
            "across": figure(worst.across, "V"),
            "grid leak": figure(worst.leak, "ohm"),
        },
        limit=SHIFT_V.figure,
        certainty="possible",
        excess=worst.shift / SHIFT_V.value,
    )


def _small_enough(worst: _Leaky) -> float:
    """The resistance at which the shift is just the limit, ohms."""
    return SHIFT_V.value * LEAK_OHMS.value / (worst.across - SHIFT_V.value)


def _leaky(case: Case) -> Iterator[_Leaky]:
    fixed = {*outside(case.circuit), *LANDMARKS}
    grids = {
        n for s in case.circuit.sections() for e, n in s.electrodes.items() if e in SIGNAL_GRIDS
    }
    for _, section in working(case.circuit):
        net = section.net("grid")
        if net is None or net in LANDMARKS:
            continue
        for near, capacitor in _on_the_line(case.circuit, section, fixed):
            judged = _may_leak(capacitor) and capacitor.other(near) not in {*LANDMARKS, *grids}
            found = _judge(case, section, capacitor, near) if judged else None
            if found is not None and found.shift > SHIFT_V.value:
                yield found


def _on_the_line(
    circuit: Circuit, section: Section, fixed: set[str]
) -> dict[tuple[str, Branch], None]:
    """(net, capacitor) of what is on the wires and resistors that lead to nothing but the grid."""
    nets = [n for n in reach(circuit, [section.electrodes["grid"]], fixed) if n not in fixed]
    pairs = ((n, b) for n in nets for b in circuit.at(n) if b.kind is PartKind.CAPACITOR)
    return dict.fromkeys(pairs)


def _may_leak(branch: Branch) -> bool:
    words = () if branch.part is None else branch.part.words
    sealed = branch.part is not None and branch.part.safety_class is not None
    return branch.kind is PartKind.CAPACITOR and not sealed and not set(words) & set(TIGHT)


def _judge(case: Case, section: Section, capacitor: Branch, near: str) -> _Leaky | None:
    """The leakage through one capacitor, where its far side is a plate or a supply."""
    far = capacitor.other(near)
    wave = case.warm.between(far, near)
    if wave is None or wave.dc <= SHIFT_V.value:
        return None
    local, grid = around(case.circuit, near), section.electrodes["grid"]
    three = [ohms_between(local, *pair) for pair in ((near,), (grid,), (near, grid))]
    known = [r for r in three if r is not None and r != inf]
    if len(known) < len(three):
        return None
    shared = max((known[0] + known[1] - known[2]) / 2, 0.0)
    return _Leaky(section, capacitor, wave.dc, known[0], shared)


@rule(
    "grid.bypass-leaks-on-line",
    title="Bypass capacitor on a line of high resistance",
    level="advice",
    states="the drawing alone",
    needs="the resistance from the line to gnd",
    criterion=f"A capacitor from a grid's line to gnd leaks as much as {1 / SHARE.value:.0%} of "
    "what the "
    f"line's resistance carries: its leakage resistance is less than {SHARE.value:g} times the "
    f"resistance from the line to gnd. Taken for the leakage: {LEAK_OHMS.value / 1e6:g} Mohm; for "
    "an "
    "electrolytic 0.01 C V (100 Mohm divided by its microfarads); nothing where film, mica or the "
    "like is written.".replace("%", " %"),
    why="A line for automatic gain control or a bias supply comes through megohms. A capacitor "
    "that leaks a little pulls it towards gnd, and the tubes on it lose their bias.",
    source=(Citation("magazine-restoring"), Citation("electrolytic-sheets", "I = 0.01 C V")),
    limits="The leakage is assumed, not known. Diodes of a detector are taken as not conducting.",
    thresholds=(ELECTROLYTIC_AMPS, LEAK_OHMS, SHARE, supplies.FILTER_F, supplies.SERIES_OHMS),
)
def bypass_leaks(case: Case) -> Iterator[Outcome]:
    """Compare each line's resistance with the leakage of what is on it."""
    done: set[str] = set()
    fixed = {*outside(case.circuit), *LANDMARKS}
    for _, section in working(case.circuit):
        net = section.net("grid")
        if net is None or net in LANDMARKS:
            continue
        for near, capacitor in _on_the_line(case.circuit, section, fixed):
            if capacitor.name in done or capacitor.other(near) != GROUND:
                continue
            leakage = _leakage(capacitor)
            line = ohms_between(around(case.circuit, near), near)
            if (
                leakage is None
                or line is None
                or line == inf
                or SHARE.value * line <= leakage * 1.001
            ):
                continue
            done.add(capacitor.name)
            yield _on_line(case, section, capacitor, (line, leakage))


def _leakage(branch: Branch) -> float | None:
    """The leakage resistance to reckon with, ohms; ``None`` where there is none."""
    if not _may_leak(branch):
        return None
    farads = branch.farads
    electrolytic = branch.plus is not None and farads
    return 1 / (ELECTROLYTIC_AMPS.value * farads) if electrolytic and farads else LEAK_OHMS.value


def _on_line(
    case: Case, section: Section, capacitor: Branch, found: tuple[float, float]
) -> Finding:
    line, leakage = found
    return bypass_leaks.finding(
        case,
        (capacitor.name, section.name),
        f"{capacitor.name} on the line to {section.name}.grid may leak like {ohms(leakage)}; the "
        f"line has {ohms(line)} to gnd",
        f"Use a film capacitor and write it down, or bring the line below "
        f"{ohms(leakage / SHARE.value)}",
        evidence={"line": figure(line, "ohm"), "leakage": figure(leakage, "ohm")},
        limit=figure(leakage / SHARE.value, "ohm"),
        certainty="possible",
        excess=SHARE.value * line / leakage,
    )


RULES: tuple[Rule, ...] = (leakage_moves_bias, bypass_leaks)
