"""What a tube type must hold beyond being readable: the pins and figures its laws are made of."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, assert_never

from coldcheck.circuit.tubes_types import SectionKind

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.circuit.tubes_types import SectionType, TubeType

_GRID = ("grid-perveance", "grid-offset", "grid-width")
_SPACE = (
    *("amplification", "exponent", "perveance"),
    *("cut-off-sharpness", "softening", "contact-potential"),
    *("tail-part", "tail-reach"),
    *_GRID,
)
_SCREEN = (
    *_SPACE,
    *("penetration", "knee"),
    *("screen-part", "screen-fall", "screen-focus"),
)
LAW_PARAMETERS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "triode": _SPACE,
        "pentode": _SCREEN,
        "converter": (*_SCREEN, "steer-centre", "steer-width"),
        "rectifier": ("perveance",),
        "regulator": ("start", "operating", "slope", "least", "most"),
    }
)
"""Form of a law -> the parameters :mod:`coldcheck.solve.tubes.laws` reads."""


def law_form(kind: SectionKind) -> str | None:
    """The form of law a section of that kind has, or ``None`` where there is none for it."""
    match kind:
        case SectionKind.TRIODE | SectionKind.INDICATOR:
            return "triode"
        case SectionKind.PENTODE | SectionKind.MIXER:
            return "pentode"
        case SectionKind.CONVERTER:
            return "converter"
        case SectionKind.RECTIFIER | SectionKind.DIODE:
            return "rectifier"
        case SectionKind.REGULATOR:
            return "regulator"
        case SectionKind.THYRATRON | SectionKind.BEAM | SectionKind.UNKNOWN:
            return None
        case _:
            assert_never(kind)


_ENDS = MappingProxyType({"indirect": ("h1", "h2"), "filament": ("f1", "f2"), "cold": ()})


def electrodes(kind: SectionKind) -> tuple[str, ...]:
    """The electrodes a section cannot be without, besides its cathode and some plate."""
    match kind:
        case SectionKind.TRIODE:
            return ("plate", "grid")
        case SectionKind.PENTODE:
            return ("plate", "grid", "screen")
        case SectionKind.CONVERTER:
            return ("plate", "grid", "screen")
        case SectionKind.MIXER:
            return ("plate", "grid", "screen", "grid3")
        case SectionKind.INDICATOR:
            return ("plate", "grid", "target")
        case SectionKind.REGULATOR | SectionKind.THYRATRON | SectionKind.DIODE:
            return ("plate",)
        case SectionKind.BEAM:
            return ("grid",)
        case SectionKind.RECTIFIER | SectionKind.UNKNOWN:
            return ()
        case _:
            assert_never(kind)


def faults(kind: TubeType, *, fitted: bool = True) -> Iterator[tuple[str, str]]:
    """(key, reason) of everything that would keep the type from being wired or solved.

    A file whose law is still to be ``fitted`` may be without one, or have an old one.
    """
    heater = {electrode for _, electrode in kind.pins.values()}
    ends = list(_ENDS[kind.cathode])
    if any(way.mode == "parallel" for way in kind.heaters):
        ends.append("tap")
    for end in ends:
        if end not in heater and end != kind.cathode_heater:
            yield "pins", f"no pin is {end}"
    for section in kind.sections:
        yield from _section_faults(kind, section)
        if fitted:
            yield from _law_faults(section)


def _section_faults(kind: TubeType, section: SectionType) -> Iterator[tuple[str, str]]:
    name = _named(section)
    needed = list(electrodes(section.kind))
    if kind.cathode != "filament":
        needed.append("cathode")
    for electrode in needed:
        if electrode not in section.electrodes:
            yield "pins", f"{name} is a {section.kind.value} without a pin for its {electrode}"
    if section.kind is SectionKind.CONVERTER and not signal_grid(section):
        yield "pins", f"{name} is a converter without a pin for its signal grid"
    if not any(e.startswith("plate") for e in section.electrodes):
        yield "pins", f"{name} has no pin for its plate"


def signal_grid(section: SectionType) -> str | None:
    """The grid of a converter that the signal is on: the third, or the fourth of a 6A8."""
    return next((e for e in ("grid3", "grid4") if e in section.electrodes), None)


def _named(section: SectionType) -> str:
    return f"section {section.name}".rstrip()


def _law_faults(section: SectionType) -> Iterator[tuple[str, str]]:
    name = _named(section)
    if section.law is None:
        return
    if section.law.form != law_form(section.kind):
        yield f"{name}.law.form", f"{section.law.form} does not go with a {section.kind.value}"
        return
    missing = [p for p in LAW_PARAMETERS[section.law.form] if p not in section.law.parameters]
    if missing:
        yield f"{name}.law.parameters", f"missing: {', '.join(missing)}"
