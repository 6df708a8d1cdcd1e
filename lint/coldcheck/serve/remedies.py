"""Remedies that were worked out, as changes to the text.

Only what a rule gives as a figure (or the one place to tie) is offered, with the values one can
buy, and only where the text shows for sure what to change. A test makes every such change in the
drawings of the rules' own mistakes and reviews them again: the finding must be gone.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from coldcheck.bench.points import shown_name
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.paths import references
from coldcheck.drawing.units import engineering, magnitude
from coldcheck.rules.capacitor import MARGIN, line_factor
from coldcheck.rules.capacitor_margin import (
    LARGEST_SHARE,
    LARGEST_V,
    RATING_SHARE,
    STOCK_V,
    SUPPLY_SHARE,
)
from coldcheck.rules.lift_divider import capacitor_volts
from coldcheck.rules.mains_fuse import fitting_fuse
from coldcheck.rules.places import preferred_below, wired
from coldcheck.rules.resistor import BODY_VOLTS, LASTING, SIZES_W, USUAL_SHARE, dissipation
from coldcheck.serve.completion import next_free, words_named
from coldcheck.serve.edits import Edit, LinesEdit
from coldcheck.serve.fields import ohms_written, replaced, smallest

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.rules.model import Finding, Review
    from coldcheck.serve.page import Page

LOW_CATHODE_V = 60.0
"""A heater line may be tied to gnd unasked while no cathode on it stands higher (well inside every
heater to cathode limit on file)."""

USUAL_LEAK = 470e3
LEAST_BLEEDER_W = 0.5
"""The smallest body the rule asks for: it has to last as long as the set."""


@dataclass(frozen=True, slots=True)
class Remedy:
    """A change to the text, with what it does in a few words."""

    title: str
    edits: tuple[Edit | LinesEdit, ...]


@dataclass(frozen=True, slots=True)
class Site:
    """What a remedy is worked out from."""

    review: Review
    circuit: Circuit
    page: Page
    finding: Finding

    def number(self, name: str) -> float:
        """A figure of the finding's evidence; 0 where it has none of that name."""
        value = self.finding.evidence.get(name, 0.0)
        return 0.0 if isinstance(value, str) else float(value)

    def branch(self, kind: str) -> Branch | None:
        """The finding's main place, where it is a part of that kind."""
        found = self.circuit.branches.get(self.finding.at[0]) if self.finding.at else None
        return found if found is not None and found.kind == kind else None


def remedy(site: Site) -> Remedy | None:
    """The change that mends a finding; ``None`` where none is sure."""
    make = _REMEDIES.get(site.finding.rule)
    own = site.finding.span.file == site.circuit.drawing.file
    return make(site) if make is not None and own else None


def _one(title: str, edit: Edit | None) -> Remedy | None:
    return None if edit is None else Remedy(title, (edit,))


# -- values in a bracket ---------------------------------------------------------------------


def _working_voltage(site: Site) -> Remedy | None:
    """The next working voltage one can buy that every rule on capacitors is content with."""
    branch = site.branch("capacitor")
    part = branch.part if branch is not None else None
    if branch is None or part is None or part.voltage is None:
        return None
    if part.voltage_is_ac or part.safety_class:
        return None
    least = max(_highest(site, branch) / MARGIN, _asked(site))
    dc = _warm_dc(site, branch)
    polarised = branch.plus is not None
    fits = [v for v in STOCK_V if not polarised or (v <= LARGEST_V and dc <= v * _usable(v))]
    buy = smallest(fits, least)
    rated = magnitude(part.voltage, "volt")
    if buy is None or buy <= rated:
        return None
    edit = replaced(site.page, branch, "volt", rated, f"{buy:g} V")
    return _one(f"Use {branch.name} for {buy:g} V instead of {rated:g} V", edit)


def _asked(site: Site) -> float:
    """What the rule itself asks for, volts."""
    if site.finding.rule == "capacitor.cathode-bypass-underrated":
        return site.number("limit_v")
    if site.finding.rule == "heater.lift-capacitor-underrated":
        return capacitor_volts(site.number("rail_v"))
    return 0.0


def _usable(rated: float) -> float:
    return LARGEST_SHARE if rated >= LARGEST_V else RATING_SHARE / SUPPLY_SHARE


