"""Readings with power on: rails, windings, cathodes, with their ranges and where to stop."""

from __future__ import annotations

from math import floor, hypot, sqrt
from typing import TYPE_CHECKING

from coldcheck.bench.changed import tied
from coldcheck.bench.plan_model import AC, DC, Check
from coldcheck.bench.points import RAIL_VOLTS, feeds, named_points, shown_name
from coldcheck.circuit.model import GROUND
from coldcheck.solve.engine import Solver
from coldcheck.solve.network import plain
from coldcheck.solve.solution import WARM, State

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from coldcheck.bench.plan_power import Power, Rung
    from coldcheck.circuit.model import Branch, Circuit, Section, Winding
    from coldcheck.solve.solution import Solution

METER = 0.01
"""Accuracy of a hand-held voltmeter (memory)."""

UNKNOWN = 0.20
"""Share of a voltage taken for its range where none was worked out (common practice)."""

OVERVOLTS = 0.9
"""Share of a capacitor's rating that a lowered mains voltage keeps to (common practice)."""

ON_THE_GRID = 0.5
"""Volts either way that a grid at rest may stand off 0 (common practice)."""

OF_A_CLASS = {"X1": 250.0, "X2": 250.0, "Y1": 250.0, "Y2": 250.0}


def working_volts(branch: Branch) -> float | None:
    """What a capacitor stands at its worst instant, volts; ``None`` where nothing says."""
    part = branch.part
    if part is None or (part.voltage is None and part.safety_class is None):
        return None
    volts = plain(part.voltage, "volt", OF_A_CLASS.get(part.safety_class or "", 250.0))
    return volts * (sqrt(2) if part.voltage_is_ac or part.safety_class else 1.0)


def capacitors(circuit: Circuit) -> Iterator[Branch]:
    """Those with two ends."""
    return (b for b in circuit.branches.values() if b.kind == "capacitor" and b.a != b.b)


def overstressed(circuit: Circuit, solution: Solution, factor: float = 1.0) -> list[tuple[str, float, float]]:
    """Capacitors beyond their rating at so many times the voltages: name, peak, rating."""
    found = []
    for branch in capacitors(circuit):
        rating, wave = working_volts(branch), solution.between(branch.a, branch.b)
        if rating is not None and wave is not None and factor * wave.peak > rating:
            found.append((branch.name, factor * wave.peak, rating))
    return found


def highest_share(over: Sequence[tuple[str, float, float]]) -> float:
    """How far the mains may be turned up so that every capacitor keeps a tenth in hand."""
    share = min(OVERVOLTS * rating / peak for _, peak, rating in over)
    return max(floor(20 * share) / 20, 0.05)


def rails(circuit: Circuit, solution: Solution) -> dict[str, str]:
    """Named points that feed others and stand at 20 V DC or more in a state, with their nets."""
    found = {}
    gas = {s.electrodes.get("plate") for s in circuit.sections() if s.kind == "regulator"}
    for name, net in named_points(circuit).items():
        wave = solution.waves.get(net)
        supplies = feeds(circuit, net) or net in gas
        if net != GROUND and wave is not None and abs(wave.dc) >= RAIL_VOLTS and supplies:
            found[name] = net
    return found


def range_of(solution: Solution, net: str, other: str | None = None, *, mains: bool = False) -> tuple[float, float, float] | None:
    """DC, lowest and highest, the meter's error in; ``None`` without a number."""
    wave = solution.between(net, other) if other else solution.waves.get(net)
    if wave is None:
        return None
    spread = solution.spread()
    off = UNKNOWN * abs(wave.dc) if spread is None else spread.volts(net, other, mains=mains)
    off += METER * abs(wave.dc)
    return wave.dc, wave.dc - off, wave.dc + off


def rail_checks(circuit: Circuit, rung: Rung, nets: dict[str, str]) -> Iterator[Check]:
    """Every rail at a setting, and the halves of capacitors in series."""
    for name, net in nets.items():
        yield from _dc(circuit, rung, name, net)
    for branch in capacitors(circuit):
        if branch.plus is None or GROUND in (branch.a, branch.b):
            continue
        plus, minus = branch.plus, branch.other(branch.plus)
        if plus in nets.values() or minus in nets.values():
            yield from _across(circuit, rung, branch, plus, minus)


def _dc(circuit: Circuit, rung: Rung, name: str, net: str) -> Iterator[Check]:
    full, idle = range_of(rung.full, net), range_of(rung.idle, net)
    if full is None or idle is None:
        return
    low, high = min(full[1], idle[1]), max(full[2], idle[2])
    negative = full[0] < 0
    if not rung.sure:
        low, high = (low, max(high, 0.0)) if negative else (min(low, 0.0), high)
    limit = _limit(circuit, net, GROUND)
    stops, why = _stops(low, high, limit, negative=negative, sure=rung.sure)
    yield Check(name, GROUND, DC, full[0], low, high, *stops, why, mains=rung.volts)


def _across(circuit: Circuit, rung: Rung, branch: Branch, plus: str, minus: str) -> Iterator[Check]:
    full, idle = range_of(rung.full, plus, minus), range_of(rung.idle, plus, minus)
    if full is None or idle is None or max(abs(full[0]), abs(idle[0])) < RAIL_VOLTS:
        return
    low, high = min(full[1], idle[1]), max(full[2], idle[2])
    low = low if rung.sure else min(low, 0.0)
    limit = working_volts(branch)
    stops, why = _stops(low, high, None if limit is None else (branch.name, limit), negative=False, sure=rung.sure)
    yield Check(shown_name(circuit, plus), shown_name(circuit, minus), DC, full[0], low, high, *stops, why, mains=rung.volts)


