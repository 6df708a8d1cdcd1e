"""What a page knows of its picture, for the script in it: words only, worked out before.

Parts and nets are called as in the picture, with ``p`` or ``n`` before them; figures are worded
here, each sentence once, and named by its number.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, TypeAlias

from coldcheck.drawing.units import engineering
from coldcheck.picture.devices import Symbol
from coldcheck.picture.findings import numbered
from coldcheck.picture.volts import volts_of
from coldcheck.report.shared.numbers import volts
from coldcheck.report.shared.plain import clean

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from coldcheck.picture.devices import Device
    from coldcheck.verdict.document.content import (
        Document,
        Level,
        Reading,
        Shown,
        StateTold,
        Through,
    )

Entry: TypeAlias = "dict[str, str | list[int] | list[list[str]]]"

HINT = "Point at a part, a wire or a number, or choose one above."
PLACES = frozenset({Symbol.FLAG, Symbol.GROUND, Symbol.CHASSIS, Symbol.EARTH})
"""Symbols that are places of a net and no parts."""


class Words:
    """Sentences by number, each kept once; the first is the empty one."""

    def __init__(self) -> None:
        self.known: dict[str, int] = {"": 0}

    def number(self, words: str) -> int:
        """The number of a sentence."""
        return self.known.setdefault(clean(words), len(self.known))


def states_shown(document: Document) -> list[str]:
    """The states whose volts can be shown."""
    return [name for name, state in document.states.items() if state.solved]


def devices(shown: Shown) -> list[Device]:
    """The parts of the picture, once each, as a reader looks them up."""
    items = (item for panel in shown.picture.panels for item in panel.items)
    found = {i.device.name: i.device for i in items if i.device.symbol not in PLACES}
    return [found[name] for name in sorted(found, key=_order)]


def nets(shown: Shown) -> list[str]:
    """The nets of the picture by name."""
    found = {net for device in devices(shown) for net in device.nets}
    return sorted(found, key=_order)


def nets_drawn(shown: Shown) -> list[str]:
    """The nets that can be pointed at: a lead alone and unnamed has nothing but its end."""
    panels = shown.picture.panels
    there = {wire.net for panel in panels for wire in panel.wires}
    there |= {note.about for panel in panels for note in panel.notes}
    items = (item for panel in panels for item in panel.items)
    there |= {i.device.leads[0].net for i in items if i.device.symbol in PLACES}
    return [net for net in nets(shown) if net in there]


def _order(name: str) -> tuple[str, int, str]:
    """``R2`` before ``R10``."""
    letters = name.rstrip("0123456789")
    return letters.casefold(), int(name[len(letters) :] or 0), name


def part_key(name: str) -> str:
    """What the page calls a part."""
    return f"p {clean(name)}"


def net_key(name: str) -> str:
    """What the page calls a net."""
    return f"n {clean(name)}"


def data_of(document: Document, shown: Shown) -> str:
    """Everything as JSON that stands safely inside a page."""
    states, words = [document.states[name] for name in states_shown(document)], Words()
    data = {
        "states": [clean(name) for name in states_shown(document)],
        "parts": {part_key(d.name): _part(document, shown, d, words) for d in devices(shown)},
        "nets": dict(_nets(shown, states, words)),
        "findings": dict(_findings(document, shown)),
        "hint": HINT,
    }
    data["words"] = list(words.known)
    return _inside_html(json.dumps(data, separators=(",", ":")))


def _inside_html(text: str) -> str:
    """JSON with the signs escaped that mean something to a reader of HTML."""
    for sign in "<>&'":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text


def _part(document: Document, shown: Shown, device: Device, words: Words) -> Entry:
    span = shown.lines[device.name]
    source = document.line(span).strip()
    said = [_figures(document, shown, state, device.name) for state in states_shown(document)]
    return {
        "head": clean(" ".join((device.name, *device.lines[1:]))),
        "where": clean(f"{span.file}, line {span.line}: {source}") if source else "",
        "long": [words.number(text) for text in said],
        "leads": [[clean(lead.label or lead.name), net_key(lead.net)] for lead in device.leads],
    }


def _figures(document: Document, shown: Shown, state: str, name: str) -> str:
    """A part in a state: what is across and through it, or a tube's reading."""
    through = shown.through[state].get(name)
    if through is not None:
        return ", ".join(_through(through))
    reading = document.states[state].tubes.get(name)
    return "" if reading is None else ", ".join(_reading(reading))


def _through(part: Through) -> Iterator[str]:
    yield f"{volts(part.volts)} V across"
    if part.ac_rms >= 0.05:
        yield f"{volts(part.ac_rms)} V AC across"
    if part.ma is not None and abs(part.ma) >= 1e-4:
        yield engineering(part.ma / 1000, "A")
    if part.watts is not None and abs(part.watts) >= 1e-4:
        yield engineering(part.watts, "W")


_READINGS = (
    ("plate", "plate_v", "plate_ma", "plate_w"),
    ("screen", "screen_v", "screen_ma", "screen_w"),
)


def _reading(reading: Reading) -> Iterator[str]:
    """Volts are to the cathode, as in the tables."""
    for name, at, through, spent in _READINGS:
        v, ma, w = (getattr(reading, field) for field in (at, through, spent))
        if v is not None:
            yield f"{name} {volts(v)} V to the cathode"
        if v is not None and ma is not None:
            yield engineering(ma / 1000, "A")
        if v is not None and w:
            yield engineering(w, "W")
    if reading.grid_v is not None:
        yield f"grid {volts(reading.grid_v)} V"
    if reading.heater_cathode_worst is not None:
        yield f"heater to cathode {volts(reading.heater_cathode_worst)} V at its worst instant"


def _nets(shown: Shown, states: Sequence[StateTold], words: Words) -> Iterator[tuple[str, Entry]]:
    short = [volts_of(state.points) for state in states]
    for net in nets(shown):
        on = [d.name for d in devices(shown) if net in d.nets]
        yield (
            net_key(net),
            {
                "head": clean(net),
                "on": clean(", ".join(on)),
                "short": [words.number(told.get(net, "")) for told in short],
                "long": [words.number(_level_of(state, net)) for state in states],
            },
        )


def _level_of(state: StateTold, net: str) -> str:
    level = state.points.get(net)
    return state.undefined.get(net, "") if level is None else _level(level)


def _level(level: Level) -> str:
    off = "" if level.plus_minus is None else f" +/- {volts(level.plus_minus)}"
    said = f"{volts(level.dc)}{off} V DC to gnd"
    if level.ac_rms < 0.005:
        return said
    return (
        f"{said}, {volts(level.ac_rms)} V AC rms, between {volts(level.low)} V "
        f"and {volts(level.high)} V"
    )


def _findings(document: Document, shown: Shown) -> Iterator[tuple[str, list[str]]]:
    """Number of a finding -> the parts and nets it is about."""
    parts = {device.name for device in devices(shown)}
    for number, finding in numbered(document.findings):
        names = [name for place in finding.at for name in shown.places.get(place, ())]
        keys = [part_key(n) if n in parts else net_key(n) for n in dict.fromkeys(names)]
        yield str(number), keys