def _warm_dc(site: Site, branch: Branch) -> float:
    warm = site.review.solutions.get("warm")
    wave = warm.between(branch.a, branch.b) if warm is not None and warm.converged else None
    return 0.0 if wave is None else abs(wave.dc)


def _highest(site: Site, branch: Branch) -> float:
    """The highest instant across it in any state, unloaded ones at the mains' highest."""
    worst = 0.0
    case = site.review.worked.case if site.review.worked is not None else None
    for solution in case.solved() if case is not None else ():
        wave = solution.between(branch.a, branch.b)
        if wave is not None and case is not None:
            worst = max(worst, wave.peak * line_factor(case, solution))
    return worst


def _power(site: Site) -> Remedy | None:
    """The next size of which the heat is no more than the usual share."""
    branch = site.branch("resistor")
    part = branch.part if branch is not None else None
    if branch is None or part is None or part.power is None:
        return None
    case = site.review.worked.case if site.review.worked is not None else None
    states = case.solved(*LASTING) if case is not None else iter(())
    heat = max((p for s in states if (p := dissipation(s, branch)) is not None), default=0.0)
    buy = smallest(SIZES_W, heat / USUAL_SHARE)
    rated = magnitude(part.power, "watt")
    if not heat or buy is None or buy <= rated:
        return None
    edit = replaced(site.page, branch, "watt", rated, f"{buy:g} W")
    return _one(f"Use {branch.name} for {buy:g} W instead of {rated:g} W", edit)


def _fuse(site: Site) -> Remedy | None:
    """The fuse that fits the current, 1.5 to 2 times."""
    branch = site.branch("fuse")
    normal = max(site.number("primary_a"), site.number("current_rms_a"))
    if branch is None or branch.value is None or not normal:
        return None
    amps, rated = fitting_fuse(normal), magnitude(branch.value, "ampere")
    edit = replaced(site.page, branch, "ampere", rated, f"{amps:g} A")
    return _one(f"Use {branch.name} for {amps:g} A instead of {rated:g} A", edit)


def _leak_lower(site: Site) -> Remedy | None:
    """The resistor of the only way from the grid to gnd, as large as the data sheet allows."""
    leak, limit = site.number("grid_ohm"), site.number("limit_ohm")
    net = site.circuit.points.get(f"{site.finding.at[0]}.grid")
    paths = references(site.circuit, net, limit=2) if net is not None else ()
    if len(paths) != 1 or not leak:
        return None
    resistors = [b for b in paths[0].branches if b.kind == "resistor" and b.value is not None]
    main = max(resistors, key=lambda b: magnitude(b.value, "ohm") if b.value else 0.0, default=None)
    total = paths[0].ohms
    if main is None or main.value is None or total is None:
        return None
    old = magnitude(main.value, "ohm")
    room = total * limit / leak - (total - old)
    if room < 1000:
        return None
    new = preferred_below(room)
    edit = replaced(site.page, main, "ohm", old, ohms_written(new))
    was = engineering(old, "ohm")
    title = f"Use {main.name} of {engineering(new, 'ohm')} instead of {was}"
    return _one(title, edit)


# -- lines that are missing -------------------------------------------------------------------


def _bleeder(site: Site) -> Remedy | None:
    """The bleeder that was worked out, right across the capacitor, with a body that stands it."""
    branch = site.branch("capacitor")
    ohms, across = site.number("bleeder_ohm"), site.number("voltage_v")
    if branch is None or not ohms:
        return None
    power = max(site.number("bleeder_w"), _highest(site, branch) ** 2 / ohms)
    bodies = (w for w in SIZES_W if w >= LEAST_BLEEDER_W)
    body = next((w for w in bodies if w * 0.5 >= power and _stands(w) >= across), None)
    ends = [_point(site.circuit, net) for net in (branch.plus or branch.a, branch.b)]
    if branch.plus == branch.b:
        ends[1] = _point(site.circuit, branch.a)
    if body is None or None in ends:
        return None
    name = next_free("R", words_named(site.page.lines))
    text = f"{ends[0]} --[{name} {ohms_written(ohms)} {body:g} W bleeder]-- {ends[1]}"
    title = f"Put a bleeder of {engineering(ohms, 'ohm')} {body:g} W across {branch.name}"
    return Remedy(title, (_after(site, text),))


