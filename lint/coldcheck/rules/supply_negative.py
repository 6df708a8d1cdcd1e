"""The negative side of a supply: resistors between it and gnd, and where its capacitors end."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.rules.model import rule
from coldcheck.rules.places import AMPLIFYING, listed, net_text, si, volts
from coldcheck.rules.reach import reach
from coldcheck.rules.rectifiers import rectifier_tubes

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Branch, Circuit, Winding
    from coldcheck.rules.model import Case, Outcome

HIGH_V = 60.0
MOST_OHM = 10e3
SENSE_V = 5.0
CLAMPS = ("diode", "zener", "led")
ROUGH = 0.3
LARGE_F = 1e-6
SILICON_V = 0.5


@dataclass(frozen=True, slots=True)
class Return:
    """A rectified winding's negative side that reaches gnd through a resistor.

    ``net`` is the negative side, ``outputs`` the positive one's nets, ``resistors`` what lies
    straight between the negative side and gnd (or chassis).
    """

    winding: str
    net: str
    outputs: tuple[str, ...]
    resistors: tuple[Branch, ...]
    ground: str


def lifted_returns(circuit: Circuit) -> Iterator[Return]:
    """Every high-voltage winding whose return is held off gnd by a resistor, once a net."""
    seen: set[str] = set()
    for winding in circuit.windings():
        if winding.primary or (si(winding.volts, "volt") or 0.0) < HIGH_V:
            continue
        negative = _negative(circuit, winding)
        if negative is None or negative in LANDMARKS or negative in seen:
            continue
        for ground in (GROUND, circuit.points.get("chassis", GROUND)):
            found = [b for b in circuit.at(negative) if _small(b) and b.other(negative) == ground]
            if found:
                seen.add(negative)
                outputs = _outputs(circuit, winding)
                yield Return(winding.name, negative, outputs, tuple(found), ground)
                break


def _small(branch: Branch) -> bool:
    ohms = si(branch.value, "ohm") if branch.kind == "resistor" else None
    return ohms is not None and ohms <= MOST_OHM


def _leaving(circuit: Circuit, net: str) -> list[str]:
    """The nets to which rectifiers lead current from a net: cathodes."""
    found = [b.b for b in circuit.at(net) if b.kind == "diode" and b.a == net]
    for _, section in rectifier_tubes(circuit):
        if net in (section.electrodes[p] for p in section.plates):
            found += section.cathode_nets
    return found


def _ends(winding: Winding) -> tuple[str, ...]:
    return winding.nets[0], winding.nets[-1]


def _outputs(circuit: Circuit, winding: Winding) -> tuple[str, ...]:
    return tuple(dict.fromkeys(n for e in _ends(winding) for n in _leaving(circuit, e)))


def _negative(circuit: Circuit, winding: Winding) -> str | None:
    """The net rectified current comes back by: the tap, a bridge's minus, or the other end."""
    feeding = [e for e in _ends(winding) if _leaving(circuit, e)]
    if not feeding:
        return None
    bridge = [
        {b.a for b in circuit.at(e) if b.kind == "diode" and b.b == e} for e in _ends(winding)
    ]
    minus = bridge[0] & bridge[1]
    if minus:
        return min(minus)
    tap = winding.nets[1] if len(winding.nets) > 2 else None
    if tap is not None and (tap in LANDMARKS or any(b.kind != "winding" for b in circuit.at(tap))):
        return tap
    rest = [e for e in _ends(winding) if e not in feeding]
    return rest[0] if len(rest) == 1 else None


@rule(
    "supply.unclamped-return",
    title="Resistor in the supply's negative lead without a diode across it",
    level="warning",
    states="the drawing; warm for the voltage across it",
    needs="the wiring of the rectifier and its winding",
    criterion=(
        "A resistor lies between the negative side of a high-voltage rectifier and gnd, and no "
        "diode or zener lies across it. Where it drops more than 5 V it makes a bias by design: "
        "advice."
    ),
    why=(
        "When such a resistor opens, or the supply is shorted to gnd, the whole high voltage "
        "stands across it: the winding, the meter and everything on the negative side go that far "
        "below the chassis. A diode across it conducts then and holds it near gnd."
    ),
    source="clamp across negative-lead metering: an amateur builder's list of mistakes (found)",
    limits=(
        "Only diodes right across the resistor count as a clamp; whether they stand the "
        "surge, and which way round they are, is not judged. Returns through a choke or relay are "
        "not looked at."
    ),
)
def unclamped_return(case: Case) -> Iterator[Outcome]:
    """Look for bare resistors between a supply's minus and gnd."""
    for found in lifted_returns(case.circuit):
        if not _clamped(case.circuit, found):
            yield _unclamped(case, found)


def _clamped(circuit: Circuit, found: Return) -> bool:
    """Whether diodes alone, one or several in series, join the negative side and gnd."""
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from((found.net, found.ground))
    graph.add_edges_from((b.a, b.b) for b in circuit.branches.values() if b.kind in CLAMPS)
    graph.remove_nodes_from(set(found.outputs) - {found.net, found.ground})
    return bool(nx.has_path(graph, found.net, found.ground))


