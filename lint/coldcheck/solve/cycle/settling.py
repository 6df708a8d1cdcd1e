"""What an answer says about the setting it was solved in: gas tubes that strike, cold cathodes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.circuit.lamps import STRIKES_V
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.solve.cycle.devices import neon_strikes, strike_volts
from coldcheck.solve.cycle.diodes import Open
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
    """Unlit gas tubes and neons past their starting voltage -> volts over starting volts."""
    gas = {
        s.name: strike_volts(circuit.tubes[s.tube])
        for s in circuit.sections()
        if s.kind is SectionKind.REGULATOR and s.type.law
    }
    neons = [b.name for b in circuit.branches.values() if b.glows]
    gas |= dict.fromkeys(neons, neon_strikes(setting))
    found = {}
    for port, volts in zip(cycle.ports, answer.port_volts, strict=True):
        if port.owner in gas and port.owner not in setting.lit | setting.dark:
            most = np.abs(volts).max() if port.owner in circuit.branches else volts.max()
            if most >= gas[port.owner]:
                found[port.owner] = float(most) / gas[port.owner]
    return found


def starved(cycle: Cycle, answer: Steady, setting: Setting) -> frozenset[str]:
    """Lit gas tubes through which the current would have to reverse, and neons without any."""
    rows, names = cycle.network.rows, {lit_name(name): name for name in setting.lit}
    out = {names[row] for row in names if row in rows and answer.unknowns[rows[row]].min() <= 0}
    for port, amps in zip(cycle.ports, answer.port_amps, strict=True):
        if port.owner in setting.lit and not amps.any():
            out.add(port.owner)
    return frozenset(out)


def in_doubt(circuit: Circuit, cycle: Cycle, answer: Steady) -> tuple[str, ...]:
    """Neons left dark of which some copies would strike at the volts they have."""
    neons = {b.name for b in circuit.branches.values() if b.glows}
    return tuple(
        port.owner
        for port, volts in zip(cycle.ports, answer.port_volts, strict=True)
        if port.owner in neons
        and isinstance(port.curve, Open)
        and np.abs(volts).max() >= STRIKES_V[0]
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