def _stands(watts: float) -> float:
    """Volts that a body of so many watts stands."""
    return next((volts for most, volts in BODY_VOLTS if watts <= most), BODY_VOLTS[-1][1])


def _grid_leak(site: Site) -> Remedy | None:
    """A leak no higher than the lower of the data sheet's limits."""
    if len(site.finding.at) != 1:
        return None
    section = next((s for s in site.circuit.sections() if s.name == site.finding.at[0]), None)
    if section is None or "grid" not in section.electrodes:
        return None
    kind = site.circuit.tubes[section.tube].type
    limits = [kind.rating(f"grid-leak-{bias}-bias") for bias in ("fixed", "cathode")]
    ohms = preferred_below(min([USUAL_LEAK, *(r.value for r in limits if r is not None)]))
    name = next_free("R", words_named(site.page.lines))
    text = f"{section.name}.grid --[{name} {ohms_written(ohms)}]-- {GROUND}"
    title = f"Fit a grid leak of {engineering(ohms, 'ohm')} from {section.name}.grid to gnd"
    return Remedy(title, (_after(site, text),))


def _tie(site: Site) -> Remedy | None:
    """The tap of a heater winding, else one lead, to gnd, where no cathode on it stands high."""
    name = site.finding.at[0]
    winding = next((w for w in site.circuit.windings() if w.name == name), None)
    if winding is None or site.finding.evidence or not _low_cathodes(site, name):
        return None
    leads = [lead for lead, _ in winding.leads]
    lead = f"{name}.{'ct' if 'ct' in leads else leads[-1]}"
    return Remedy(f"Tie {lead} to gnd", (_after(site, f"{lead} -- {GROUND}"),))


def _low_cathodes(site: Site, winding: str) -> bool:
    """Whether every cathode that is wired, of the tubes on a winding, is known to be near gnd."""
    warm = site.review.solutions.get("warm")
    heated = (t for t in site.circuit.tubes.values() if t.heater and t.heater.winding == winding)
    nets = {
        n
        for tube in heated
        for s in tube.sections
        for n in s.cathode_nets
        if wired(site.circuit, n)
    }
    waves = [warm.waves.get(n) for n in nets] if warm is not None else [None]
    return all(wave is not None and wave.peak <= LOW_CATHODE_V for wave in waves)


def _after(site: Site, text: str) -> LinesEdit:
    """A new line below the statement of the finding's place."""
    span = site.circuit.span(site.finding.at[0])
    line = span.line if span.file == site.circuit.drawing.file else len(site.page.lines)
    while site.page.line(line).split("#")[0].rstrip().endswith("--"):
        line += 1  # a wire that goes on in the next line
    following = site.page.line(line + 1).split()
    if site.page.line(line).split()[:1] == ["transformer"] or following[:1] in _PARTS_OF_ONE:
        line = _end_of_group(site.page, line)
    return LinesEdit(line + 1, 0, (text,))


_PARTS_OF_ONE = (["winding"], ["primary"], ["rating"])


def _end_of_group(page: Page, line: int) -> int:
    while page.line(line + 1).split()[:1] in _PARTS_OF_ONE:
        line += 1
    return line


def _point(circuit: Circuit, net: str) -> str | None:
    """What a wire may call a net: a landmark or the designer's name, never one inside a sheet."""
    return next((n for n in (shown_name(circuit, net), net) if "/" not in n), None)


# -- waivers ------------------------------------------------------------------------------------


def _take_out(site: Site) -> Remedy | None:
    """The line of a waiver that waives nothing."""
    line = site.finding.span.line
    if site.page.line(line).split()[:1] != ["accept"]:
        return None
    return Remedy("Take this accept line out", (LinesEdit(line, 1, ()),))


_REMEDIES: Mapping[str, Callable[[Site], Remedy | None]] = {
    "capacitor.over-voltage": _working_voltage,
    "capacitor.little-margin": _working_voltage,
    "capacitor.cathode-bypass-underrated": _working_voltage,
    "heater.lift-capacitor-underrated": _working_voltage,
    "resistor.over-power": _power,
    "mains.fuse-too-large": _fuse,
    "grid.leak-too-high": _leak_lower,
    "supply.no-bleeder": _bleeder,
    "grid.no-return": _grid_leak,
    "heater.no-reference": _tie,
    "intent.accept-unmatched": _take_out,
}
