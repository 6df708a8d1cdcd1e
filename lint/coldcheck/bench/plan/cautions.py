"""The cautions that apply to this very circuit, in the standard signal words.

DANGER where contact will kill or maim: above 120 V DC (energy class 3 of IEC 62368-1, memory) or
on the mains; WARNING where it could: above 60 V DC. NOTICE is for equipment only.
"""

from __future__ import annotations

from math import ceil, inf
from typing import TYPE_CHECKING

from coldcheck.anatomy.output_stage import output_tubes
from coldcheck.bench.faults.driven import Drive, open_secondary
from coldcheck.bench.plan.model import Caution
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.problems import listed
from coldcheck.drawing.kinds import PartKind
from coldcheck.solve.cycle.network import HEATER_VOLTS_MAX, plain
from coldcheck.solve.faults.fault import OPEN, Fault
from coldcheck.solve.off.discharge import TOUCH_V
from coldcheck.solve.solution import WARM, Lost

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from coldcheck.bench.plan.model import Charge, Limiter
    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.solution import Solution

DEADLY_V = 120.0
LIFTED_V = 10.0
"""A heater winding this far from gnd is not at the metal's potential."""


def highest(solutions: Iterable[Solution]) -> float:
    """The highest instant at any net of any solved state, volts to gnd."""
    return max((w.peak for s in solutions if s.converged for w in s.waves.values()), default=0.0)


def cautions_of(
    circuit: Circuit,
    solutions: Sequence[Solution],
    charges: Sequence[Charge],
    limiter: Limiter | None,
    *,
    live: bool,
    mains: bool,
) -> tuple[Caution, ...]:
    """All that apply, the gravest first."""
    solved = any(s.converged for s in solutions)
    lost = any(r.kind is Lost.OPEN for s in solutions for r in s.undefined.values())
    given = [
        plain(b.value, "volt", 0.0) for b in circuit.branches.values() if b.kind is PartKind.SOURCE
    ]
    volts = max([highest(solutions), *given])
    found = [
        *_live(limiter, live=live),
        *_high(volts, live=live, mains=mains, solved=solved, whole=not lost),
        *_charged(charges),
        *_isolation(mains=mains),
        *_filaments(circuit, solutions),
        *_parts(circuit),
        *_unloaded(circuit, solutions),
    ]
    order = ("danger", "warning", "caution", "notice")
    return tuple(sorted(found, key=lambda c: order.index(c.level)))


def _live(limiter: Limiter | None, *, live: bool) -> Iterator[Caution]:
    if not live:
        return
    size = "" if limiter is None else (
        f" It has to carry {ceil(2 * limiter.watts / 10) * 10:.0f} VA or more "
        "(twice what the set takes)."
    )  # fmt: skip
    yield Caution(
        "danger",
        "gnd is joined to the mains in this drawing: chassis wiring, cathodes and every can may be "
        "at the full line voltage against earth. Power it only behind an isolating transformer, "
        f"with nothing earthed connected to it: no scope clip, no earthed generator.{size} It does "
        "not protect who touches two points of the set at once, nor from what its capacitors hold; "
        "a residual-current device ahead of it no longer trips; and once anything behind it is "
        "earthed, or a second set is fed from it, it isolates nobody. A transformer with one "
        "winding, a variable one, is none.",
    )


def _high(volts: float, *, live: bool, mains: bool, solved: bool, whole: bool) -> Iterator[Caution]:
    if volts <= TOUCH_V and not live and not mains:
        return
    reach = f"up to {volts:.0f} V against gnd" if volts > TOUCH_V else "the mains voltage"
    if live:
        reach += (
            ", and the mains' peak more against earth where plug or outlet is the other way round"
        )
    if solved and not whole:
        reach += ", and perhaps more where no figure could be given"
    if not solved:
        reach = "voltages that could not be worked out: take every point as lethal"
    grave = volts > DEADLY_V or mains or live
    yield Caution(
        "danger" if grave else "warning",
        f"With power on the open wiring carries {reach}. This is work for a qualified person who "
        "is not alone and whose helper knows the switch: clip the meter's leads on while the power "
        "is off and the capacitors are empty, use one hand and keep the other away from everything "
        "metal, stand on something dry, wear no rings. Meter and leads must be rated for more than "
        "that.",
    )


