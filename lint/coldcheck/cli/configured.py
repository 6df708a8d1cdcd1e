"""The settings of the drawings of a run."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli.failure import AskedWrongly

if TYPE_CHECKING:
    from collections.abc import Iterable

    from coldcheck.settings.model import Settings


def settings_of(files: Iterable[str]) -> list[Settings]:
    """The settings of each drawing; raises AskedWrongly with a line for each fault in them."""
    from coldcheck.report.shared.places import relative
    from coldcheck.settings.find import find_all
    from coldcheck.settings.model import SettingsError

    try:
        return find_all([Path(file) for file in files])
    except SettingsError as error:
        here = Path.cwd()
        lines = [f.line(relative(str(f.file), here)) for f in error.faults]
        raise AskedWrongly(*lines) from error
