"""The settings of the drawings of a run."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli.failure import AskedWrongly

if TYPE_CHECKING:
    from collections.abc import Iterable

    from coldcheck.cli.base import Base
    from coldcheck.settings.model import Settings


def settings_of(files: Iterable[str], base: Base | None = None) -> list[Settings]:
    """The settings of each drawing, those of the trusted revision where there is one.

    Raises AskedWrongly with a line for each fault in them.
    """
    from coldcheck.report.shared.places import relative
    from coldcheck.settings.find import find_all
    from coldcheck.settings.model import SettingsError

    try:
        return find_all([base.at(Path(f)) if base else Path(f) for f in files])
    except SettingsError as error:
        here = Path.cwd()
        now = base.now if base else Path
        lines = [f.line(relative(str(now(f.file)), here)) for f in error.faults]
        if base:
            lines.append(f"that is in {base.revision}, whose settings are trusted")
        raise AskedWrongly(*lines) from error
