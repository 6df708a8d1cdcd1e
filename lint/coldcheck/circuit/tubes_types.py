"""What the library knows about a tube type. Plain data; every number carries its source."""

from __future__ import annotations

from dataclasses import field, replace
from enum import Enum
from types import MappingProxyType
from typing import TYPE_CHECKING, assert_never

from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Mapping

    from coldcheck.drawing.units import Quantity

RATING_NAMES: Mapping[str, str] = MappingProxyType(
    {
        "plate-voltage": "volt",
        "plate-dissipation": "watt",
        "plate-dissipation-both": "watt",
        "screen-voltage": "volt",
        "screen-dissipation": "watt",
        "cathode-current": "ampere",
        "grid-leak-fixed-bias": "ohm",
        "grid-leak-cathode-bias": "ohm",
        "heater-negative-peak": "volt",
        "heater-negative-dc": "volt",
        "heater-positive-peak": "volt",
        "heater-positive-dc": "volt",
        "heater-voltage-tolerance": "percent",
        "supply-rms-capacitor-input": "volt",
        "supply-rms-choke-input": "volt",
        "inverse-voltage": "volt",
        "rectifier-current": "ampere",
        "peak-plate-current": "ampere",
        "first-capacitor": "farad",
        "starting-supply": "volt",
        "starting-voltage": "volt",
        "operating-voltage": "volt",
        "operating-voltage-minimum": "volt",
        "operating-voltage-maximum": "volt",
        "minimum-current": "ampere",
        "maximum-current": "ampere",
        "regulation": "volt",
    }
)
"""Rating name -> unit: the words of the data files and of a drawing's ``rating`` lines.

Per section unless the name says "both"; ``rectifier-current`` is the dc of the whole tube,
``peak-plate-current`` that of one plate; the ``heater-`` voltages are of the heater with respect
to the cathode; ``regulation`` is the change of the maintained voltage from the minimum to the
maximum current; ``starting-supply`` is the least supply that is sure to start a gas tube.
"""

POINT_UNITS: Mapping[str, str] = MappingProxyType(
    {
        "plate-voltage": "volt",
        "screen-voltage": "volt",
        "grid-voltage": "volt",
        "cathode-resistor": "ohm",
        "plate-current": "ampere",
        "screen-current": "ampere",
        "transconductance": "siemens",
        "plate-resistance": "ohm",
        "amplification-factor": "",
        "load": "ohm",
        "output-power": "watt",
    }
)
"""Field of a published operating point -> unit (the amplification factor has none).

For a rectifier a point is its published drop: ``plate-voltage`` at ``plate-current``, per plate.
"""

CONFIDENCES = ("found", "memory", "derived", "drawing")
"""``found``: read in a document; ``memory``: recalled from the named sheet, not looked up;
``derived``: computed or taken over from another figure; ``drawing``: said by the drawing."""

VACUUM = "vacuum"


class SectionKind(Enum):
    """What a tube's section is for: it sets its law, its electrodes and its ratings."""

    TRIODE = "triode"
    PENTODE = "pentode"
    CONVERTER = "converter"
    RECTIFIER = "rectifier"
    REGULATOR = "regulator"

    @property
    def amplifies(self) -> bool:
        """Whether a grid steers its current; else it passes current one way by itself."""
        match self:
            case SectionKind.TRIODE | SectionKind.PENTODE | SectionKind.CONVERTER:
                return True
            case SectionKind.RECTIFIER | SectionKind.REGULATOR:
                return False
            case _:
                assert_never(self)


UNREAD_RATINGS = ("operating-voltage-minimum", "operating-voltage-maximum")
"""What data files tell of gas tubes and no rule goes by: refused in ``rating`` lines."""


@dataclass(frozen=True, slots=True)
class Sourced:
    """One number in SI units with where it comes from and how sure that is."""

    value: float
    unit: str
    source: str
    confidence: str

    def quantity(self) -> Quantity:
        """The number as a pint quantity of the project's registry."""
        from coldcheck.drawing.units import quantity

        return quantity(self.value, self.unit)


