"""Where the leads of a symbol are, which cells it fills, and where its words stand.

A symbol's own place is its origin. What fills a cell keeps wires out of it; leads stick out, so
that a wire may run along their ends.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from coldcheck.picture.devices import Symbol
from coldcheck.picture.grid import Anchor, Cell, Dir, Port, Tone, Word, block, text_width
from coldcheck.picture.tube_geometry import (
    half_height,
    rectifier_ports,
    regulator_ports,
    tube_ports,
)
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable

    from coldcheck.picture.devices import Coil, Device

LINE = 1.1
"""From one line of text to the next."""


@dataclass(frozen=True, slots=True)
class Form:
    """A symbol's geometry around its own place."""

    ports: tuple[Port, ...]
    cells: frozenset[Cell]
    words: tuple[Word, ...]

    def port(self, name: str) -> Port:
        """The port of a lead."""
        return next(port for port in self.ports if port.name == name)


@lru_cache(maxsize=4096)
def form_of(device: Device, turn: Dir, *, flip: bool = False) -> Form:
    """The geometry of a device that points from its first lead to its last the way ``turn``.

    ``flip`` takes what may stand on either side (a wiper, a screen, a secondary) to the other.
    """
    symbol = device.symbol
    if symbol in (Symbol.TUBE, Symbol.RECTIFIER, Symbol.REGULATOR):
        return _tube(device, flip)
    if symbol in (Symbol.TRANSFORMER, Symbol.OUTPUT):
        return _transformer(device, flip)
    if symbol is Symbol.HEATER and device.lead("tap") is None:
        form = _two_lead(device, turn)
        pins = _pin_words(form.ports)
        return _with_words(form.ports, form.cells, [*form.words, *pins])
    if symbol is Symbol.POT and turn is Dir.RIGHT and len(device.leads) == POT_LEADS:
        return _lying_pot(device)
    if symbol in (Symbol.POT, Symbol.POLE, Symbol.JACK, Symbol.HEATER, Symbol.WINDING):
        return _several(device, flip)
    if symbol in (Symbol.GROUND, Symbol.CHASSIS, Symbol.EARTH):
        return Form((Port("1", 0, 0, Dir.UP),), block(-1, 1, 1, 1), ())
    if symbol is Symbol.BRIDGE:
        return _bridge(device, flip)
    if symbol is Symbol.STABILISER:
        return _stabiliser(device)
    if symbol is Symbol.FLAG:
        return _flag(device, turn)
    if symbol in (Symbol.SIGNAL, Symbol.TERMINAL):
        return _end(device, flip)
    return _two_lead(device, turn)


def _with_words(ports: Iterable[Port], body: frozenset[Cell], words: Iterable[Word]) -> Form:
    words, ports = tuple(words), tuple(ports)
    cells = body.union(*(w.cells for w in words)) - {port.cell for port in ports}
    return Form(ports, cells, words)


def _beside(lines: tuple[str, ...], x: float, y: float, anchor: Anchor) -> list[Word]:
    """Lines one under the other around ``y``, the reference first."""
    top = y - (len(lines) - 1) * LINE / 2 + 0.35
    return [
        Word(x, top + n * LINE, text, Tone.VALUE if n else Tone.NAME, anchor)
        for n, text in enumerate(lines)
    ]


def _two_lead(device: Device, turn: Dir) -> Form:
    first, last = turn.back.of((0, 0), 2), turn.of((0, 0), 2)
    a, b = device.leads
    ports = (Port(a.name, *first, turn.back, a.label), Port(b.name, *last, turn, b.label))
    if turn in (Dir.UP, Dir.DOWN):
        return _with_words(ports, block(-1, -1, 1, 1), _beside(device.lines, 1.3, 0, Anchor.START))
    return _with_words(ports, block(-1, -1, 1, 1), _over_and_under(device.lines, 1.2))


def _over_and_under(lines: tuple[str, ...], half: float) -> list[Word]:
    """The reference above the symbol, its values below."""
    words = [Word(0, -half - 0.25, lines[0], Tone.NAME, Anchor.MIDDLE)] if lines else []
    for n, text in enumerate(lines[1:]):
        words.append(Word(0, half + 0.75 + n * LINE, text, Tone.VALUE, Anchor.MIDDLE))
    return words


