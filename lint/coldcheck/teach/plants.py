"""Mistakes planted in a clean drawing, each with the finding that has to come out of it.

A kind of mistake is one small function from a :class:`~coldcheck.teach.clean.Clean` to plants.
Where a kind applies is decided from the drawing and its voltages, never by asking the rule that is
to find it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.records import dataclass
from coldcheck.teach import plants_grid as grid
from coldcheck.teach import plants_heater as heater
from coldcheck.teach import plants_parts as parts
from coldcheck.teach import plants_supply as supply
from coldcheck.teach import plants_tube as tube
from coldcheck.teach import plants_wiring as wiring

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from coldcheck.teach.clean import Clean
    from coldcheck.teach.plant import Planted

KINDS: Mapping[str, Callable[[Clean], Iterable[Planted]]] = {
    **heater.KINDS,
    **supply.KINDS,
    **parts.KINDS,
    **grid.KINDS,
    **tube.KINDS,
    **wiring.KINDS,
}
"""Kind -> where it applies. The names are the trade's."""


@dataclass(frozen=True, slots=True)
class Exhibit:
    """A plant with its kind and the drawing it stands in."""

    sample: str
    kind: str
    plant: Planted

    @property
    def name(self) -> str:
        """``harbour-light: grid return left out: R6``."""
        return f"{self.sample}: {self.kind}: {self.plant.place}"


def plants(clean: Clean, kinds: Iterable[str] = tuple(KINDS)) -> Iterator[Exhibit]:
    """Every applicable mistake at every applicable place, each once."""
    for kind in kinds:
        done: set[str] = set()
        for plant in KINDS[kind](clean):
            if plant.place not in done:
                done.add(plant.place)
                yield Exhibit(clean.name, kind, plant)