@dataclass(frozen=True, slots=True)
class HeaterWay:
    """One way to wire the heater, with rated volts and amperes.

    ``mode`` is ``single`` (h1 to h2), ``series`` (h1 to h2, the tap unused) or ``parallel``
    (h1 and h2 together against the tap).
    """

    mode: str
    volts: Sourced
    amps: Sourced


@dataclass(frozen=True, slots=True)
class LawData:
    """The fitted law of a section.

    ``form`` is ``triode``, ``pentode``, ``rectifier`` or ``regulator``; ``parameters`` are SI
    numbers named in `laws`. Each residual maps ``point`` (its description),
    and ``<figure>-published``, ``<figure>-predicted`` to SI numbers.
    """

    form: str
    parameters: Mapping[str, float]
    residuals: tuple[Mapping[str, float | str], ...] = ()


@dataclass(frozen=True, slots=True)
class SectionType:
    """One system of the tube: ``name`` is "" when it is the only one, else "A" or "B".

    ``electrodes`` are the active ones that have a pin of their own. A directly heated tube lists
    ``f1`` and ``f2`` in place of ``cathode``: its cathode is the mean of the two.
    """

    name: str
    kind: SectionKind
    electrodes: tuple[str, ...]
    law: LawData | None


@dataclass(frozen=True, slots=True)
class TubeType:
    """A tube type. A rating that is not on file is absent, never guessed.

    pins
        Pin -> (section, electrode); ``"cap"`` is the top cap; the heater's section is "".
    cathode_heater
        The heater end the cathode is joined to inside the tube (5AR4: ``h2``); they share a pin.
    jumpers
        Pairs of pins joined inside the tube (the interlock of the octal gas regulators).
    supply_resistance
        (volts rms per plate, least ohms per plate) pairs, ascending, for capacitor input.
    filling
        Of a rectifier: ``vacuum``, ``mercury`` (its vapour) or ``gas``.
    points
        Published operating points, field names as in :data:`POINT_UNITS`, plus the text fields
        ``note`` and ``doubtful`` (names of the fields that are poorly known).
    """

    name: str
    also: tuple[str, ...]
    group: str
    description: str
    base: str
    cathode: str
    pins: Mapping[str, tuple[str, str]]
    heaters: tuple[HeaterWay, ...]
    cathode_heater: str | None
    jumpers: tuple[tuple[str, str], ...]
    sections: tuple[SectionType, ...]
    ratings: Mapping[str, Sourced]
    rating_system: str
    notes: tuple[str, ...]
    points: tuple[Mapping[str, Sourced | str], ...]
    supply_resistance: tuple[tuple[float, float], ...] = ()
    supply_resistance_source: str = ""
    pins_source: str = ""
    sources: Mapping[str, str] = field(default_factory=dict)
    filling: str = VACUUM

    def rating(self, name: str) -> Sourced | None:
        """A rating, or ``None`` where none is on file; KeyError for a name that is no rating."""
        if name not in RATING_NAMES:
            raise KeyError(name)
        return self.ratings.get(name)

    def section(self, name: str = "") -> SectionType:
        """The section of that name; raises KeyError."""
        for section in self.sections:
            if section.name == name:
                return section
        raise KeyError(name)

    def with_ratings(self, name: str, ratings: Mapping[str, Sourced]) -> TubeType:
        """A copy under another name with some ratings replaced or added.

        Raises KeyError for a name that is no rating and ValueError for a unit that does not
        belong to it.
        """
        for key, given in ratings.items():
            if given.unit != RATING_NAMES[key]:
                raise ValueError(f"{key} is given in {given.unit}, not in {RATING_NAMES[key]}")
        merged = MappingProxyType({**self.ratings, **ratings})
        return replace(self, name=name, also=(), ratings=merged)
