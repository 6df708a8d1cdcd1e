"""What the ground clip of a scope would do at a point.

The clip is protective earth. On anything that is not earth already it is a short circuit: of the
point, of a floating winding's freedom, or of the mains.
"""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

from coldcheck.circuit.kinds import Ohms
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.paths import islands
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import plain

if TYPE_CHECKING:
    from coldcheck.bench.chart.ohmmeter import Ohmmeter
    from coldcheck.bench.instruments.clipped import Clipped, ClipSolver
    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.solution import Solution


class ClipKind(StrEnum):
    """What the clip is at a net.

    ``EARTHED``: the net is gnd and the drawing earths it: fine. ``UNEARTHED``: it is gnd, and the
    drawing shows no earth. ``LIVE``: gnd itself is on the mains. ``MAINS``: the net is on the
    mains' side. ``SHORT``: the clip joins it to gnd. ``FLOATING``: nothing holds the net; the clip
    would become its reference. ``UNKNOWN``: no voltage.
    """

    EARTHED = "earthed"
    UNEARTHED = "unearthed"
    LIVE = "live common"
    MAINS = "mains"
    SHORT = "short"
    FLOATING = "floating"
    UNKNOWN = "unknown"


JOINED_OHM = 0.1
"""Up to here a point is gnd itself, where no winding is in the way; above it the clip is solved."""

EMPTIES_OHM = 100.0
"""Up to here between a capacitor and the clip it empties at once."""

QUIET_VOLTS = 0.01
LARGE_FARADS = 1e-6
MAINS_POINTS = ("line", "neutral")


@dataclass(frozen=True, slots=True)
class Clip:
    """The clip on a net.

    clipped
        The circuit with a clip that is a ``SHORT``.
    discharges
        Capacitors of a microfarad and more that would empty themselves through the clip.
    reason
        Why there is no voltage.
    """

    kind: ClipKind
    net: str
    volts_dc: float | None = None
    volts_ac: float | None = None
    clipped: Clipped | None = None
    discharges: tuple[str, ...] = ()
    reason: str = ""

    @property
    def allowed(self) -> bool:
        """Whether the clip may go there."""
        return self.kind in (ClipKind.EARTHED, ClipKind.UNEARTHED)


def mains_side(circuit: Circuit) -> frozenset[str]:
    """The nets joined by conductors to the incoming mains; gnd among them means a live common."""
    ends = {circuit.points[p] for p in MAINS_POINTS if p in circuit.points}
    joined = [island for island in islands(circuit) if island & ends]
    return frozenset().union(*joined)


def clip_on(
    circuit: Circuit, net: str, solution: Solution, meter: Ohmmeter, clips: ClipSolver
) -> Clip:
    """What the ground clip would do on a net, in the state of ``solution`` and of ``clips``."""
    mains = mains_side(circuit)
    if GROUND in mains:
        return Clip(ClipKind.LIVE, net)
    if net in mains:
        return Clip(ClipKind.MAINS, net)
    if _is_gnd(meter, net):
        return Clip(ClipKind.EARTHED if _earthed(circuit, meter) else ClipKind.UNEARTHED, net)
    wave = solution.waves.get(net)
    if wave is None:
        reason = solution.why_lost(net) or solution.reason
        loose = not meter.nominal.joined(net, GROUND)
        return Clip(ClipKind.FLOATING if loose else ClipKind.UNKNOWN, net, reason=reason)
    charged = abs(wave.dc) > QUIET_VOLTS
    empties = _large_capacitors(circuit, net, meter) if charged else ()
    return Clip(ClipKind.SHORT, net, wave.dc, wave.ac_rms, clips.on(net), empties)


def _earthed(circuit: Circuit, meter: Ohmmeter) -> bool:
    earth = circuit.points.get("earth")
    return earth is not None and meter.nominal.ohms(earth, GROUND) < JOINED_OHM


def _is_gnd(meter: Ohmmeter, net: str) -> bool:
    """Whether a net is gnd but for contacts. The ohms of a winding are few: its volts are not."""
    if net == GROUND:
        return True
    coils = any(branch.traits.ohms is Ohms.COIL for branch, _ in meter.through(net))
    return not coils and meter.nominal.ohms(net, GROUND) < JOINED_OHM


def _large_capacitors(circuit: Circuit, net: str, meter: Ohmmeter) -> tuple[str, ...]:
    """Those on the net, or next to no ohms from it."""
    return tuple(
        b.name for b in circuit.branches.values()
        if b.kind is PartKind.CAPACITOR and plain(b.value, "farad", 0.0) >= LARGE_FARADS
        and any(_near(meter, net, end) for end in (b.a, b.b))
    )  # fmt: skip


def _near(meter: Ohmmeter, net: str, end: str) -> bool:
    """Whether a lead hangs on the net itself, and not only by way of gnd."""
    ohms = meter.nominal.ohms(net, end)
    return ohms < EMPTIES_OHM and ohms < 0.1 * meter.nominal.ohms(end, GROUND)
