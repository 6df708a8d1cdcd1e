"""Types of transistors and three-terminal regulators on file, each figure with where it is from."""

from __future__ import annotations

from dataclasses import replace
from enum import Enum
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, assert_never

from coldcheck.circuit.tubes_types import Sourced
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Mapping

FIGURES: Mapping[str, str] = MappingProxyType(
    {
        "drain-source-voltage": "volt",
        "gate-source-voltage": "volt",
        "drain-current": "ampere",
        "gate-drain-voltage": "volt",
        "gate-current": "ampere",
        "cut-off-low": "volt",
        "cut-off-high": "volt",
        "zero-bias-current-low": "ampere",
        "zero-bias-current-high": "ampere",
        "collector-emitter-voltage": "volt",
        "emitter-base-voltage": "volt",
        "collector-current": "ampere",
        "gain-low": "",
        "gain-high": "",
        "base-emitter-voltage": "volt",
        "base-emitter-current": "ampere",
        "output-voltage": "volt",
        "output-tolerance": "percent",
        "input-voltage": "volt",
        "input-output-voltage": "volt",
        "output-current": "ampere",
        "dropout-voltage": "volt",
        "quiescent-current": "ampere",
        "minimum-load": "ampere",
        "dissipation": "watt",
        "threshold-low": "volt",
        "threshold-high": "volt",
        "on-resistance": "ohm",
        "transconductance": "siemens",
        "transconductance-current": "ampere",
        "junction-case": "kelvin_per_watt",
        "junction-ambient": "kelvin_per_watt",
    }
)
"""Figure of a type -> its unit: the words of the file and of a drawing's ``rating`` lines.

Of a p-channel or PNP type all are positive, its leads being taken the other way round.
``dissipation`` is for a case held at 25 degrees Celsius, in a case without a tab for free air;
``on-resistance`` for 10 V at the gate, 0 V of a depletion type. Of a JFET ``cut-off`` is how far
the gate is from the source where the drain's current ends, ``zero-bias-current`` what flows with
both at one place, and ``gate-current`` what may flow in at the gate. Of a regulator
``output-voltage`` is that from its output to its third lead, ``quiescent-current`` what flows out
there, and ``dropout-voltage`` is for the rated output current.
"""

SOURCE = "maker's data sheet"


class Family(Enum):
    """What a type is: it sets its leads, its law and its figures."""

    N_MOSFET = "n-channel MOSFET"
    P_MOSFET = "p-channel MOSFET"
    N_JFET = "n-channel JFET"
    P_JFET = "p-channel JFET"
    NPN = "NPN transistor"
    PNP = "PNP transistor"
    FIXED = "fixed regulator"
    NEGATIVE_FIXED = "negative fixed regulator"
    ADJUSTABLE = "adjustable regulator"
    NEGATIVE_ADJUSTABLE = "negative adjustable regulator"

    @property
    def leads(self) -> tuple[str, str, str]:
        """Where the current goes in, where it comes out, and what steers it (p: the reverse)."""
        match self:
            case Family.N_MOSFET | Family.P_MOSFET | Family.N_JFET | Family.P_JFET:
                return ("drain", "source", "gate")
            case Family.NPN | Family.PNP:
                return ("collector", "emitter", "base")
            case Family.FIXED | Family.NEGATIVE_FIXED:
                return ("in", "out", "common")
            case Family.ADJUSTABLE | Family.NEGATIVE_ADJUSTABLE:
                return ("in", "out", "adj")
            case _:
                assert_never(self)

    @property
    def volts(self) -> str:
        """The figure that says what the path of its current stands, or a JFET's gate, volts."""
        match self:
            case Family.N_MOSFET | Family.P_MOSFET:
                return "drain-source-voltage"
            case Family.N_JFET | Family.P_JFET:
                return "gate-drain-voltage"
            case Family.NPN | Family.PNP:
                return "collector-emitter-voltage"
            case Family.FIXED | Family.NEGATIVE_FIXED:
                return "input-voltage"
            case Family.ADJUSTABLE | Family.NEGATIVE_ADJUSTABLE:
                return "input-output-voltage"
            case _:
                assert_never(self)

    @property
    def amps(self) -> str:
        """The figure that says what it may carry, a JFET at its gate, amperes."""
        match self:
            case Family.N_MOSFET | Family.P_MOSFET:
                return "drain-current"
            case Family.N_JFET | Family.P_JFET:
                return "gate-current"
            case Family.NPN | Family.PNP:
                return "collector-current"
            case (
                Family.FIXED | Family.NEGATIVE_FIXED
                | Family.ADJUSTABLE | Family.NEGATIVE_ADJUSTABLE
            ):  # fmt: skip
                return "output-current"
            case _:
                assert_never(self)

    @property
    def sign(self) -> int:
        """1, or -1 where all its voltages and currents are the other way round."""
        negative = (Family.NEGATIVE_FIXED, Family.NEGATIVE_ADJUSTABLE)
        return -1 if self in (Family.P_MOSFET, Family.P_JFET, Family.PNP, *negative) else 1

    @property
    def fixed(self) -> bool:
        """Whether it is a regulator that keeps its output from its common lead."""
        return self in (Family.FIXED, Family.NEGATIVE_FIXED)

    @property
    def adjustable(self) -> bool:
        """Whether it is a regulator whose output two resistors set."""
        return self in (Family.ADJUSTABLE, Family.NEGATIVE_ADJUSTABLE)

    @property
    def regulates(self) -> bool:
        """Whether it is a regulator: what steers it is the voltage from its output."""
        return self.fixed or self.adjustable

    @property
    def insulated(self) -> bool:
        """Whether what steers it takes no current."""
        return self in (Family.N_MOSFET, Family.P_MOSFET)

    @property
    def junction(self) -> bool:
        """Whether what steers it is a junction that is meant to block."""
        return self in (Family.N_JFET, Family.P_JFET)

    @property
    def gated(self) -> bool:
        """Whether it has a gate, which takes no current where all is well."""
        return self.insulated or self.junction

    @property
    def bipolar(self) -> bool:
        """Whether what steers it is the current into a base."""
        return self in (Family.NPN, Family.PNP)


