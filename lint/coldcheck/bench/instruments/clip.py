"""What the ground clip of a scope would do at a point.

The clip is protective earth. On anything that is not earth already it is a short circuit: of the
point, of a floating winding's freedom, or of the mains.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from coldcheck.circuit.model import GROUND
from coldcheck.circuit.paths import islands
from coldcheck.solve.cycle.network import mains_frequency, plain

if TYPE_CHECKING:
    from coldcheck.bench.chart.ohmmeter import Ohmmeter
    from coldcheck.bench.chart.sources import Sources
    from coldcheck.circuit.model import Circuit

EARTHED, UNEARTHED, LIVE, MAINS, SHORT, FLOATING, UNKNOWN = (
    "earthed",
    "unearthed",
    "live common",
    "mains",
    "short",
    "floating",
    "unknown",
)
JOINED_OHM = 1.0
QUIET_VOLTS = 0.01
LARGE_FARADS = 1e-6
MAINS_POINTS = ("line", "neutral")


@dataclass(frozen=True, slots=True)
class Clip:
    """The clip on a net.

    kind
        ``earthed``: the net is gnd and the drawing earths it: fine. ``unearthed``: it is gnd, and
        the drawing shows no earth. ``live common``: gnd itself is on the mains. ``mains``: the net
        is on the mains' side. ``short``: ``dc_amps`` and ``ac_amps`` would flow, the source
        resistance being that of the linearised network. ``floating``: nothing holds the net;
        the clip would become its reference. ``unknown``: no voltage, for the reason given.
    discharges
        Capacitors of a microfarad and more that would empty themselves through the clip.
    """

    kind: str
    net: str
    volts_dc: float | None = None
    volts_ac: float | None = None
    dc_amps: float | None = None
    ac_amps: float | None = None
    discharges: tuple[str, ...] = ()
    reason: str = ""

    @property
    def allowed(self) -> bool:
        """Whether the clip may go there."""
        return self.kind in (EARTHED, UNEARTHED)


def mains_side(circuit: Circuit) -> frozenset[str]:
    """The nets joined by conductors to the incoming mains; gnd among them means a live common."""
    ends = {circuit.points[p] for p in MAINS_POINTS if p in circuit.points}
    joined = [island for island in islands(circuit) if island & ends]
    return frozenset().union(*joined)


def clip_on(circuit: Circuit, net: str, sources: Sources, meter: Ohmmeter) -> Clip:
    """What the ground clip would do on a net, in the state of ``sources``."""
    mains = mains_side(circuit)
    if net in mains:
        return Clip(LIVE if GROUND in mains else MAINS, net)
    if meter.nominal.ohms(net, GROUND) < JOINED_OHM:
        return Clip(EARTHED if _earthed(circuit, meter) else UNEARTHED, net)
    solution = sources.solution
    wave = solution.waves.get(net)
    if wave is None:
        reason = solution.why_lost(net) or solution.reason
        loose = not meter.nominal.joined(net, GROUND)
        return Clip(FLOATING if loose else UNKNOWN, net, reason=reason)
    return Clip(
        SHORT, net, wave.dc, wave.ac_rms,
        _amps(wave.dc, sources.ohms(net)),
        _amps(wave.ac_rms, sources.impedance(net, GROUND, mains_frequency(circuit))),
        _large_capacitors(circuit, net) if abs(wave.dc) > QUIET_VOLTS else (),
    )  # fmt: skip


def _earthed(circuit: Circuit, meter: Ohmmeter) -> bool:
    earth = circuit.points.get("earth")
    return earth is not None and meter.nominal.ohms(earth, GROUND) < JOINED_OHM


def _amps(volts: float, ohms: complex | float | None) -> float | None:
    if ohms is None:
        return None
    return 0.0 if abs(volts) < QUIET_VOLTS else abs(volts) / max(abs(ohms), 1e-3)


def _large_capacitors(circuit: Circuit, net: str) -> tuple[str, ...]:
    held = (b for b in circuit.at(net) if b.kind == "capacitor")
    return tuple(b.name for b in held if plain(b.value, "farad", 0.0) >= LARGE_FARADS)
