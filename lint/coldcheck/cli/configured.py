"""The settings of the drawings of a run, and the table that explains them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli import OK
from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.output import show

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from coldcheck.cli.files import Wanted
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


def show_settings(
    drawings: Sequence[Wanted], settings: Sequence[Settings], gate: str | None
) -> int:
    """Print the settings, once for all drawings that share them."""
    from coldcheck.report.pages import settings_table

    shared: dict[str, tuple[Settings, list[str]]] = {}
    for item, own in zip(drawings, settings, strict=True):
        key = f"{own.fingerprint()} {own.origins}"
        shared.setdefault(key, (own, []))[1].append(item.file)
    show(lambda console: settings_table.render(list(shared.values()), console, gate))
    return OK
