"""Detectors for frequency modulation: two diodes on the ends of one tapped coil.

With a large capacitor across what is behind them it is a ratio detector, whose diodes are in series
round the coil; with a load for each diode a discriminator, whose diodes both give to their loads.
"""

from __future__ import annotations

from collections import deque
from math import nan
from typing import TYPE_CHECKING, TypeAlias

from coldcheck.anatomy.cans import tuned
from coldcheck.anatomy.coupling import coupled, still_nets
from coldcheck.anatomy.detectors import diodes, diodes_beside
from coldcheck.anatomy.jacks import jacks
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.tubes_types import SIGNAL_GRIDS
from coldcheck.drawing.kinds import PartKind
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.solve.signal.outputs import named_out
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from coldcheck.anatomy.detectors import Diode
    from coldcheck.circuit.model import Branch, Circuit, Coil, CoilSet

STEADIES_F = Threshold(
    "least stabilising capacitor of a ratio detector", 1e-6, "F",
    Citation("practice", "2 to 50 uF; the loads of a discriminator have picofarads across them"),
)  # fmt: skip


HANDS_ON_F = Threshold(
    "least capacitor that couples the audio of an FM detector", 1e-9, "F",
    Citation("practice", "intermediate frequency is coupled by picofarads"),
)  # fmt: skip

Way: TypeAlias = "tuple[tuple[Branch, str], ...]"
"""Parts in series, each with the net behind it."""


@dataclass(frozen=True, slots=True)
class Leg:
    """A diode with one end on the coil at ``hot`` and the other at ``far``."""

    diode: Diode
    hot: str
    far: str

    @property
    def gives(self) -> bool:
        """Whether it conducts out of the coil: its far end goes positive with a signal."""
        return self.diode.plate == self.hot


@dataclass(frozen=True, slots=True)
class Detector:
    """Two diodes on the ends of ``coil``; ``steady`` is the large capacitor behind them, if any.

    Two of them in series, with their middle on gnd, are one.
    """

    coil_set: CoilSet
    coil: Coil
    legs: tuple[Leg, Leg]
    steady: tuple[Branch, ...]

    @property
    def aiding(self) -> bool:
        """Whether the diodes are in series round the coil, one into it and one out of it."""
        one, other = self.legs
        return one.gives is not other.gives

    @property
    def taps(self) -> tuple[str, ...]:
        """The nets of the coil's leads between its ends."""
        return self.coil.nets[1:-1]

    @property
    def fars(self) -> tuple[str, ...]:
        """What is behind the diodes, landmarks left out."""
        return tuple(g.far for g in self.legs if g.far not in LANDMARKS)


def fm_detectors(circuit: Circuit) -> Iterator[Detector]:
    """Each tapped coil without iron with one diode on either end, and different far ends."""
    for coil_set in circuit.coil_sets.values():
        for coil in coil_set.coils:
            ends = coil.nets[0], coil.nets[-1]
            if coil_set.iron or len(coil.nets) < 3 or set(ends) & set(LANDMARKS):
                continue
            found = [list(_legs(circuit, end)) for end in ends]
            match found:
                case [[one], [other]] if one.far != other.far and one.diode != other.diode:
                    steady = _steady(circuit, one.far, other.far)
                    yield Detector(coil_set, coil, (one, other), steady)
                case _:
                    pass


def _legs(circuit: Circuit, hot: str) -> Iterator[Leg]:
    """The diodes with one end here."""
    for diode in (*diodes(circuit), *(d for _, d in diodes_beside(circuit))):
        if hot in (diode.plate, diode.cathode) and diode.plate != diode.cathode:
            yield Leg(diode, hot, diode.cathode if diode.plate == hot else diode.plate)


def _steady(circuit: Circuit, one: str, other: str) -> tuple[Branch, ...]:
    """The large capacitor from net to net, or one from each of them to gnd."""
    across = _large(circuit, one, other)
    halves = (*_large(circuit, one, GROUND)[:1], *_large(circuit, other, GROUND)[:1])
    return across[:1] or (halves if len(halves) > 1 else ())


def _large(circuit: Circuit, one: str, other: str) -> tuple[Branch, ...]:
    near = (b for b in circuit.at(one) if b.kind is PartKind.CAPACITOR and b.other(one) == other)
    return tuple(b for b in near if (b.farads or 0.0) >= STEADIES_F.value)


