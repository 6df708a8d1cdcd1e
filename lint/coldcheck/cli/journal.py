"""What has been typed in an evening, kept as it is typed: an interruption loses nothing.

One file a drawing, in the user's own cache folder, as lines that ``coldcheck readings`` reads. It
is written whole after every reading and goes away when the evening is done.
"""

from __future__ import annotations

import csv
from contextlib import suppress
from hashlib import sha256
from io import StringIO
from math import inf
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli.cache import users_folder
from coldcheck.files import reading, writing
from coldcheck.files.places import where
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Sequence

    from coldcheck.bench.diagnosis.readings import Reading


@dataclass(frozen=True, slots=True)
class Journal:
    """The file of one drawing's readings; ``None`` keeps nothing."""

    path: Path | None

    @classmethod
    def of_user(cls, drawing: str) -> Journal:
        """In the user's own cache folder; without one, or for what is typed in, none is kept."""
        folder = None if drawing == "-" else users_folder("evenings")
        name = sha256(str(where(Path(drawing))).encode()).hexdigest()
        return cls(None if folder is None else folder / f"{name}.csv")

    def text(self) -> str:
        """What was kept; empty where nothing was, or it cannot be read."""
        if self.path is not None:
            with suppress(OSError, UnicodeDecodeError):
                return reading.ordinary(self.path, reading.MOST_DATA).decode("utf-8")
        return ""

    def keep(self, readings: Sequence[Reading]) -> bool:
        """Write them all; whether they are safe."""
        if self.path is None:
            return False
        try:
            writing.replace(self.path, written(readings))
        except OSError:
            return False
        return True

    def away(self) -> None:
        """The evening is done."""
        if self.path is not None:
            with suppress(OSError):
                self.path.unlink(missing_ok=True)


def written(readings: Sequence[Reading]) -> str:
    """Readings as the text that ``coldcheck readings`` takes."""
    out = StringIO()
    lines = csv.writer(out, lineterminator="\n")
    lines.writerow(("point", "kind", "value", "state"))
    for r in readings:
        value = "OL" if r.value == inf else f"{r.value:.12g}"
        lines.writerow((r.point, r.kind, value, r.state))
    return out.getvalue()
