"""A line that is missing (a bleeder, a grid leak, a tie to gnd), or one too many."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import in_series, wired
from coldcheck.bench.chart.points import shown_name
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.preferred import preferred_below
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.lines import without_comment
from coldcheck.drawing.units import engineering
from coldcheck.rules.resistor.ratings import BODIES, SIZES_W, body_of
from coldcheck.serve.completion import next_free, words_named
from coldcheck.serve.edits import LinesEdit
from coldcheck.serve.fields import ohms_written
from coldcheck.serve.site import Remedy, highest

if TYPE_CHECKING:
    from coldcheck.circuit.model import Circuit
    from coldcheck.serve.page import Page
    from coldcheck.serve.site import Site

LOW_CATHODE_V = 60.0
"""A heater line may be tied to gnd unasked while no cathode on it stands higher (well inside every
heater to cathode limit on file)."""

USUAL_LEAK = 470e3
LEAST_BLEEDER_W = 0.5
"""The smallest body the rule asks for: it has to last as long as the set."""


def bleeder(site: Site) -> Remedy | None:
    """The bleeder that was worked out, right across the capacitor, with a body that stands it."""
    named = (site.circuit.branches.get(n) for n in site.finding.at)
    branch = next((b for b in named if b is not None and b.kind is PartKind.CAPACITOR), None)
    ohms, across = site.number("bleeder"), site.number("voltage")
    if branch is None or not ohms or in_series(site.circuit, branch):
        return None  # across one of two in series it would load the other
    power = max(site.number("bleeder_power"), highest(site, branch) ** 2 / ohms)
    bodies = (w for w in SIZES_W if w >= LEAST_BLEEDER_W)
    if _works(site.circuit, branch.a) or _works(site.circuit, branch.b):
        return None  # no supply: what is missing there is another resistor
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


def _works(circuit: Circuit, net: str) -> bool:
    """Whether a grid or the cathode of a tube that is no rectifier is on a net."""
    held = circuit.electrodes_at(net) if net != GROUND else []
    return any(s.kind is not SectionKind.RECTIFIER and e in ("cathode", "grid") for s, e in held)


def _stands(watts: float) -> float:
    """Volts that a body of so many watts stands."""
    body = body_of(watts)
    return max(b.value for b in BODIES.values()) if body is None else body.value


def grid_leak(site: Site) -> Remedy | None:
    """A leak no higher than the lower of the data sheet's limits."""
    if len(site.finding.at) != 1:
        return None
    section = next((s for s in site.circuit.sections() if s.name == site.finding.at[0]), None)
    if section is None or "grid" not in section.electrodes:
        return None
    kind = site.circuit.tubes[section.tube].type
    own = section.type.name
    limits = [kind.rating(f"grid-leak-{bias}-bias", own) for bias in ("fixed", "cathode")]
    ohms = preferred_below(min([USUAL_LEAK, *(r.value for r in limits if r is not None)]))
    name = next_free("R", words_named(site.page.lines))
    text = f"{section.name}.grid --[{name} {ohms_written(ohms)}]-- {GROUND}"
    title = f"Fit a grid leak of {engineering(ohms, 'ohm')} from {section.name}.grid to gnd"
    return Remedy(title, (_after(site, text),))


def tie(site: Site) -> Remedy | None:
    """The tap of a heater winding, else one lead, to gnd, where no cathode on it stands high."""
    name = site.finding.at[0]
    winding = next((w for w in site.circuit.windings() if w.name == name), None)
    if winding is None or site.finding.evidence or not _low_cathodes(site, name):
        return None
    end, net = next((e for e in winding.leads if e[0] == "ct"), winding.leads[-1])
    if any(b.kind not in (PartKind.WINDING, PartKind.HEATER) for b in site.circuit.at(net)):
        return None  # something was meant to hold it there: a lift that was not finished
    lead = f"{name}.{end}"
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
    while without_comment(site.page.line(line)).endswith("--"):
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


def take_out(site: Site) -> Remedy | None:
    """The line of a waiver that waives nothing."""
    line = site.finding.span.line
    if site.page.line(line).split()[:1] != ["accept"]:
        return None
    return Remedy("Take this accept line out", (LinesEdit(line, 1, ()),))