def heard_behind(circuit: Circuit, detector: Detector) -> bool:
    """Whether what is behind the diodes leads to a grid or output by no way through the coil."""
    ends = {*still_nets(circuit), *detector.coil.nets}
    return heard_in(circuit, coupled(circuit, detector.fars, ends))


def heard_in(circuit: Circuit, nets: Collection[str]) -> bool:
    """Whether a grid, an output or the tip of a jack is on one of these nets."""
    grids = any(e in SIGNAL_GRIDS for n in nets for _, e in circuit.electrodes_at(n))
    outlet = any(named_out(p) for n in nets for p in circuit.names.get(n, ()))
    return grids or outlet or any(j.tip in nets for j in jacks(circuit))


@dataclass(frozen=True, slots=True)
class Shunt:
    """A capacitor from the way of the audio to gnd: ``ohm`` is what is in series before it.

    ``series`` is the last resistor before it, ``net`` its own end that is not still. Figures that
    the drawing leaves open are nan.
    """

    capacitor: Branch
    net: str
    farad: float
    series: Branch
    ohm: float


def shunts(circuit: Circuit, detector: Detector) -> tuple[Shunt, ...]:
    """What a detector's audio passes on the way to the first coupling capacitor, pot or grid.

    From the tap of a ratio detector, else from behind the diodes. None where there is no such way,
    or more than one, or where the diodes are neither's.
    """
    if detector.aiding and not detector.steady:
        return ()
    still = still_nets(circuit)
    start = detector.taps if detector.steady else detector.fars
    ends = {*still, *detector.coil.nets, *detector.fars}
    found = (way_to_audio(circuit, n, ends) for n in start if n not in still)
    match [w for w in found if w is not None]:
        case [way]:
            return tuple(_along(circuit, way, still))
        case _:
            return ()


def way_to_audio(circuit: Circuit, start: str, ends: Collection[str]) -> Way | None:
    """The parts to the nearest net where audio is handed on; ``None`` where there is none."""
    ways: dict[str, Way] = {start: ()}
    todo = deque(ways)
    while todo:
        here = todo.popleft()
        way = ways[here]
        if way and _handed_on(circuit, here):
            return way
        for branch in circuit.at(here):
            far = branch.other(here)
            if _leads_on(branch) and far not in ends and far not in ways:
                ways[far] = (*way, (branch, far))
                todo.append(far)
    return None


def _leads_on(branch: Branch) -> bool:
    contact = branch.traits.opens and branch.closed
    return branch.kind is PartKind.RESISTOR or branch.traits.coil or contact


def _along(circuit: Circuit, way: Way, still: Collection[str]) -> Iterator[Shunt]:
    """The capacitors to gnd beside the way, each with the resistance before it."""
    ohm, series = 0.0, None
    for branch, net in way:
        if branch.kind is PartKind.RESISTOR:
            ohm, series = ohm + (branch.ohms or nan), branch
        for shunt in circuit.at(net):
            if series and shunt.kind is PartKind.CAPACITOR and shunt.other(net) in still:
                yield Shunt(shunt, net, shunt.farads or nan, series, ohm)


def _handed_on(circuit: Circuit, net: str) -> bool:
    """Whether audio goes on from a net: by a capacitor to elsewhere, a pot, a grid, a jack."""
    still, near = still_nets(circuit), circuit.at(net)
    pot = any(b.kind is PartKind.POT for b in near)
    large = [b for b in near if b.kind is PartKind.CAPACITOR and _farad(b) >= HANDS_ON_F.value]
    taken = any(b.other(net) not in still for b in large)
    grid = any(e in SIGNAL_GRIDS for _, e in circuit.electrodes_at(net))
    return taken or pot or grid or any(j.tip == net for j in jacks(circuit))


def _farad(branch: Branch) -> float:
    return branch.farads or 0.0


def intermediate_hertz(circuit: Circuit, detector: Detector) -> float:
    """Where the detector's can resonates, hertz; 0 where no coil of it has what tells."""
    still = still_nets(circuit)
    found = (tuned(circuit, c, still) for c in detector.coil_set.coils)
    return max((t.hertz for t in found if t is not None), default=0.0)
