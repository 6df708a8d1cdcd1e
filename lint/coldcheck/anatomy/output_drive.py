"""What feeds a screen of an output tube, and what it takes at full drive."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy.neighbourhood import metal, reading
from coldcheck.anatomy.output_stage import plate_load, stiff_nets
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.solve.tubes.full_drive import Cycle, Seat, full_drive
from coldcheck.solve.tubes.laws import law_for
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.output_stage import OutputTube
    from coldcheck.circuit.model import Circuit
    from coldcheck.circuit.tubes import Sourced

LEAST_OHM = Threshold("least screen resistor of an output tube", 100.0, "ohm", PRACTICE)
ON_PEAKS = Threshold(
    "screen dissipation allowed on signal peaks, times the rating",
    2.0,
    "",
    Citation("philips-sheets", "EL84: 4 W on signal peaks, rated 2 W"),
)
"""Music and speech are not a full sine all the time: the EL84's sheet allows 4 W on signal peaks
where it rates the screen at 2 W (memory)."""

CLEARLY = Threshold(
    "times the allowance up to which a screen at full drive is advice", 1.5, "", PRACTICE
)
"""The law's screen current at full drive is good to some 30 %; up to this is advice."""

FEEDS = (470.0, 1000.0, 1500.0, 2200.0, 3300.0, 4700.0)


@dataclass(frozen=True, slots=True)
class Feed:
    """Ohms from a screen to what holds it still; ``direct`` where a supply point is the screen's.

    ``bypassed``: a capacitor holds the screen itself and the ohms stand behind it.
    """

    ohms: float
    direct: bool
    bypassed: bool
    net: str


@dataclass(frozen=True, slots=True)
class Drive:
    """A screen at full drive against its rating; ``excess`` is over what peaks may have."""

    seat: Seat
    cycle: Cycle
    limit: Sourced

    @property
    def excess(self) -> float:
        """Mean screen power at full drive over twice the rating."""
        return self.cycle.screen_w / (ON_PEAKS.value * self.limit.value)

    @property
    def evidence(self) -> dict[str, Figure]:
        """The figures of a finding."""
        return {
            "screen_mean_dissipation": figure(self.cycle.screen_w, "W"),
            "screen_peak": figure(self.cycle.screen_peak_w, "W"),
            "screen_mean_current": figure(self.cycle.screen_mean_a, "A"),
            "plate_down_to": figure(self.cycle.lowest_plate_v, "V"),
            "rating": figure(self.limit.value, "W"),
            "limit": figure(ON_PEAKS.value * self.limit.value, "W"),
        }


def screen_feed(circuit: Circuit, stage: OutputTube) -> Feed | None:
    """What feeds a screen; ``None`` where it is on a tap, its plate, or nothing that holds it."""
    net = stage.section.net("screen")
    if net is None or stage.tap is not None or net == GROUND:
        return None
    graph, stiff = metal(circuit), stiff_nets(circuit)
    near: dict[str, float] = nx.single_source_dijkstra_path_length(graph, net)
    away = [(ohm, n) for n, ohm in near.items() if n in stiff and n != net]
    if net in stiff:
        private = len(circuit.at(net)) == 2 and away and min(away)[0] >= LEAST_OHM.value
        return Feed(min(away)[0] if away else 0.0, not private, True, net)
    if not away:
        return None
    ohm, far = min(away)
    return Feed(ohm, ohm < LEAST_OHM.value, False, far)


def drive_of(case: Case, stage: OutputTube) -> Drive | None:
    """The screen of an output pentode at full drive, or ``None`` where it cannot be worked out."""
    law, load = law_for(stage.section.type), plate_load(case.circuit, stage)
    limit = stage.tube.type.rating("screen-dissipation", stage.section.type.name)
    seat = _seat(case, stage, load[0]) if load else None
    if (
        law is None
        or limit is None
        or seat is None
        or stage.section.kind is not SectionKind.PENTODE
    ):
        return None
    return Drive(seat, full_drive(law, seat), limit)


def _seat(case: Case, stage: OutputTube, load: float) -> Seat | None:
    warm = case.solutions.get("warm")
    found = reading(warm, stage.section) if warm is not None and warm.converged else None
    if found is None or found.plate_v is None or found.screen_v is None or found.grid_v is None:
        return None
    if found.grid_v >= 0 or stage.tap is not None or found.plate_v <= 0:
        return None
    feed = screen_feed(case.circuit, stage)
    return Seat(
        found.plate_v,
        found.screen_v,
        found.grid_v,
        load * stage.fellows,
        stage.push_pull,
        feed.ohms if feed else 0.0,
        feed.bypassed if feed else False,
    )


def better_feed(stage: OutputTube, drive: Drive) -> tuple[float, float] | None:
    """The least usual resistor that brings a screen within its peaks, and its watts."""
    law = law_for(stage.section.type)
    for ohm in FEEDS:
        if law is None or ohm <= drive.seat.screen_ohm:
            continue
        cycle = full_drive(law, replace(drive.seat, screen_ohm=ohm, bypassed=False))
        if cycle.screen_w <= ON_PEAKS.value * drive.limit.value:
            return ohm, ohm * float((cycle.screen_a**2).mean())
    return None
