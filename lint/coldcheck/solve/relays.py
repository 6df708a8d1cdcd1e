"""Relays follow their coils: which of them pull in or drop out by the answer of a state.

IEC 61810-1 (from memory): a coil of class 1 pulls in at 80 % of its rated voltage, and one of DC
lets go at 5 % of it, one of AC at 15 %. Between the two a relay stays as it was.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.circuit.lamps import is_neon
from coldcheck.circuit.thyristors import USUAL_FIRES, rated
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si

if TYPE_CHECKING:
    from collections.abc import Collection

    from coldcheck.circuit.model import Branch, Circuit, Coupler, Relay, Thyristor
    from coldcheck.solve.solution import Solution

PULLS_IN = 0.8
LETS_GO = {False: 0.05, True: 0.15}
"""Shares of the rated voltage; by whether the coil is one for AC."""

LED_LIT_A, NEON_LIT_A, FILAMENT_LIT = 1e-3, 1e-4, 0.5
"""From such a current on a lamp lights a photocell; of a filament's rated one a share (practice:
cells of optocouplers are rated from 1 mA on; a filament at half its current hardly glows)."""

LATE_S = 30.0
"""A delay from which on every cathode is hot before the contacts close (common practice)."""


def moving(
    circuit: Circuit,
    solution: Solution,
    held: Collection[str],
    opened: Collection[str] = (),
) -> frozenset[str]:
    """The relays that the answer moves, but for those ``held`` as they are.

    ``opened`` are branches that are broken: a coil among them lets go, whatever is across it.
    Optocouplers are among them: their lamp lights their cell, or does not; and thyristors, which
    their gate fires and nothing here puts out.
    """
    found = {
        relay.name
        for relay in circuit.relays.values()
        if _moves(relay, solution, relay.coil.name in opened)
    }
    found |= {c.name for c in circuit.couplers.values() if _relit(c, solution)}
    found |= {t.name for t in circuit.thyristors.values() if _fires(t, solution)}
    return frozenset(found.difference(held))


def _fires(one: Thyristor, solution: Solution) -> bool:
    """Whether a thyristor that is off gets the gate current that fires it."""
    through = solution.current(one.gate.name) if solution.converged else None
    if through is None or one.name in solution.state.thrown:
        return False
    return through.high >= fires_at(one)


def fires_at(one: Thyristor) -> float:
    """The gate current that fires every copy: what is written, or its type's, amperes."""
    part = one.main.part
    written = si(one.gate.part.current, "ampere") if one.gate.part is not None else None
    known = rated(part) if part is not None else None
    return written or (USUAL_FIRES if known is None else known.fires)


def _relit(coupler: Coupler, solution: Solution) -> bool:
    """Whether the cell is in the light and the lamp dark, or the other way round."""
    through = solution.current(coupler.lamp.name) if solution.converged else None
    shines = through is not None and through.rms >= _shines_at(coupler.lamp)
    return through is not None and shines is not (coupler.name in solution.state.thrown)


def _shines_at(lamp: Branch) -> float:
    """Amperes from which a lamp counts as lit."""
    if lamp.kind is PartKind.LED:
        return LED_LIT_A
    made_for = si(lamp.part.current, "ampere") if lamp.part is not None else None
    return NEON_LIT_A if is_neon(lamp) else FILAMENT_LIT * (made_for or 0.0)


def _moves(relay: Relay, solution: Solution, broken: bool) -> bool:
    share = 0.0 if broken and solution.converged else coil_share(relay, solution)
    if share is None:
        return False
    if relay.released is (relay.name in solution.state.thrown):
        return share <= LETS_GO[relay.ac]
    return share >= PULLS_IN


def coil_share(relay: Relay, solution: Solution) -> float | None:
    """The rms voltage across a coil over what it is made for; ``None`` where it has no number."""
    wave = solution.between(relay.coil.a, relay.coil.b) if solution.converged else None
    return None if wave is None else wave.rms / (si(relay.volts, "volt") or 1.0)


def late(circuit: Circuit) -> frozenset[str]:
    """The relays whose contacts move only when all tubes are hot."""
    return at_rest(circuit) & {
        r.name for r in circuit.relays.values() if (r.delay or 0.0) >= LATE_S
    }


def at_rest(circuit: Circuit) -> frozenset[str]:
    """What is to be thrown for all relays to be at rest, as they are once the set is off."""
    return frozenset(r.name for r in circuit.relays.values() if not r.released)
