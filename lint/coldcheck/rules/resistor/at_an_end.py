"""Stages whose plate stands at an end of its range because a resistor is a decade out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.case import warm_volts
from coldcheck.anatomy.channels import behind
from coldcheck.anatomy.coupling import steers_its_tail, still_nets
from coldcheck.anatomy.grid_kinds import is_power_tube
from coldcheck.anatomy.ordinary import oddness
from coldcheck.anatomy.oscillators import by_crystal, fed_back
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section

LEAST_SHARE = Threshold("least share of its feed over a coupled tube", 0.15, "", PRACTICE)
MOST_SHARE = Threshold("most share of its feed over a coupled tube", 0.88, "", PRACTICE)
"""Of the voltage over tube and load a resistance-coupled stage leaves the tube 0.3 to 0.8; at the
ends there is hardly a swing. Cold-biased stages are meant to be near the top, with values that are
ordinary."""

ODD = 0.3
"""Decades outside what is ordinary in the place: a factor of two (common practice)."""

LEAST_FEED = 30.0
"""Below this the stage is hardly fed, for another reason."""


@dataclass(frozen=True, slots=True)
class AtAnEnd:
    """A stage at an end, the resistor that puts it there, and the decade that would suit."""

    section: Section
    part: Branch
    value: float
    meant: float
    share: float


def at_an_end(case: Case) -> Iterator[AtAnEnd]:
    """The resistance-coupled stages at an end, each with the first resistor that explains it."""
    still = still_nets(case.circuit)
    coils = fed_back(case.circuit)
    quick = {*(s.name for s, _ in by_crystal(case.circuit)), *(s.name for s in coils)}
    for tube, section in working(case.circuit):
        if section.kind is SectionKind.INDICATOR:
            continue  # an eye's plate is meant to go from its target's voltage to nearly none
        if quick & {section.name, *behind(case.circuit, section)}:
            continue  # at radio frequencies a load is small on purpose
        load = None if is_power_tube(tube, section) else _load(case.circuit, section, still)
        share = None if load is None else _share(case, section, load)
        if load is None or share is None or LEAST_SHARE.value <= share <= MOST_SHARE.value:
            continue
        for part, factor in _turns(case.circuit, section, load, starved=share > MOST_SHARE.value):
            value = part.ohms or 0.0
            meant = _meant(case.circuit, part, value, factor)
            if meant is not None:
                yield AtAnEnd(section, part, value, meant, share)
                break


def _meant(circuit: Circuit, part: Branch, value: float, factor: float) -> float | None:
    """One decade or two away, where the value as it is is odd and that one is not."""
    before = oddness(circuit, part, value)
    if before is None or before < ODD:
        return None
    tried = (value * factor, value * factor * factor)
    return next((v for v in tried if oddness(circuit, part, v) == 0), None)


def _load(circuit: Circuit, section: Section, still: Collection[str]) -> Branch | None:
    """The one resistor a plate hangs on; one that decouples a plate held still is no load."""
    plate = section.net("plate")
    held = plate is None or plate in LANDMARKS or plate in still
    free = not held and not steers_its_tail(circuit, section)
    at = circuit.at(plate) if plate is not None and free else []
    fed = [b for b in at if b.kind is not PartKind.CAPACITOR and b.other(plate or "") != GROUND]
    plain = len(fed) == 1 and fed[0].kind is PartKind.RESISTOR and fed[0].value is not None
    return fed[0] if plain and not _follows(circuit, section) else None


def _follows(circuit: Circuit, section: Section) -> bool:
    """Whether nothing takes a signal from the plate, and something does from the cathode."""
    plate, cathode = section.electrodes["plate"], section.cathode_nets[0]
    taking = [b for b in circuit.at(plate) if b.other(plate) not in LANDMARKS]
    alone = len(taking) == 1 and len(circuit.electrodes_at(plate)) == 1
    ways = {b.other(cathode) for b in circuit.at(cathode)} - set(LANDMARKS)
    return alone and cathode not in LANDMARKS and bool(ways)


def _share(case: Case, section: Section, load: Branch) -> float | None:
    """What of the voltage over tube and load stands over the tube."""
    plate, cathode = section.electrodes["plate"], section.cathode_nets[0]
    nets = (plate, load.other(plate), cathode)
    at, feed, below = (warm_volts(case, n) for n in nets)
    if at is None or feed is None or below is None or feed - below < LEAST_FEED:
        return None
    return (at - below) / (feed - below)


def _turns(
    circuit: Circuit, section: Section, load: Branch, *, starved: bool
) -> Iterator[tuple[Branch, float]]:
    """The stage's resistors, each with the factor that leads away from the end."""
    less, more = (0.1, 10.0) if starved else (10.0, 0.1)
    for net, factor in ((section.cathode_nets[0], less), (section.net("screen"), less)):
        at = circuit.at(net) if net is not None and net not in LANDMARKS else []
        found = [b for b in at if b.kind is PartKind.RESISTOR and b.value is not None]
        if len(found) == 1:
            yield found[0], factor
    yield load, more
