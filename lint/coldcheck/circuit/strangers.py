"""A tube of a type that is not on file: its sections and electrodes are those the drawing wires."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from coldcheck.circuit.leads import CAP, SPELLINGS
from coldcheck.circuit.tubes_parse import ELECTRODES, HEATER_ENDS
from coldcheck.circuit.tubes_types import DEFLECTION, SectionKind, SectionType, TubeType
from coldcheck.drawing.model import Chain

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.drawing.model import Drawing, Point

PIN = "pin"
_SECTIONS = ("", "A", "B")
_MEANT = {word: lead for lead, words in SPELLINGS.items() if lead in ELECTRODES for word in words}
_WORDS = {
    **{lead: lead for lead in (*ELECTRODES, "shield")},
    **{word: lead for word, lead in _MEANT.items() if word not in HEATER_ENDS},
    "g3": "suppressor",
    "g2": "screen",
}


def stranger(name: str, type_name: str, drawing: Drawing) -> TubeType:
    """The type of tube ``name``, made from the leads and pins that are written of it."""
    leads: dict[tuple[str, str], None] = {}
    numbers: dict[str, None] = {}
    for section, point in _written(name, drawing):
        if point.pin is not None or (point.lead or "").casefold() == CAP:
            numbers[(point.pin or CAP).casefold()] = None
        elif (electrode := _WORDS.get((point.lead or "").casefold())) is not None:
            own = "" if electrode in (*HEATER_ENDS, "shield") else section
            leads[own, electrode] = None
    filament = ("", "f1") in leads and not any(e == "cathode" for _, e in leads)
    pins = {f"{s}.{e}".lstrip("."): (s, e) for s, e in leads}
    pins |= {number: ("", f"{PIN}{number}") for number in numbers}
    return TubeType(
        name=type_name, also=(), group="unknown", description="a type that is not on file",
        base="not on file", cathode="filament" if filament else "indirect",
        pins=MappingProxyType(pins), heaters=(), cathode_heater=None, jumpers=(),
        sections=tuple(_sections(list(leads), list(numbers), filament)),
        ratings=MappingProxyType({}), rating_system="", notes=(), points=(),
        pins_known=False, stranger=True,
    )  # fmt: skip


def _written(name: str, drawing: Drawing) -> Iterator[tuple[str, Point]]:
    """(section, point) of every lead and pin that a wire is drawn to."""
    owners = {name + s: s for s in _SECTIONS}
    for statement in drawing.statements:
        for point in statement.points if isinstance(statement, Chain) else ():
            if point is not None and point.owner in owners:
                yield owners[point.owner], point


def _sections(
    leads: list[tuple[str, str]], numbers: list[str], filament: bool
) -> Iterator[SectionType]:
    """A section for each letter that is written, and one for what goes by number alone.

    Each has a plate and a cathode, wired or not: rules ask for them.
    """
    ends = ("f1", "f2") if filament else ("cathode",)
    named = sorted({s for s, e in leads if e not in (*HEATER_ENDS, "shield")})
    for section in named or [""]:
        own = [e for s, e in leads if s == section and e not in (*HEATER_ENDS, "shield", "cathode")]
        pins = [f"{PIN}{n}" for n in numbers] if section == "" else []
        plate = [] if any(e.startswith("plate") for e in own) else ["plate"]
        kind = SectionKind.UNKNOWN if pins or not own else _kind(own)
        yield SectionType(section, kind, (*plate, *own, *pins, *ends), None)
    if numbers and named and "" not in named:
        pins = [f"{PIN}{n}" for n in numbers]
        yield SectionType("", SectionKind.UNKNOWN, ("plate", *pins, *ends), None)


def _kind(electrodes: list[str]) -> SectionKind:
    """What a section seems to be, by the electrodes that are wired."""
    if "target" in electrodes and "grid" in electrodes:
        return SectionKind.INDICATOR
    if not set(DEFLECTION).isdisjoint(electrodes):
        return SectionKind.BEAM
    if "grid" not in electrodes:
        return SectionKind.RECTIFIER
    return SectionKind.PENTODE if "screen" in electrodes else SectionKind.TRIODE
