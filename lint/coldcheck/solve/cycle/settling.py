"""What an answer says about the setting it was solved in: gas tubes that strike, cold cathodes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.solve.cycle.devices import strike_volts
from coldcheck.solve.cycle.network import lit_name, plain
from coldcheck.solve.cycle.readings import heater_volts, net_volts

if TYPE_CHECKING:
    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.cycle.starts import Steady
    from coldcheck.solve.cycle.steady import Cycle
    from coldcheck.solve.setting import Setting

EMISSION_SHARE = 0.5
"""Of the rated heater voltage: below this a cathode is taken as cold (common practice)."""


def striking(circuit: Circuit, cycle: Cycle, answer: Steady, setting: Setting) -> dict[str, float]:
    """Unlit gas tubes past their starting voltage -> volts over starting volts."""
    gas = {
        s.name: s.tube for s in circuit.sections() if s.kind is SectionKind.REGULATOR and s.type.law
    }
    found = {}
    for port, volts in zip(cycle.ports, answer.port_volts, strict=True):
        if port.owner in gas and port.owner not in setting.lit | setting.dark:
            ratio = float(volts.max()) / strike_volts(circuit.tubes[gas[port.owner]])
            if ratio >= 1:
                found[port.owner] = ratio
    return found


def starved(cycle: Cycle, answer: Steady, setting: Setting) -> frozenset[str]:
    """Lit gas tubes through which the current would have to reverse: they go out."""
    rows = cycle.network.rows
    return frozenset(
        name for name in setting.lit if answer.unknowns[rows[lit_name(name)]].min() <= 0
    )


def unheated(circuit: Circuit, cycle: Cycle, answer: Steady, setting: Setting) -> frozenset[str]:
    """Tubes in their sockets whose drawn heater gets too little to emit."""
    drawn = [
        (t, t.heater)
        for t in circuit.tubes.values()
        if t.heater is not None and t.heater.branches and t.name not in setting.state.pulled
    ]
    volts = heater_volts((t for t, _ in drawn), net_volts(cycle.network, answer))
    return frozenset(
        tube.name
        for tube, heater in drawn
        if volts[tube.name] < EMISSION_SHARE * plain(heater.volts, "volt", 0.0)
    )
