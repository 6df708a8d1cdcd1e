"""Readings with power on: rails, windings, cathodes, with their ranges and where to stop."""

from __future__ import annotations

from math import floor, sqrt
from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import feeds_others
from coldcheck.bench.chart.points import RAIL_VOLTS, named_points, shown_name
from coldcheck.bench.plan.model import DC, Check
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.solve.cycle.network import plain

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from coldcheck.bench.plan.power import Rung
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.solve.solution import NoNumber, Solution

METER = 0.01
"""Accuracy of a hand-held voltmeter (memory)."""

UNKNOWN = 0.20
"""Share of a voltage taken for its range where none was worked out (common practice)."""

OVERVOLTS = 0.9
"""Share of a capacitor's rating that a lowered mains voltage keeps to (common practice)."""

NOUGHT = 1.0
"""Volts either way that count as none on a rail (common practice)."""

WEAK = (
    "below: a short, a wrong part, or more current than the drawing accounts for; above: a wrong "
    "part, winding or supply voltage"
)
BIAS_LOST = "nearer to 0: the bias fails; further from 0: a wrong part or winding"

FILTER_F = 47e-9
"""From here up a capacitor to gnd holds a supply (screens of small tubes; common practice)."""

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
    return (b for b in circuit.branches.values() if b.kind is PartKind.CAPACITOR and b.a != b.b)


def overstressed(
    circuit: Circuit, solution: Solution, factor: float = 1.0
) -> list[tuple[str, float, float]]:
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
    """Named points of the supply that stand at 20 V DC or more in a state, with their nets."""
    held = _held(circuit)
    found = {}
    for name, net in named_points(circuit).items():
        wave = solution.waves.get(net)
        if net in held and wave is not None and abs(wave.dc) >= RAIL_VOLTS:
            found[name] = net
    return found


def without_figure(circuit: Circuit, solution: Solution) -> Iterator[str]:
    """Rails and electrodes at work that the solution gives no voltage for, by reason."""
    held, wired = _held(circuit), set(circuit.graph.nodes)
    inside = [s for s in circuit.sections() if s.tube not in solution.state.pulled]
    nets = held | {n for s in inside for n in s.electrodes.values() if _led(circuit, n)}
    reasons: dict[NoNumber, list[str]] = {}
    for net in sorted(nets & wired & set(solution.undefined)):
        if not solution.floats(net):  # the review speaks of those, or they are unused
            reasons.setdefault(solution.undefined[net], []).append(shown_name(circuit, net))
    for reason, names in reasons.items():
        yield f"No figure for {', '.join(names)}: {reason}. Do not go on without one."


def _led(circuit: Circuit, net: str) -> bool:
    """Whether anything but a heater leads to a net."""
    return any(b.kind is not PartKind.HEATER for b in circuit.at(net))


def _held(circuit: Circuit) -> set[str]:
    """Nets that a source, rectifier, regulator or filter capacitor holds, and that feed others."""
    found = {
        n for s in circuit.sections() for e, n in s.electrodes.items()
        if (s.kind is SectionKind.REGULATOR and e == "plate")
        or (s.kind is SectionKind.RECTIFIER and n != GROUND)
    }  # fmt: skip
    for branch in circuit.branches.values():
        if branch.traits.supplies or _filters(branch):
            found |= {n for n in (branch.a, branch.b) if feeds_others(circuit, n)}
    return found - {GROUND}


def _filters(branch: Branch) -> bool:
    """Whether a branch is a capacitor that holds a supply: an electrolytic, or one to gnd."""
    if branch.kind is not PartKind.CAPACITOR:
        return False
    large = plain(branch.value, "farad", 0.0) >= FILTER_F
    return branch.plus is not None or (large and GROUND in (branch.a, branch.b))


def range_of(
    solution: Solution, net: str, other: str | None = None
) -> tuple[float, float, float] | None:
    """DC, lowest and highest at the stated mains, the meter's error in; ``None`` without one."""
    wave = solution.between(net, other) if other else solution.waves.get(net)
    if wave is None:
        return None
    spread = solution.spread()
    off = UNKNOWN * abs(wave.dc) if spread is None else spread.volts(net, other, mains=False)
    off += METER * abs(wave.dc)
    return wave.dc, wave.dc - off, wave.dc + off


def rail_checks(circuit: Circuit, rung: Rung, nets: Mapping[str, str]) -> Iterator[Check]:
    """Every rail at a setting, and the halves of capacitors in series."""
    for name, net in nets.items():
        check = _rail(circuit, rung, (name, GROUND), (net, None))
        if check is not None:
            yield check
    for branch in capacitors(circuit):
        if branch.plus is None or GROUND in (branch.a, branch.b):
            continue
        plus, minus = branch.plus, branch.other(branch.plus)
        names = shown_name(circuit, plus), shown_name(circuit, minus)
        check = _rail(circuit, rung, names, (plus, minus))
        between = {plus, minus} & set(nets.values())
        if check is not None and between and abs(check.expected or 0.0) >= RAIL_VOLTS:
            yield check


def _rail(
    circuit: Circuit, rung: Rung, names: tuple[str, str], nets: tuple[str, str | None]
) -> Check | None:
    full, idle = range_of(rung.full, *nets), range_of(rung.idle, *nets)
    if full is None or idle is None:
        return None
    low, high = min(full[1], idle[1]), max(full[2], idle[2])
    if not rung.sure:
        low, high = min(low, 0.0), max(high, 0.0)
    if max(abs(low), abs(high)) < NOUGHT:
        low, high = -NOUGHT, NOUGHT
    limit = _limit(circuit, nets[0], nets[1] or GROUND)
    note = f"{limit[0]} is rated {limit[1]:.0f} V" if limit and rung.share == 1.0 else ""
    below, above = low, high
    if limit is not None:
        below, above = max(low, -limit[1]), min(high, limit[1])
    negative = min(full[0], idle[0]) < -NOUGHT
    why = BIAS_LOST if negative else WEAK
    weak = None if rung.sure else (above if negative else below)
    return Check(
        *names, DC, full[0], low, high,
        None if weak is not None and not negative else below,
        None if weak is not None and negative else above,
        why, mains=rung.volts, note=note,
    )  # fmt: skip


def _limit(circuit: Circuit, net: str, other: str) -> tuple[str, float] | None:
    """The weakest capacitor between two nets, and its rating."""
    rated = [
        (b.name, r)
        for b in circuit.at(net)
        if b.kind is PartKind.CAPACITOR
        and b.other(net) == other
        and (r := working_volts(b)) is not None
    ]
    return min(rated, key=lambda item: item[1], default=None)
