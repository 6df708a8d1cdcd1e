"""The ratings one can buy, sort by sort, and how far above a part's use one starts to look."""

from __future__ import annotations

from enum import Enum
from typing import TYPE_CHECKING

from coldcheck.bench.parts.items import Sort
from coldcheck.records import dataclass
from coldcheck.rules.capacitor.margin import LARGEST_V, STOCK_V
from coldcheck.rules.capacitor.over_voltage import MARGIN
from coldcheck.rules.mains.capacitors import STOCK_VAC
from coldcheck.rules.mains.fuse import FITTING_FACTOR, FUSES_A
from coldcheck.rules.resistor.ratings import SIZES_W, USUAL_SHARE
from coldcheck.rules.supply import coils, shorts

if TYPE_CHECKING:
    from collections.abc import Mapping

    from coldcheck.judge.figure import Symbol


class Load(Enum):
    """What a part stands, by the unit of its rating."""

    VOLTS = "V"
    WATTS = "W"
    AMPS = "A"

    __hash__ = object.__hash__


@dataclass(frozen=True, slots=True)
class Series:
    """Steps to buy; the first that is ``times`` the use or more is where to begin."""

    steps: tuple[float, ...]
    times: float = 1.0

    def first(self, used: float) -> int:
        """The step to begin with; past the last one where none is large enough."""
        wanted = self.times * used * (1 - 1e-9)
        return next((n for n, s in enumerate(self.steps) if s >= wanted), len(self.steps))


_COILS_A = tuple(
    s * decade for decade in (0.01, 0.1, 1.0) for s in (1.0, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8)
)
_RIPPLE_A = tuple(
    s * decade for decade in (0.01, 0.1, 1.0) for s in (1.0, 1.5, 2, 2.5, 3, 4, 5, 6, 8)
)
_ELECTROLYTICS_V = tuple(float(v) for v in STOCK_V if 16 <= v <= LARGEST_V.value)
_INSULATION_V = (250.0, 500.0, 1000.0, 1500.0, 2000.0, 2500.0, 3000.0, 4000.0)
_CONTACTS_A = (1.0, 2.0, 3.0, 6.0, 10.0, 16.0)

_FUSES: Mapping[Load, Series] = {
    Load.AMPS: Series(FUSES_A, FITTING_FACTOR),
    Load.VOLTS: Series((250.0, 500.0, 600.0, 1000.0)),
}

SERIES: Mapping[Sort, Mapping[Load, Series]] = {
    Sort.RESISTOR: {Load.WATTS: Series((*SIZES_W[1:], 100.0, 200.0), 1 / USUAL_SHARE.value)},
    Sort.CONTROL: {Load.WATTS: Series((0.1, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 25.0), 1.5)},
    Sort.ELECTROLYTIC: {
        Load.VOLTS: Series(_ELECTROLYTICS_V, 1 / MARGIN),
        Load.AMPS: Series(_RIPPLE_A, 1.2),
    },
    Sort.CAPACITOR: {
        Load.VOLTS: Series((63.0, 100.0, 160.0, 250.0, 400.0, 630.0, 1000.0, 1600.0), 1 / MARGIN)
    },
    Sort.AC_CAPACITOR: {Load.VOLTS: Series(STOCK_VAC, 1.1)},
    Sort.DIODE: {
        Load.VOLTS: Series((50.0, 100.0, 200.0, 400.0, 600.0, 800.0, 1000.0, 1600.0), 1.25),
        Load.AMPS: Series((0.2, 1.0, 3.0, 6.0, 10.0), 1.5),
    },
    Sort.LED: {Load.AMPS: Series((0.005, 0.01, 0.02, 0.05), 1.0)},
    Sort.ZENER: {
        Load.WATTS: Series((0.5, 1.3, 3.0, 5.0, 10.0, 50.0), 1 / shorts.USUAL_SHARE.value)
    },
    Sort.CHOKE: {Load.AMPS: Series(_COILS_A), Load.VOLTS: Series(_INSULATION_V, 1.25)},
    Sort.COIL: {Load.AMPS: Series(_COILS_A), Load.VOLTS: Series(_INSULATION_V, 1.25)},
    Sort.TRANSFORMER: {
        Load.AMPS: Series(_COILS_A, 1 / coils.FULL.value),
        Load.VOLTS: Series(_INSULATION_V, 1.25),
    },
    Sort.OUTPUT: {Load.AMPS: Series(_COILS_A)},
    Sort.TUBE: {},
    Sort.TRANSISTOR: {},
    Sort.FUSE: _FUSES,
    Sort.FAST_FUSE: _FUSES,
    Sort.SWITCH: {
        Load.VOLTS: Series((30.0, 60.0, 125.0, 250.0, 400.0, 500.0, 600.0)),
        Load.AMPS: Series(_CONTACTS_A, 1.5),
    },
    Sort.JACK: {Load.VOLTS: Series((60.0, 125.0, 250.0, 500.0))},
    Sort.LAMP: {},
    Sort.METER: {},
    Sort.ARRESTER: {},
    Sort.CRYSTAL: {},
    Sort.THYRISTOR: {},
    Sort.BARRETTER: {},
    Sort.PHOTOCELL: {},
    Sort.THERMISTOR: {Load.AMPS: Series((0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 8.0, 10.0))},
    Sort.SPEAKER: {
        Load.WATTS: Series((1.0, 2.0, 3.0, 5.0, 10.0, 15.0, 20.0, 30.0, 50.0, 100.0), 1.25)
    },
    Sort.SOURCE: {Load.AMPS: Series(_COILS_A, 1.2)},
}
"""All common practice: what shops have. ``times`` are the margins that the rules' remedies ask."""

_INSTEAD: Mapping[tuple[Sort, Symbol], Load] = {
    (Sort.RESISTOR, "V"): Load.WATTS,
    (Sort.CONTROL, "A"): Load.WATTS,
    (Sort.ZENER, "A"): Load.WATTS,
    (Sort.FUSE, ""): Load.AMPS,
}
"""Where another rating helps: a larger body stands more volts. A slow fuse that does not stand the
stroke at switch-on may be larger; a fast one is the wrong one."""


def load_for(sort: Sort, unit: Symbol) -> Load | None:
    """The rating to raise where a figure in this unit is beyond its limit; ``None``: none helps."""
    load = _INSTEAD.get((sort, unit)) or next((x for x in Load if x.value == unit), None)
    return load if load in SERIES[sort] else None