def _unclamped(case: Case, found: Return) -> Outcome:
    names = tuple(r.name for r in found.resistors)
    drop, supply = _drop(case, found), _supply(case, found)
    by_design = drop is not None and drop > SENSE_V
    what = f" (it drops {volts(drop)})" if drop is not None else ""
    reached = f"{volts(supply)} below gnd" if supply else "the whole supply below gnd"
    evidence: dict[str, float | str] = {"drop_v": drop} if drop is not None else {}
    evidence |= {"supply_v": supply} if supply else {}
    return unclamped_return.finding(
        case,
        names,
        f"only {listed(names)}{what} holds {net_text(case.circuit, found.net)}, the supply's "
        f"minus, to gnd: should it open, that side goes to {reached}",
        _clamp(case, found, drop),
        level="advice" if by_design else "warning",
        evidence=evidence,
        certainty="certain" if drop is not None else "possible",
    )


def _clamp(case: Case, found: Return, drop: float | None) -> str:
    net = net_text(case.circuit, found.net)
    names = listed(r.name for r in found.resistors)
    if drop is not None and drop > SENSE_V:
        return (
            f"Put a zener of some {volts(1.5 * drop)} across {names}, its plus at gnd "
            f"(`{net} --[zener]-> gnd`), or two resistors in parallel"
        )
    count = 1 if drop is None else int(drop / SILICON_V) + 1
    several = "a rectifier diode" if count == 1 else f"{count} rectifier diodes in series"
    return f"Put {several} across {names}, conducting from gnd to {net}"


def _drop(case: Case, found: Return) -> float | None:
    wave = case.warm.between(found.ground, found.net) if case.warm.converged else None
    return None if wave is None else abs(wave.dc)


def _supply(case: Case, found: Return) -> float | None:
    """The rectified voltage when warm: from the output to the negative side."""
    if not case.warm.converged:
        return None
    waves = [case.warm.between(o, found.net) for o in found.outputs]
    return max((abs(w.dc) for w in waves if w is not None), default=None)


@rule(
    "capacitor.wrong-side-of-back-bias",
    title="Reservoir on the wrong side of a bias resistor",
    level="notice",
    states="warm",
    needs="the wiring of the rectifier and its winding, and a solved state",
    criterion=(
        "A resistor between the supply's minus and gnd makes a bias for a grid, the capacitor "
        "right at the rectifier goes to gnd instead of to the minus, and the ripple across the "
        "resistor (rms) is more than 0.3 of its DC."
    ),
    why=(
        "The rectifier refills its first capacitor in short gulps. Returned to the minus of the "
        "supply they stay out of the bias resistor; with the can screwed to the chassis all of "
        "them pass through it, and the bias is a sawtooth: hum."
    ),
    source="sets with back bias, cans insulated from the chassis: two texts on repair (found)",
    limits=(
        "Only the capacitor right at the rectifier is looked at; the second one is at home on "
        "either side. How much of the ripple gets to the grid is not reckoned."
    ),
)
def wrong_side_of_back_bias(case: Case) -> Iterator[Outcome]:
    """Look where the reservoir ends when the supply's minus is not gnd."""
    if not case.warm.converged:
        return
    circuit = case.circuit
    for found in lifted_returns(circuit):
        wrong = [b for b in _reservoirs(circuit, found) if _other_end(b, found) == found.ground]
        right = [b for b in _reservoirs(circuit, found) if _other_end(b, found) == found.net]
        wave = case.warm.between(found.ground, found.net)
        if not wrong or right or wave is None or not _biases(circuit, found):
            continue
        share = wave.ac_rms / max(abs(wave.dc), 1e-6)
        if share > ROUGH:
            names = tuple(b.name for b in wrong)
            yield wrong_side_of_back_bias.finding(
                case,
                (*names, *(r.name for r in found.resistors)),
                f"{listed(names)} goes to gnd and not to {net_text(circuit, found.net)}, the "
                f"supply's minus: its charging gulps put {volts(wave.ac_rms)} rms of ripple on a "
                f"bias of {volts(abs(wave.dc))}",
                f"Take the minus of {listed(names)} to {net_text(circuit, found.net)}, its can "
                "insulated from the chassis",
                state=case.warm.state.name,
                evidence={
                    "ripple_rms_v": wave.ac_rms,
                    "bias_v": abs(wave.dc),
                    "limit_v": ROUGH * abs(wave.dc),
                },
                excess=share / ROUGH,
            )


def _reservoirs(circuit: Circuit, found: Return) -> list[Branch]:
    every = {b.name: b for o in found.outputs for b in circuit.at(o)}
    return [
        b
        for b in every.values()
        if b.kind == "capacitor" and (si(b.value, "farad") or 0.0) >= LARGE_F
    ]


def _other_end(capacitor: Branch, found: Return) -> str:
    return capacitor.b if capacitor.a in found.outputs else capacitor.a


def _biases(circuit: Circuit, found: Return) -> bool:
    """Whether a grid hangs on the negative side."""
    nets = set(reach(circuit, [found.net], LANDMARKS))
    return any(
        s.kind in AMPLIFYING and s.electrodes.get("grid") in nets - set(LANDMARKS)
        for s in circuit.sections()
    )