@dataclass(frozen=True, slots=True, eq=False)
class TransistorType:
    """A type; a figure that is not on file is absent, never guessed."""

    name: str
    family: Family
    case: str
    figures: Mapping[str, Sourced]

    def figure(self, name: str) -> Sourced | None:
        """A figure of :data:`FIGURES`."""
        return self.figures.get(name)

    @property
    def depletion(self) -> bool:
        """Whether it conducts with its gate at its source."""
        low = self.figure("threshold-low")
        return low is not None and low.value < 0

    @property
    def conducts_at_rest(self) -> bool:
        """Whether it conducts with no volts anywhere, as an ohmmeter finds it."""
        return self.depletion or self.family.junction

    @property
    def open_ohms(self) -> float | None:
        """The resistance of a channel that conducts at rest, in the middle of its copies, ohms.

        Of a JFET the slope of its square law at nothing, cut-off over twice the current there.
        """
        ends = [self.figures.get(f"{name}-{end}") for name in ("cut-off", "zero-bias-current")
                for end in ("low", "high")]  # fmt: skip
        volts = [f.value for f in ends[:2] if f is not None]
        amps = [f.value for f in ends[2:] if f is not None]
        if self.family.junction:
            return sum(volts) / (2 * sum(amps)) if len(volts + amps) == len(ends) else None
        found = self.figure("on-resistance") if self.depletion else None
        return None if found is None else found.value

    def with_figures(self, name: str, given: Mapping[str, Sourced]) -> TransistorType:
        """The same under another name, some figures being other ones."""
        return replace(self, name=name, figures=MappingProxyType({**self.figures, **given}))


@lru_cache(maxsize=1)
def transistor_types() -> Mapping[str, TransistorType]:
    """All types on file by their names, in capitals."""
    import tomllib

    text = Path(__file__).with_name("transistors.toml").read_text(encoding="utf-8")
    return MappingProxyType(
        {name: _type(name, entry) for name, entry in tomllib.loads(text).items()}
    )


def _type(name: str, entry: Mapping[str, str | float]) -> TransistorType:
    figures = {
        key: Sourced(float(entry[key]), unit, f"{SOURCE}, {name}", "memory")
        for key, unit in FIGURES.items()
        if key in entry
    }
    family = Family(entry["family"])
    return TransistorType(name, family, str(entry["case"]), MappingProxyType(figures))
