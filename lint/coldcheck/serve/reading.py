"""A text that is open in the editor, read with its settings and its sheets."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.drawing.reader import parse_drawing, with_sheets
from coldcheck.drawing.sheet_files import sheet_bytes
from coldcheck.files.places import where
from coldcheck.records import dataclass
from coldcheck.serve.page import UTF16, Page
from coldcheck.settings.apply import circuit_of
from coldcheck.settings.find import find
from coldcheck.settings.model import DEFAULTS, SettingsError
from coldcheck.verdict.engine import review_drawing

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.circuit.model import Circuit
    from coldcheck.drawing.model import Drawing
    from coldcheck.settings.model import Settings
    from coldcheck.verdict.review import Review


@dataclass(frozen=True, slots=True)
class Text:
    """A text as the editor has it.

    file
        The path of its file, or a name that stands for one that has none yet.
    serial
        Counts every change there is to what the text means: its own, and that of its sheets,
        settings and tube data.
    """

    uri: str
    file: str
    saved: bool
    text: str
    version: int | None
    serial: int
    encoding: str = UTF16

    @property
    def page(self) -> Page:
        """Its lines."""
        return Page.of(self.text, self.encoding)

    @property
    def path(self) -> Path | None:
        """Where its file really is; ``None`` for a text that has none."""
        return where(Path(self.file)) if self.saved else None


@dataclass(frozen=True, slots=True)
class Read:
    """A text that was read.

    settings
        ``None`` where they cannot be used; ``faults`` then says why, as sentences.
    circuit
        Also of a text in which something cannot be read: what can be named in it.
    """

    text: Text
    page: Page
    drawing: Drawing
    settings: Settings | None
    circuit: Circuit
    faults: tuple[str, ...] = ()

    @property
    def good(self) -> bool:
        """Whether all of it could be read, so that it can be reviewed."""
        return self.settings is not None and not (self.drawing.problems or self.circuit.problems)

    @property
    def trouble(self) -> str:
        """Where it first cannot be read: ``line 4``, ``a sheet``, ``the settings``; else empty."""
        if self.settings is None:
            return "the settings"
        problems = (*self.drawing.problems, *self.circuit.problems)
        own = [p.span.line for p in problems if p.span.file == self.drawing.file]
        return f"line {min(own)}" if own else "a sheet" if problems else ""


@dataclass(frozen=True, slots=True)
class Known:
    """The last good review of a text, with the text it was made from."""

    read: Read
    review: Review


def read_text(text: Text, open_texts: Callable[[Path], str | None]) -> Read:
    """Read a text; sheets that are open in the editor as they are there, others from the disk.

    Which files a sheet line may name is decided before ``open_texts`` is asked: what lies outside
    the project stays outside. Never raises for content.
    """
    drawing = parse_drawing(text.text, text.file)
    settings: Settings | None = DEFAULTS
    faults: tuple[str, ...] = ()
    if text.path is not None:
        drawing = with_sheets(drawing, Path(text.file), lambda path: _bytes(path, open_texts))
        try:
            settings = find(Path(text.file))
        except SettingsError as error:
            settings = None
            faults = tuple(f.line(f.file.name) for f in error.faults)
    circuit = circuit_of(drawing, settings or DEFAULTS)
    return Read(text, text.page, drawing, settings, circuit, faults)


def _bytes(path: Path, open_texts: Callable[[Path], str | None]) -> bytes:
    found = open_texts(path)
    return sheet_bytes(path) if found is None else found.encode("utf-8", "surrogatepass")


def reviewed(read: Read) -> Review:
    """The review of a text that was read; of an unreadable one, its problems as findings."""
    return review_drawing(read.drawing, None, read.settings or DEFAULTS)
