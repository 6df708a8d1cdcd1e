"""Another value in a part's bracket: working voltage, power, fuse, grid leak."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.grid_kinds import is_power_tube
from coldcheck.anatomy.lift_divider import capacitor_volts
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.paths import references
from coldcheck.circuit.preferred import preferred_below
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering, magnitude
from coldcheck.rules.capacitor.cathode import LEAST_V, TIMES
from coldcheck.rules.capacitor.margin import (
    LARGEST_V,
    STOCK_V,
    usable_share,
)
from coldcheck.rules.capacitor.over_voltage import MARGIN
from coldcheck.rules.mains.fuse import fitting_fuse
from coldcheck.rules.resistor.ratings import LASTING, SIZES_W, USUAL_SHARE, dissipation
from coldcheck.serve.fields import ohms_written, replaced, smallest
from coldcheck.serve.site import highest, one

if TYPE_CHECKING:
    from coldcheck.circuit.model import Branch
    from coldcheck.serve.site import Remedy, Site


def working_voltage(site: Site) -> Remedy | None:
    """The next working voltage one can buy that every rule on capacitors is content with."""
    branch = site.branch(PartKind.CAPACITOR)
    part = branch.part if branch is not None else None
    if branch is None or part is None or part.voltage is None:
        return None
    if part.voltage_is_ac or part.safety_class:
        return None
    least = max(highest(site, branch) / MARGIN, _asked(site, branch))
    dc = _warm_dc(site, branch)
    polarised = branch.plus is not None
    fits = [
        v for v in STOCK_V if not polarised or (v <= LARGEST_V.value and dc <= v * usable_share(v))
    ]
    buy = smallest(fits, least)
    rated = magnitude(part.voltage, "volt")
    if buy is None or buy <= rated:
        return None
    edit = replaced(site.page, branch, "volt", rated, f"{buy:g} V")
    return one(f"Use {branch.name} for {buy:g} V instead of {rated:g} V", edit)


def _asked(site: Site, branch: Branch) -> float:
    """What the rules on lifts and on cathodes of output tubes ask for, volts."""
    if site.finding.rule == "heater.lift-capacitor-underrated":
        return capacitor_volts(site.number("rail"))
    ends = {branch.a, branch.b}
    output = (s for t, s in working(site.circuit) if is_power_tube(t, s))
    bypass = any({s.cathode_nets[0], GROUND} == ends for s in output)
    return max(LEAST_V.value, TIMES.value * _warm_dc(site, branch)) if bypass else 0.0


def _warm_dc(site: Site, branch: Branch) -> float:
    warm = site.review.solutions.get("warm")
    wave = warm.between(branch.a, branch.b) if warm is not None and warm.converged else None
    return 0.0 if wave is None else abs(wave.dc)


def power(site: Site) -> Remedy | None:
    """The next size of which the heat is no more than the usual share."""
    branch = site.branch(PartKind.RESISTOR)
    part = branch.part if branch is not None else None
    if branch is None or part is None or part.power is None:
        return None
    case = site.review.worked.case if site.review.worked is not None else None
    states = case.solved(*LASTING) if case is not None else iter(())
    heat = max((p for s in states if (p := dissipation(s, branch)) is not None), default=0.0)
    buy = smallest(SIZES_W, heat / USUAL_SHARE.value)
    rated = magnitude(part.power, "watt")
    if not heat or buy is None or buy <= rated:
        return None
    edit = replaced(site.page, branch, "watt", rated, f"{buy:g} W")
    return one(f"Use {branch.name} for {buy:g} W instead of {rated:g} W", edit)


def fuse(site: Site) -> Remedy | None:
    """The fuse that fits the current, 1.5 to 2 times."""
    branch = site.branch(PartKind.FUSE)
    normal = max(site.number("primary"), site.number("current_rms"))
    if branch is None or branch.value is None or not normal:
        return None
    amps, rated = fitting_fuse(normal), magnitude(branch.value, "ampere")
    edit = replaced(site.page, branch, "ampere", rated, f"{amps:g} A")
    return one(f"Use {branch.name} for {amps:g} A instead of {rated:g} A", edit)


def leak_lower(site: Site) -> Remedy | None:
    """The resistor of the only way from the grid to gnd, as large as the data sheet allows."""
    leak, limit = site.number("grid"), site.limit
    net = site.circuit.points.get(f"{site.finding.at[0]}.grid")
    paths = references(site.circuit, net, limit=2) if net is not None else ()
    if len(paths) != 1 or not leak:
        return None
    resistors = [
        b for b in paths[0].branches if b.kind is PartKind.RESISTOR and b.value is not None
    ]
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
    return one(title, edit)
