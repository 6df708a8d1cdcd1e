"""Names of nets and their volts, in free places beside their wires."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from coldcheck.picture.devices import Symbol
from coldcheck.picture.grid import Anchor, Dir, Tone, Word
from coldcheck.picture.model import Note
from coldcheck.picture.scene import is_named

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.picture.grid import Cell
    from coldcheck.picture.route import Wires
    from coldcheck.picture.scene import Scene


def net_notes(scene: Scene, wires: Wires, volts: Mapping[str, str]) -> Iterator[Note]:
    """The names the drawing gave its points, and the words for their volts."""
    room = _room(scene, wires)
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


@dataclass(slots=True)
class _Room:
    """Where a text may stand: on no wire, and a cell away from other texts and symbols."""

    wired: set[Cell]
    filled: set[Cell]

    def fits(self, word: Word, own: Cell) -> bool:
        cells = word.cells
        wide = {(x + dx, y) for x, y in cells for dx in (-1, 0, 1)}
        return (cells - {own}).isdisjoint(self.wired) and wide.isdisjoint(self.filled)

    def take(self, word: Word) -> None:
        self.filled |= word.cells


def _room(scene: Scene, wires: Wires) -> _Room:
    wired = {c for c, here in wires.at.items() if any(here.values())}
    return _Room(wired | set(wires.leads), set(scene.board.filled))


def _free(wires: Wires, net: str, text: str, tone: Tone, room: _Room) -> Word | None:
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
