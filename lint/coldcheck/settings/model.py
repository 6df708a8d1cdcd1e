"""Settings as data: what holds for one drawing, and where each value came from."""

from __future__ import annotations

from dataclasses import field
from hashlib import sha256
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from coldcheck.circuit.usual import USUAL
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from coldcheck.circuit.tubes import TubeType
    from coldcheck.circuit.usual import Usual
    from coldcheck.drawing.units import Quantity


def _nothing() -> Mapping[str, Any]:
    return MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a value was set: the file, and the key in it."""

    file: Path
    key: str

    @property
    def short(self) -> str:
        """Without the folder: one settings file governs a drawing, so its name says which."""
        return f"{self.file.name}, {self.key}"


@dataclass(frozen=True, slots=True)
class Settings:
    """What holds for one drawing; without a settings file, the defaults.

    gate
        The mildest level that holds the drawing.
    undecided
        What becomes of a drawing that could not be decided: ``held`` or ``let through``.
    off
        Rule or family of rules that is not to run -> the reason given.
    mains_voltage, mains_frequency
        Taken for a drawing with a mains transformer (or the landmark ``line``) and no ``mains``
        line; ``None`` (both) where nothing was set.
    usual
        Taken for whatever states no tolerance, the mains among them.
    data, types
        Folders of the project's own tube data, and the types in them by accepted name.
    instruments
        As it stands in the file; what reads it checks it.
    origins
        Key (``gate``, ``off.signal``, ``tolerance.resistor``) -> where it was set; a key that is
        not in it has its default.
    """

    gate: str = "notice"
    undecided: str = "held"
    off: Mapping[str, str] = field(default_factory=_nothing)
    mains_voltage: Quantity | None = None
    mains_frequency: Quantity | None = None
    usual: Usual = USUAL
    data: tuple[Path, ...] = ()
    types: Mapping[str, TubeType] = field(default_factory=_nothing, repr=False)
    instruments: Any = None
    origins: Mapping[str, Origin] = field(default_factory=_nothing)

    def off_entry(self, rule: str) -> str | None:
        """The entry of ``off`` that a rule falls under: its own, else its family's."""
        return next((e for e in (rule, rule.partition(".")[0]) if e in self.off), None)

    def source(self, key: str) -> str:
        """File and key a value came from, in few words; ``default`` where it was not set."""
        origin = self.origins.get(key)
        return "default" if origin is None else origin.short

    def fingerprint(self) -> str:
        """64 hex digits: the same whenever a review under these settings must find the same.

        Made of everything a review depends on, tube data included, with the file's name and keys
        (the report names them) but not its folder. The gate is left out: it is applied to what
        was found. So are instruments: a review has none.
        """
        volts = None if self.mains_voltage is None else float(self.mains_voltage.m_as("volt"))
        hertz = None if self.mains_frequency is None else float(self.mains_frequency.m_as("hertz"))
        apart = ("gate", "undecided", "instruments")
        said = sorted((k, o.short) for k, o in self.origins.items() if k not in apart)
        off, types = sorted(self.off.items()), sorted(self.types.items())
        parts = ("settings/2", off, volts, hertz, self.usual, types, said)
        return sha256(repr(parts).encode("utf-8")).hexdigest()


DEFAULTS = Settings()


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong in a settings file or in tube data it names.

    ``key`` is empty for the file as a whole; ``hint`` may be empty.
    """

    file: Path
    key: str
    found: str
    expected: str
    hint: str = ""

    def line(self, file: str | None = None) -> str:
        """All of it in one plain line; ``file`` is how the file is to be called."""
        file = str(self.file) if file is None else file
        where = f"{file}: {self.key}" if self.key else file
        hint = f"; {self.hint}" if self.hint else ""
        return f"{where}: found {self.found}; expected {self.expected}{hint}"


class SettingsError(ValueError):
    """Settings that cannot be used; ``faults`` has all of them, not only the first."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        super().__init__("\n".join(f.line() for f in faults))
        self.faults = faults