def _end(device: Device, flip: bool) -> Form:
    """A signal or a terminal of the mains: one lead, to the right unless flipped."""
    way = Dir.LEFT if flip else Dir.RIGHT
    if device.symbol is Symbol.TERMINAL:
        x, anchor = (1.0, Anchor.START) if flip else (-1.0, Anchor.END)
        word = Word(x, 0.35, device.lines[0], Tone.NAME, anchor)
        return _with_words((Port("1", *way.of((0, 0), 1), way),), block(0, 0, 0, 0), (word,))
    port = Port("1", *way.of((0, 0), 2), way)
    return _with_words((port,), block(-1, -1, 1, 1), _over_and_under(device.lines, 1.1))


def _tube(device: Device, flip: bool) -> Form:
    if device.symbol is Symbol.TUBE:
        ports, top = tube_ports(device, flip=flip), half_height(device)
        words = _corner(device.lines, 2.1, -top + 0.6)
        return _with_words(ports, block(-3, -top, 3, top), [*words, *_pin_words(ports)])
    if device.symbol is Symbol.REGULATOR:
        ports = regulator_ports(device)
        words = _corner(device.lines, 2.1, -2.4)
        return _with_words(ports, block(-3, -3, 3, 3), [*words, *_pin_words(ports)])
    ports = rectifier_ports(device, flip=flip)
    words = _corner(device.lines, 2.1, -2.4)
    return _with_words(ports, block(-3, -3, 3, 3), [*words, *_pin_words(ports)])


def _bridge(device: Device, flip: bool) -> Form:
    """A diamond: AC at its top and foot, plus at its right (flipped: minus)."""
    right, left = ("minus", "plus") if flip else ("plus", "minus")
    places = {"ac1": (0, -4, Dir.UP), "ac2": (0, 4, Dir.DOWN),
              right: (4, 0, Dir.RIGHT), left: (-4, 0, Dir.LEFT)}  # fmt: skip
    ports = [Port(lead.name, *places[lead.name], lead.label) for lead in device.leads]
    words = _corner(device.lines, 1.9, -2.2)
    return _with_words(ports, block(-3, -3, 3, 3), [*words, *_pin_words(ports)])


def _stabiliser(device: Device) -> Form:
    places = ((-4, 0, Dir.LEFT), (4, 0, Dir.RIGHT), (0, 3, Dir.DOWN))
    pairs = zip(device.leads, places, strict=True)
    ports = [Port(lead.name, *place, lead.label) for lead, place in pairs]
    words = [Word(0, -3.9 + n * LINE, text, Tone.VALUE if n else Tone.NAME, Anchor.MIDDLE)
             for n, text in enumerate(device.lines)]  # fmt: skip
    inside = [
        Word(-2.7, 0.3, device.leads[0].label, Tone.PIN),
        Word(2.7, 0.3, device.leads[1].label, Tone.PIN, Anchor.END),
        Word(0, 1.6, device.leads[2].label, Tone.PIN, Anchor.MIDDLE),
    ]
    return _with_words(ports, block(-3, -2, 3, 2), [*words, *inside])


def _corner(lines: tuple[str, ...], x: float, y: float) -> list[Word]:
    """Lines whose last one ends at ``y``."""
    top = y - (len(lines) - 1) * LINE
    return [
        Word(x, top + n * LINE, text, Tone.VALUE if n else Tone.NAME)
        for n, text in enumerate(lines)
    ]


def _pin_words(ports: Iterable[Port]) -> list[Word]:
    """Small labels beside the ends of leads: pins, taps."""
    words, ports = [], tuple(ports)
    taken = {(port.way, port.cell) for port in ports}
    for port in ports:
        if not port.label:
            continue
        x, y = port.cell
        beneath = 0.9 if (port.way, (x, y - 1)) in taken else -0.25
        match port.way:
            case Dir.UP:
                words.append(Word(x - 0.25, y + 0.85, port.label, Tone.PIN, Anchor.END))
            case Dir.DOWN:
                words.append(Word(x - 0.25, y - 0.2, port.label, Tone.PIN, Anchor.END))
            case Dir.LEFT:
                words.append(Word(x + 0.7, y + beneath, port.label, Tone.PIN, Anchor.MIDDLE))
            case Dir.RIGHT:
                words.append(Word(x - 0.7, y + beneath, port.label, Tone.PIN, Anchor.MIDDLE))
    return words


def _several(device: Device, flip: bool) -> Form:
    """Pots, poles of switches, jacks, heaters, single windings."""
    way = Dir.LEFT if flip else Dir.RIGHT
    anchor = Anchor.START if flip else Anchor.END
    match device.symbol:
        case Symbol.POT:
            return _pot(device, way, anchor)
        case Symbol.POLE:
            return _pole(device, way)
        case Symbol.JACK:
            return _jack(device, way)
        case Symbol.HEATER:
            return _heater(device, flip)
        case _:
            return _winding(device, flip)