def _charged(charges: Sequence[Charge]) -> Iterator[Caution]:
    never = [c.capacitor for c in charges if c.seconds == inf]
    if never:
        yield Caution(
            "warning",
            f"Nothing in the drawing is sure to drain {', '.join(never)}: the charge may stay for "
            "days after switch-off. It has to be drained by hand, through a resistor, every time.",
        )
    elif charges:
        longest = max(c.high for c in charges)
        yield Caution(
            "warning",
            f"After switch-off {listed(c.capacitor for c in charges)} may hold more than "
            f"{TOUCH_V:.0f} V for {ceil(longest)} s, and without end if a resistor that drains "
            "them is open. Measure before you touch, every time.",
        )


def _isolation(*, mains: bool) -> Iterator[Caution]:
    if mains:
        yield Caution(
            "warning",
            "A variable transformer and a lamp in series limit; they do not isolate. Both leads of "
            "the set stay on the mains. Plug them into a residual-current device if there is one.",
        )


def _filaments(circuit: Circuit, solutions: Sequence[Solution]) -> Iterator[Caution]:
    for winding in circuit.windings():
        if winding.primary or plain(winding.volts, "volt", 0.0) > HEATER_VOLTS_MAX:
            continue
        nets = [n for n in winding.nets if n != GROUND]
        waves = [w for s in solutions if s.converged for n in nets if (w := s.waves.get(n))]
        volts = max((abs(w.dc) for w in waves), default=0.0)
        if not waves:
            loose = f"Nothing in the drawing ties the winding {winding.name} down: it may stand "
            yield Caution("warning", f"{loose}at any voltage.")
        elif volts > TOUCH_V:
            yield Caution(
                "danger" if volts > DEADLY_V else "warning",
                f"The low-voltage winding {winding.name} is at up to {volts:.0f} V DC against "
                "gnd: treat its wiring and the sockets on it as high tension.",
            )
        elif volts > LIFTED_V:
            yield Caution(
                "notice",
                f"The winding {winding.name} is lifted to some {volts:.0f} V DC: neither of its "
                "leads may touch the metal.",
            )


def _parts(circuit: Circuit) -> Iterator[Caution]:
    if any(b.kind is PartKind.CAPACITOR and b.plus for b in circuit.branches.values()):
        yield Caution(
            "caution",
            "An electrolytic that is reversed, over its voltage or long unused can burst: wear eye "
            "protection and keep your face away when power comes on.",
        )
    if circuit.tubes:
        yield Caution(
            "caution",
            "Tubes and power resistors burn the skin within a minute: let them cool before you "
            "change anything.",
        )


def _unloaded(circuit: Circuit, solutions: Sequence[Solution]) -> Iterator[Caution]:
    """Of each output of pentodes: its load, and what a plate swings to without, where known.

    A plate's direct volts do not hang on the load, so the warm set is that without it.
    """
    warm = next((s for s in solutions if s.state.name == WARM and s.converged), None)
    for name in dict.fromkeys(t.output.name for t in output_tubes(circuit) if not t.triode):
        output = circuit.outputs[name]
        lost = Fault(OPEN, open_secondary(output))
        thrown = () if warm is None else Drive.of(circuit, warm).judged(circuit, lost, warm)[0]
        how = "".join(f": {x.message}" for x in thrown[:1]) or ": it can flash over"
        yield Caution(
            "notice",
            f"Never run {name} without its {plain(output.secondary, 'ohm', 0.0):g} ohm of load "
            f"(speaker or resistor){how}.",
        )
