"""A type that a drawing makes from another: what it changes, and what is kept."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING

from coldcheck.circuit.leads import SPELLINGS, spelled
from coldcheck.circuit.problems import listed
from coldcheck.circuit.tubes_parse import ELECTRODES, IDLE_PINS
from coldcheck.circuit.tubes_types import HeaterWay, Sheet, Sourced

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.circuit.tubes_types import TubeType
    from coldcheck.drawing.model import TypeLine

_WORDS = {
    **{word: lead for lead, words in SPELLINGS.items() if lead in ELECTRODES for word in words},
    "shell": "shield",
    "g3": "suppressor",
    **{lead: lead for lead in (*ELECTRODES, *IDLE_PINS)},
}
Pins = dict[str, tuple[str, str]]


class Unlike(ValueError):  # noqa: N818 - named for what the user meets
    """What a line says of a type that does not go with the one it is like."""

    def __init__(self, found: str, expected: str) -> None:
        super().__init__(f"{found}: {expected}")
        self.found, self.expected = found, expected


def made_like(
    kind: TubeType, line: TypeLine, ratings: Mapping[str, Sourced], where: str
) -> TubeType:
    """The type of a line. Raises Unlike.

    ``where`` is what its own figures are said to be from.
    """
    found = kind.with_ratings(line.name, ratings)
    said = {
        "heater": line.heater is not None,
        "base": line.base is not None,
        "pins": line.pins is not None,
        "some ratings": bool(ratings),
    }
    if line.heater is not None:
        found = replace(found, heaters=(_heater(kind, line, where),))
    if line.base is not None:
        found = replace(found, base=line.base)
    if line.pins is not None:
        pins = MappingProxyType(_pins(kind, line.pins))
        source = Sheet(where, "drawing")
        found = replace(found, pins=pins, pins_known=True, jumpers=(), pins_source=source)
    return replace(found, like=_told(line, said))


def _told(line: TypeLine, said: Mapping[str, bool]) -> str:
    own = [what for what, changed in said.items() if changed]
    kept = [what for what, changed in said.items() if not changed and what != "some ratings"]
    kept.append("the other ratings" if said["some ratings"] else "ratings")
    changes = f"from the drawing: {listed(own)}; " if own else ""
    return f"{line.name} is like {line.like}; {changes}kept: {listed([*kept, 'law'])}"


def _heater(kind: TubeType, line: TypeLine, where: str) -> HeaterWay:
    if kind.cathode == "cold":
        raise Unlike("heater", f"{line.like} has a cold cathode")
    assert line.heater is not None
    volts, amps = (float(q.m_as(u)) for q, u in zip(line.heater, ("volt", "ampere"), strict=True))
    numbers = (Sourced(volts, "volt", where, "drawing"), Sourced(amps, "ampere", where, "drawing"))
    return HeaterWay("single", *numbers)


def _pins(kind: TubeType, text: str) -> Pins:
    """``1 nc 2 h1 3 A.plate``: each electrode the type has, and none that it has not."""
    found = dict(_pairs(kind, text))
    needed = {lead for lead in kind.pins.values() if lead[1] not in IDLE_PINS}
    given = {lead for lead in found.values() if lead[1] not in IDLE_PINS}
    for lead in sorted(needed - given):
        raise Unlike("pins", f"a pin for {_written(lead)}")
    for lead in sorted(given - needed):
        raise Unlike(_written(lead), f"an electrode of a {kind.name}")
    return found


def _pairs(kind: TubeType, text: str) -> Iterator[tuple[str, tuple[str, str]]]:
    words = text.replace(",", " ").split()
    if not words or len(words) % 2:
        raise Unlike(f'"{text}"', "a pin and what is on it, in pairs: 1 nc 2 h1 3 plate")
    seen: set[str] = set()
    for pin, word in zip(words[::2], words[1::2], strict=True):
        number = pin.casefold()
        section, _, electrode = word.rpartition(".")
        meant = _meant(kind, section.upper(), electrode.casefold())
        if number in seen or not (number == "cap" or (number.isdigit() and len(number) < 3)):
            raise Unlike(pin, "the number of a pin, or cap, once each")
        if meant is None or section.upper() not in ("", "A", "B"):
            raise Unlike(word, "an electrode: plate, A.grid, h1, nc")
        seen.add(number)
        yield number, (section.upper(), meant)


def _meant(kind: TubeType, section: str, word: str) -> str | None:
    """The electrode a word stands for in this type, else in any tube."""
    own = (e for s, e in kind.pins.values() if s == section and e not in IDLE_PINS)
    return spelled(own).get(word, _WORDS.get(word))


def _written(lead: tuple[str, str]) -> str:
    return f"{lead[0]}.{lead[1]}".lstrip(".")