def _pot(device: Device, way: Dir, anchor: Anchor) -> Form:
    """A pot that stands; its taps are opposite the wiper, the lowest at the bottom."""
    side = way.value[0]
    ports = [Port("top", 0, -2, Dir.UP), Port("wiper", 2 * side, 0, way),
             Port("bottom", 0, 2, Dir.DOWN)]  # fmt: skip
    taps = device.leads[POT_LEADS:]
    for lead, row in zip(taps, pot_rows(len(taps)), strict=True):
        ports.append(Port(lead.name, -2 * side, row, way.back, lead.label))
    if not taps:
        return _with_words(
            ports, block(-1, -1, 1, 1), _beside(device.lines, -1.2 * side, 0, anchor)
        )
    words = _beside(device.lines, -0.6 * side, -2.2 - len(device.lines), anchor)
    return _with_words(ports, block(-1, -1, 1, 1), [*words, *_pin_words(ports)])


def pot_rows(taps: int) -> tuple[int, ...]:
    """The rows of a pot's taps, from the bottom of its track."""
    return {1: (0,), 2: (1, -1)}.get(taps, ())


POT_LEADS = 3
"""Leads of a pot without taps."""


def _lying_pot(device: Device) -> Form:
    """A pot whose wiper points down; it is drawn flipped."""
    ports = (Port("top", -2, 0, Dir.LEFT), Port("wiper", 0, 2, Dir.DOWN),
             Port("bottom", 2, 0, Dir.RIGHT))  # fmt: skip
    words = _beside(device.lines, -1.2, 2.3, Anchor.END)
    return _with_words(ports, block(-1, -1, 1, 1), words)


def pole_rows(throws: int) -> tuple[int, ...]:
    """The rows of a pole's contacts, its common lead at 0: close together where they are many."""
    return (-2, 2) if throws == 2 else tuple(range(1 - throws, throws, 2))


def _pole(device: Device, way: Dir) -> Form:
    side = way.value[0]
    throws = [lead for lead in device.leads if lead.name != "common"]
    rows = pole_rows(len(throws))
    ports = [Port("common", -2 * side, 0, way.back)]
    for lead, row in zip(throws, rows, strict=True):
        ports.append(Port(lead.name, 2 * side, row, way, lead.label))
    top = rows[0] - 1
    words = [Word(0, top - 0.6, device.lines[0], Tone.NAME, Anchor.MIDDLE)]
    return _with_words(ports, block(-1, top, 1, -top), [*words, *_pin_words(ports)])


def _jack(device: Device, way: Dir) -> Form:
    side = way.value[0]
    ports = [
        Port(lead.name, 3 * side, 3 * n, way, lead.label) for n, lead in enumerate(device.leads)
    ]
    bottom = 3 * len(ports) - 3
    word = Word(0, -1.5, device.lines[0], Tone.NAME, Anchor.MIDDLE)
    return _with_words(ports, block(-2, -1, 2, bottom + 1), [word, *_pin_words(ports)])


def doubled(device: Device) -> bool:
    """Whether a heater's halves are in parallel: both ends together against the tap."""
    h1, h2, tap = device.lead("h1"), device.lead("h2"), device.lead("tap")
    return h1 is not None and h2 is not None and tap is not None and h1.net == h2.net


def _heater(device: Device, flip: bool) -> Form:
    places = {"h1": (0, -2, Dir.UP), "h2": (0, 2, Dir.DOWN), "tap": (-2, 0, Dir.LEFT)}
    if doubled(device):
        places = {"h1": (-1, -2, Dir.UP), "h2": (1, -2, Dir.UP), "tap": (0, 2, Dir.DOWN)}
    if flip:
        places = {name: (x, -y, way.back if y else way) for name, (x, y, way) in places.items()}
    ports = [Port(lead.name, *places[lead.name], lead.label) for lead in device.leads]
    words = _beside(device.lines, 1.6, 0, Anchor.START)
    return _with_words(ports, block(-1, -1, 1, 1), [*words, *_heater_pins(ports)])


def _heater_pins(ports: Iterable[Port]) -> list[Word]:
    words = []
    for port in ports:
        y = port.y + (0.9 if port.way is Dir.UP else -0.5)
        x, anchor = (port.x - 0.35, Anchor.END) if port.x <= 0 else (port.x + 0.35, Anchor.START)
        words.append(Word(x, y, port.label, Tone.PIN, anchor))
    return [w for w in words if w.text]


