"""What the library knows about a tube type. Plain data; every number carries its source."""

from __future__ import annotations

from dataclasses import field, replace
from enum import Enum
from types import MappingProxyType
from typing import TYPE_CHECKING, assert_never

from coldcheck.records import dataclass
from coldcheck.sources.register import Cited, of_tube_data

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
        "screen-amplification-factor": "",
        "target-voltage": "volt",
        "target-current": "ampere",
        "grid2-voltage": "volt",
        "grid2-current": "ampere",
        "load": "ohm",
        "output-power": "watt",
        "driven-screen-current": "ampere",
    }
)
"""Field of a published operating point -> unit (the amplification factor has none).

``grid2`` is the oscillator's plate of a 6A8. For a rectifier a point is its published drop:
``plate-voltage`` at ``plate-current``, per plate. ``driven-screen-current`` is the mean at maximum
signal into ``load``: of one tube by itself, at a fixed bias, its grid driven to its cathode.
"""

TWO_RECALLS, ONE_RECALL = "memory (two recalls agreeing)", "memory (one recall)"
CONFIDENCES = ("found", "memory", TWO_RECALLS, ONE_RECALL, "derived", "drawing")
"""``found``: read in a document; ``memory``: recalled from the named sheet, not looked up, of the
later types with how many independent recalls there were; ``derived``: computed or taken over from
another figure; ``drawing``: said by the drawing."""

SIGNAL_GRIDS = ("grid", "grid3", "grid4")
DEFLECTION = ("x1", "x2", "y1", "y2")
"""The deflection plates of a cathode-ray tube."""

CONTROL = (*SIGNAL_GRIDS, "suppressor", "deflector", "deflector2", "starter", *DEFLECTION)
"""Electrodes that steer a current, or nothing, and take none to speak of themselves."""

CAPACITANCE_NAMES = ("grid-plate", "input", "output")
"""Between the electrodes of a section, farad, without an external shield."""

VACUUM = "vacuum"


class SectionKind(Enum):
    """What a tube's section is for: it sets its law, its electrodes and its ratings."""

    TRIODE = "triode"
    PENTODE = "pentode"
    CONVERTER = "converter"
    """Its first grid oscillates, the third (or fourth) has the signal: 6SA7, 6A8."""
    MIXER = "mixer"
    """Its first grid has the signal, the third an oscillator's voltage: 6L7, the ECH81's B."""
    INDICATOR = "indicator"
    """A triode with a target of its own: 6E5."""
    THYRATRON = "thyratron"
    """A grid or starter lets it strike and steers nothing after that."""
    DIODE = "diode"
    """A detector with a cathode of its own: 6AL5."""
    RECTIFIER = "rectifier"
    REGULATOR = "regulator"
    BEAM = "beam"
    """A cathode-ray tube: a gun, and plates that bend its beam and draw nothing."""
    UNKNOWN = "unknown"
    """Nothing is known of it but where it is wired."""

    @property
    def amplifies(self) -> bool:
        """Whether a grid steers its current; else it passes current one way by itself."""
        match self:
            case (
                SectionKind.TRIODE | SectionKind.PENTODE | SectionKind.CONVERTER
                | SectionKind.MIXER | SectionKind.INDICATOR
            ):  # fmt: skip
                return True
            case (
                SectionKind.RECTIFIER | SectionKind.REGULATOR | SectionKind.DIODE
                | SectionKind.THYRATRON | SectionKind.BEAM | SectionKind.UNKNOWN
            ):  # fmt: skip
                return False
            case _:
                assert_never(self)


UNREAD_RATINGS = ("operating-voltage-minimum", "operating-voltage-maximum")
"""What data files tell of gas tubes and no rule goes by: refused in ``rating`` lines."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """Where data come from: in the words of their file, and how sure that is."""

    source: str
    confidence: str

    @property
    def cited(self) -> Cited:
        """In words, with the entries of the register that the words name."""
        return Cited(
            f"{self.confidence}: {self.source}", of_tube_data(self.source, self.confidence)
        )


@dataclass(frozen=True, slots=True)
class Sourced:
    """One number in SI units with where it comes from and how sure that is."""

    value: float
    unit: str
    source: str
    confidence: str

    @property
    def sheet(self) -> Sheet:
        """Where it comes from."""
        return Sheet(self.source, self.confidence)

    @property
    def cited(self) -> Cited:
        """The same for a finding: how sure it is comes last."""
        return Cited(f"{self.source} ({self.confidence})", self.sheet.cited.cites)

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
    and ``<figure>-published``, ``<figure>-predicted`` to SI numbers. ``off`` is how far the plate
    current is usually off between the published points, a share (from points left out of the fit).
    """

    form: str
    parameters: Mapping[str, float]
    residuals: tuple[Mapping[str, float | str], ...] = ()
    off: float = 0.0


@dataclass(frozen=True, slots=True)
class SectionType:
    """One system of the tube: ``name`` is "" when it is the only one, else "A" or "B".

    ``electrodes`` are the active ones that reach a pin, alone or with another section's. A
    directly heated tube lists ``f1`` and ``f2`` in place of ``cathode``: its cathode is the mean
    of the two.
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
        ``note``, ``doubtful`` (names of the fields that are poorly known) and ``section`` (the
        name of the section it is of, where they are unequal).
    pins_known
        Whether the numbers of the pins are; else ``pins`` has the electrodes by their names.
    stranger
        Whether the type is not on file: all that is here is what the drawing wires.
    like
        Of a type a drawing makes from another: what it changes and what it keeps, in a sentence.
    joined
        (section, electrode) -> the one it shares a pin with: the second cathode of a 6SC7.
    ratings_of
        Section -> the ratings that are its own, where sections are unequal.
    capacitances
        Section ("" for all) -> :data:`CAPACITANCE_NAMES` -> farad.
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
    supply_resistance_source: Sheet | None = None
    pins_source: Sheet | None = None
    sources: Mapping[str, Sheet] = field(default_factory=dict)
    filling: str = VACUUM
    pins_known: bool = True
    stranger: bool = False
    like: str = ""
    joined: Mapping[tuple[str, str], tuple[str, str]] = field(default_factory=dict)
    ratings_of: Mapping[str, Mapping[str, Sourced]] = field(default_factory=dict)
    capacitances: Mapping[str, Mapping[str, Sourced]] = field(default_factory=dict)

    def rating(self, name: str, section: str = "") -> Sourced | None:
        """A rating, or ``None`` where none is on file; KeyError for a name that is no rating.

        Unequal sections have their own; asked without a section, such a rating has no answer.
        """
        if name not in RATING_NAMES:
            raise KeyError(name)
        own = self.ratings_of.get(section, {})
        return own.get(name, self.ratings.get(name))

    def points_of(self, section: str) -> tuple[Mapping[str, Sourced | str], ...]:
        """The published points of one section; where all are alike, all of them."""
        return tuple(p for p in self.points if p.get("section", section) == section)

    @property
    def tapped(self) -> bool:
        """Whether the heater has a tap that can be wired."""
        return ("", "tap") in self.pins.values()

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