def _limit(circuit: Circuit, net: str, other: str) -> tuple[str, float] | None:
    """The weakest capacitor between two nets, and its rating."""
    rated = [
        (b.name, r)
        for b in circuit.at(net)
        if b.kind == "capacitor" and b.other(net) == other and (r := working_volts(b)) is not None
    ]
    return min(rated, key=lambda item: item[1], default=None)


def _stops(
    low: float, high: float, limit: tuple[str, float] | None, *, negative: bool, sure: bool
) -> tuple[tuple[float | None, float | None], str]:
    """Where to stop below and above, and why."""
    weak = "a short, a part too low, or more current than the drawing accounts for"
    if negative:
        top = high if sure else None
        if limit is None:
            return (low, top), "less: the bias fails; more: a wrong part or winding"
        return (-limit[1], top), f"less: the bias fails; more: {limit[0]} is rated {limit[1]:.0f} V"
    bottom = low if sure else None
    below = f"below: {weak}; " if sure else ""
    if limit is None:
        return (bottom, high), f"{below}above: a wrong part, winding or mains voltage"
    return (bottom, limit[1]), f"{below}above: {limit[0]} is rated {limit[1]:.0f} V"


def winding_checks(power: Power, rung: Rung) -> Iterator[Check]:
    """Every secondary end to end, tubes out: AC rms."""
    circuit = power.circuit
    for winding in circuit.windings():
        if winding.primary:
            continue
        a, b = winding.leads[0], winding.leads[-1]
        volts = _winding_volts(power, rung, winding)
        if volts is not None:
            off = hypot(circuit.usual.winding_voltage, 2 * METER) * volts
            rated = plain(winding.volts, "volt", 0.0)
            note = f"unloaded; {rated:g} V at its rated load" if rung.share == 1.0 else "unloaded"
            yield Check(
                f"{winding.name}.{a[0]}", f"{winding.name}.{b[0]}", AC, volts, volts - off,
                volts + off, volts - 2 * off, volts + 2 * off,
                "another winding or tap than the drawing's, or shorted turns",
                mains=rung.volts, note=note,
            )  # fmt: skip


def _winding_volts(power: Power, rung: Rung, winding: Winding) -> float | None:
    a, b = winding.nets[0], winding.nets[-1]
    wave = rung.full.between(a, b)
    if wave is None:
        # nothing holds it with the tubes out: between its ends there is a voltage all the same
        solver = Solver(tied(power.circuit, a))
        solver.solve(State(WARM, WARM))
        found = solver.solve(rung.full.state)
        wave = found.between(a, b) if found.converged else None
    return None if wave is None else wave.ac_rms


def grid_check(section: Section, rung: Rung) -> Check | None:
    """The grid of an output tube that is still out of its socket, with what comes to it."""
    net = section.electrodes["grid"]
    found = range_of(rung.full, net)
    if found is None:
        return None
    volts, low, high = found
    if abs(volts) < ON_THE_GRID:
        return Check(
            f"{section.name}.grid", GROUND, DC, volts, -ON_THE_GRID, ON_THE_GRID, -ON_THE_GRID,
            ON_THE_GRID, "positive: the coupling capacitor leaks; it would overheat the tube",
            mains=rung.volts, note="measured at the empty socket",
        )  # fmt: skip
    return Check(
        f"{section.name}.grid", GROUND, DC, volts, low, high, None, high,
        "less negative: the tube would draw more than the drawing intends",
        mains=rung.volts, note="measured at the empty socket, adjuster as drawn",
    )  # fmt: skip


def tube_checks(circuit: Circuit, rung: Rung, *, mains: bool) -> Iterator[Check]:
    """Cathodes and plates of all tubes at work."""
    for section in circuit.sections():
        if "grid" not in section.electrodes or section.name not in rung.full.readings:
            continue
        cathode = "cathode" if "cathode" in section.electrodes else "f1"
        for electrode in (cathode, "plate"):
            check = _electrode(circuit, rung, section, electrode, mains=mains)
            if check is not None:
                yield check


def _electrode(circuit: Circuit, rung: Rung, section: Section, electrode: str, *, mains: bool) -> Check | None:
    net = section.electrodes[electrode]
    found = None if net == GROUND else range_of(rung.full, net, mains=mains)
    reading = rung.full.readings[section.name]
    if found is None or reading.plate_ma < 0.01:
        return None
    volts, low, high = found
    point = f"{section.name}.{electrode}"
    if electrode == "plate":
        return Check(point, GROUND, DC, volts, low, high, mains=rung.volts)
    stop, why, note = _dissipation(circuit, section, reading.plate_w, volts)
    return Check(point, GROUND, DC, volts, low, high, None, stop, why, mains=rung.volts, note=note)


def _dissipation(circuit: Circuit, section: Section, watts: float, volts: float) -> tuple[float | None, str, str]:
    """The cathode voltage at which the plate reaches its rating, plate voltage as worked out."""
    rated = circuit.tubes[section.tube].type.rating("plate-dissipation")
    if rated is None:
        return None, "", f"{watts:.2g} W on the plate; no rating on file"
    note = f"{watts:.3g} W on the plate, {100 * watts / rated.value:.0f} % of its {rated.value:g} W"
    if watts <= 0 or volts <= 0.02:
        return None, "", note
    return volts * rated.value / watts, "above: the plate is beyond its rating", note
