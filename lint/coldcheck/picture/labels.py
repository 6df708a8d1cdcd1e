"""Names of nets and their volts, in free places beside their wires."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

from coldcheck.picture.devices import Symbol
from coldcheck.picture.grid import Anchor, Dir, Tone, Word
from coldcheck.picture.model import Call, Note
from coldcheck.picture.scene import is_named
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.picture.board import Item
    from coldcheck.picture.findings import Marked
    from coldcheck.picture.grid import Cell, Port
    from coldcheck.picture.route import Wires
    from coldcheck.picture.scene import Scene


def net_notes(scene: Scene, wires: Wires, room: Room, volts: Mapping[str, str]) -> Iterator[Note]:
    """The names the drawing gave its points, and the words for their volts."""
    flagged = {i.device.leads[0].net for i in scene.board.items if i.device.symbol is Symbol.FLAG}
    speaking = (Symbol.SIGNAL, Symbol.TERMINAL)
    told = {i.device.lines[0] for i in scene.board.items if i.device.symbol in speaking}
    nets = [n for n in scene.board.leads if n not in scene.ends]
    for net in nets:
        name = net if is_named(net) and net not in flagged and net not in told else ""
        for text, tone in ((name, Tone.NET), (volts.get(net, ""), Tone.VOLTS)):
            if text and (word := _free(wires, net, text, tone, room)):
                room.take(word)
                yield Note(net, word)


def rail_notes(scene: Scene, room: Room, volts: Mapping[str, str]) -> Iterator[Note]:
    """The volts of a rail beside its name, where it is only named."""
    for item in scene.board.items:
        net = item.device.leads[0].net
        if item.device.symbol is Symbol.FLAG and net in scene.ends and volts.get(net):
            (name,) = (word.moved(item.x, item.y) for word in item.form.words)
            left, _, right, _ = name.box
            for x, anchor in ((right + 0.8, Anchor.START), (left - 0.8, Anchor.END)):
                word = Word(x, name.y, volts[net], Tone.VOLTS, anchor)
                if room.fits(word, (item.x, item.y)):
                    room.take(word)
                    yield Note(net, word)
                    break


def finding_calls(scene: Scene, wires: Wires, room: Room, marked: Marked) -> Iterator[Call]:
    """The numbers of findings or test points beside what they are about, each once."""
    told: set[int] = set()
    for item in scene.board.items:
        if item.device.symbol is not Symbol.FLAG:
            for entry in marked.at.get(item.device.name, ()):
                word = None if entry.number in told else _beside(item, str(entry.number), room)
                if word is not None:
                    told.add(entry.number)
                    room.take(word)
                    yield Call(entry.number, entry.level, item.device.name, word)
    for net in scene.board.leads:
        for entry in marked.at.get(net, ()):
            text = str(entry.number)
            word = None if entry.number in told else _free(wires, net, text, Tone.MARK, room)
            if word is None and entry.number not in told:
                word = _near(scene.board.leads[net], text, room)
            if word is not None:
                told.add(entry.number)
                room.take(word)
                yield Call(entry.number, entry.level, net, word)


def _beside(item: Item, text: str, room: Room) -> Word | None:
    """A free place around a symbol, the nearest first."""
    cells = item.cells
    xs, ys = [c[0] for c in cells], [c[1] for c in cells]
    left, top, right, bottom = min(xs) - 2, min(ys) - 2, max(xs) + 2, max(ys) + 2
    ring = [(x, y) for x in range(left, right + 1) for y in range(top, bottom + 1)]
    edge = [(x, y) for x, y in ring if x in (left, right) or y in (top, bottom)]
    for x, y in sorted(edge, key=lambda c: abs(c[0] - item.x) + abs(c[1] - item.y)):
        word = Word(x, y + 0.35, text, Tone.MARK, Anchor.MIDDLE)
        if room.fits(word, (x, y)) and (x, y) not in room.wired:
            return word
    return None


REACH = 4
"""Cells from a lead within which a number is still taken for the lead's."""


def _near(ports: list[Port], text: str, room: Room) -> Word | None:
    """A free place by one of the leads, where a net has no wire or none with room."""
    steps = range(-REACH, REACH + 1)
    spots = [(port, dx, dy) for port in ports for dx in steps for dy in steps]
    for port, dx, dy in sorted(spots, key=lambda s: abs(s[1]) + abs(s[2])):
        x, y = port.x + dx, port.y + dy
        word = Word(x, y + 0.35, text, Tone.MARK, Anchor.MIDDLE)
        if room.fits(word, port.cell) and (x, y) not in room.wired:
            return word
    return None


Box: TypeAlias = tuple[float, float, float, float]


@dataclass(slots=True)
class Room:
    """Where a text may stand: on no wire, and a cell away from other texts and symbols."""

    wired: set[Cell]
    filled: set[Cell]
    boxes: list[Box]

    def fits(self, word: Word, own: Cell) -> bool:
        """Whether a text may stand there, beside a wire's cell of its own."""
        cells = word.cells
        free = (cells - {own}).isdisjoint(self.wired) and cells.isdisjoint(self.filled)
        return free and not any(_close(word.box, box) for box in self.boxes)

    def take(self, word: Word) -> None:
        """Keep a text's place from others."""
        self.filled |= word.cells
        self.boxes.append(word.box)


def room_of(scene: Scene, wires: Wires) -> Room:
    """The room on a wired panel."""
    wired = {c for c, here in wires.at.items() if any(here.values())}
    words = [w.moved(i.x, i.y) for i in scene.board.items for w in i.form.words]
    boxes = [word.box for word in words]
    return Room(wired | set(wires.leads), set(scene.board.filled), boxes)


def _close(a: Box, b: Box) -> bool:
    """Whether two texts would be taken for one."""
    return a[0] - 0.6 < b[2] and b[0] - 0.6 < a[2] and a[1] - 0.15 < b[3] and b[1] - 0.15 < a[3]


def _free(wires: Wires, net: str, text: str, tone: Tone, room: Room) -> Word | None:
    """A place above, below or beside a wire of the net where nothing else is."""
    cells = sorted(c for c, here in wires.at.items() if here.get(net))
    for word, own in _places(wires, net, cells, text, tone):
        if room.fits(word, own):
            return word
    return None


def _places(
    wires: Wires, net: str, cells: list[Cell], text: str, tone: Tone
) -> Iterator[tuple[Word, Cell]]:
    sides = ((0.25, Anchor.START), (-0.25, Anchor.END))
    level = [c for c in cells if wires.at[c][net] & {Dir.LEFT, Dir.RIGHT}]
    for dy in (-0.35, 1.05):
        for x, y in level:
            for dx, anchor in sides:
                yield Word(x + dx, y + dy, text, tone, anchor), (x, y)
    for x, y in cells:
        for dx, anchor in ((0.4, Anchor.START), (-0.4, Anchor.END)):
            yield Word(x + dx, y + 0.35, text, tone, anchor), (x, y)
