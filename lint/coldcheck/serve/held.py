"""What there is of one open text, and what a question about it is answered from."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.files.places import where
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from coldcheck.serve.marks import Mark
    from coldcheck.serve.reading import Known, Read, Text


@dataclass(frozen=True, slots=True)
class Held:
    """What there is of one text: as it is now, as it was last read, its last good review."""

    text: Text
    read: Read | None = None
    known: Known | None = None
    marks: tuple[Mark, ...] = ()

    @property
    def fresh(self) -> bool:
        """Whether the last good review is of the text as it is now."""
        return self.known is not None and self.known.read.text.serial == self.text.serial


@dataclass(frozen=True, slots=True)
class View:
    """What a question about a text is answered from.

    caveat
        Says so, as a sentence, where the text is another by now; empty where it is not.
    prefix
        The instance (``L/``) whose parts the text's are, in the drawing that was reviewed.
    """

    known: Known
    caveat: str = ""
    prefix: str = ""


def note(held: Held) -> str:
    """What has to be said with an answer from the last good review; empty where it is fresh."""
    if held.fresh:
        return ""
    read = held.read
    if read is not None and read.text.serial == held.text.serial and not read.good:
        return f"There is an error in {read.trouble}: this is from before it."
    return "The drawing has changed: this is from before, and is being worked out anew."


def instance(known: Known, path: Path | None) -> str | None:
    """The first use of a sheet in a drawing that was reviewed: ``L/``."""
    circuit = known.review.circuit
    files = {file for file in known.review.sheets if path is not None and same(file, path)}
    if circuit is None or not files:
        return None
    names = (n for n, span in circuit.places.items() if "/" in n and span.file in files)
    return next((f"{n.rpartition('/')[0]}/" for n in names), None)


def sheets(read: Read) -> frozenset[Path]:
    """The real paths of the files a drawing has as sheets."""
    return frozenset(where(Path(file)) for file in read.drawing.sheets)


def same(file: str, path: Path) -> bool:
    """Whether a file's name means the file at a real path."""
    return where(Path(file)) == path