def _winding(device: Device, flip: bool) -> Form:
    side = -1 if flip else 1
    first, *middle, last = device.leads
    half = winding_half(device)
    ports = [Port(first.name, 0, -half, Dir.UP, first.label)]
    way = Dir.RIGHT if flip else Dir.LEFT
    for row, tap in zip(winding_taps(device), middle, strict=True):
        ports.append(Port(tap.name, -2 * side, row, way, tap.label))
    ports.append(Port(last.name, 0, half, Dir.DOWN, last.label))
    anchor = Anchor.END if flip else Anchor.START
    words = _beside(device.lines, 1.5 * side, 0, anchor)
    return _with_words(ports, block(-1, 1 - half, 1, half - 1), [*words, *_pin_words(ports)])


def winding_half(device: Device) -> int:
    """How far the ends of a winding by itself are from its middle, in cells."""
    return max(2, len(device.leads) - 1)


def winding_taps(device: Device) -> list[int]:
    """The rows of a single winding's taps, from its first lead to its last."""
    taps = len(device.leads) - 2
    return [2 * n + 1 - taps for n in range(taps)]


def coil_rows(device: Device) -> dict[str, int]:
    """The row of each lead of a transformer, and so its height.

    Between the two leads of the first secondary is room for a diode that hangs to gnd.
    """
    rows: dict[str, int] = {}
    for side in sides(device):
        y = 0
        for coil in side:
            first = device.symbol is Symbol.TRANSFORMER and side[0] is coil and not coil.left
            step = 7 if first and device.iron and not device.springs and len(coil.leads) == 2 else 4
            for n, lead in enumerate(coil.leads):
                rows[lead] = y + n * step
            y += (len(coil.leads) - 1) * step + 3
    return rows


def sides(device: Device) -> tuple[list[Coil], list[Coil]]:
    """The windings to the left and those to the right."""
    if device.symbol is Symbol.OUTPUT:
        return [device.coils[0]], [device.coils[1]]
    primary = [c for c in device.coils if c.left]
    return primary, [c for c in device.coils if not c.left]


def _transformer(device: Device, flip: bool) -> Form:
    rows = coil_rows(device)
    left, right = sides(device)
    names = {name for coil in left for name in coil.leads}
    height = max(rows.values())
    if device.symbol is Symbol.OUTPUT:
        rows = _output_rows(device, rows, flip)
    ports = [
        Port(lead.name, *((-3, rows[lead.name], Dir.LEFT) if lead.name in names
                          else (3, rows[lead.name], Dir.RIGHT)), lead.label)
        for lead in device.leads
    ]  # fmt: skip
    top = -1.3 - (len(device.lines) - 1) * LINE
    words = [
        Word(0, top + n * LINE, text, Tone.VALUE if n else Tone.NAME, Anchor.MIDDLE)
        for n, text in enumerate(device.lines)
    ]
    for coils, x, anchor in ((left, -3.3, Anchor.END), (right, 3.3, Anchor.START)):
        for coil in coils:
            middle = (rows[coil.leads[0]] + rows[coil.leads[1]]) / 2
            words += [
                Word(w.x, w.y, w.text, Tone.VALUE, anchor)
                for w in _beside(coil.label[:3], x, middle, anchor)
            ]
    return _with_words(ports, block(-2, 0, 2, height), [*words, *_pin_words(ports)])


def _output_rows(device: Device, rows: dict[str, int], flip: bool) -> dict[str, int]:
    primary = device.coils[0].leads
    height = max(rows[name] for name in primary)
    wound = device.coils[1].leads
    shift = (height - 4 * (len(wound) - 1)) // 2
    turned = {name: height - rows[name] for name in primary} if flip else {}
    return {**rows, **turned, **{name: shift + 4 * n for n, name in enumerate(wound)}}


def _flag(device: Device, turn: Dir) -> Form:
    """A name at the end of a wire; the wire comes from the side opposite to ``turn``."""
    text = device.lines[0]
    width = text_width(text, Tone.NET)
    port = Port("1", 0, 0, turn.back)
    if turn is Dir.UP:
        word = Word(0, -1.1, text, Tone.NET, Anchor.MIDDLE)
        return _with_words((port,), block(0, -1, 0, -1), (word,))
    if turn is Dir.DOWN:
        word = Word(0, 1.85, text, Tone.NET, Anchor.MIDDLE)
        return _with_words((port,), block(0, 1, 0, 1), (word,))
    side = turn.value[0]
    word = Word(side * 0.9, 0.33, text, Tone.NET, Anchor.START if side > 0 else Anchor.END)
    reach = int(width + 1.6)
    body = block(1, 0, reach, 0) if side > 0 else block(-reach, 0, -1, 0)
    return _with_words((port,), body, (word,))
