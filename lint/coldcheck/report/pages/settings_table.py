"""The settings of drawings as a table: key, value, and where the value came from."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from rich.cells import cell_len

from coldcheck.drawing.units import engineering
from coldcheck.report.shared.lines import paragraph, say
from coldcheck.report.shared.plain import clean, counted
from coldcheck.settings.keys import TOLERANCES

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from rich.console import Console

    from coldcheck.drawing.units import Quantity
    from coldcheck.settings.model import Settings

_DRAWINGS_SHOWN = 8
_VALUE_WIDTH = 30


def render(shared: Sequence[tuple[Settings, Sequence[str]]], console: Console) -> None:
    """Print each settings under the drawings they hold for."""
    for number, (settings, files) in enumerate(shared):
        if number:
            say(console)
        named = ", ".join(map(clean, files[:_DRAWINGS_SHOWN]))
        more = len(files) - _DRAWINGS_SHOWN
        paragraph(console, named + (f" and {more} more" if more > 0 else ""), style="bold")
        _print(console, list(rows(settings)))


def _print(console: Console, lines: Sequence[tuple[str, str, str]]) -> None:
    """Side by side and never cropped: a long reason or path is what one came to read."""
    head = ("setting", "value", "from")
    wide = [max(cell_len(clean(line[k])) for line in (head, *lines)) for k in range(2)]
    wide[1] = min(wide[1], _VALUE_WIDTH)
    for number, line in enumerate((head, *lines)):
        cells = [clean(cell) for cell in line]
        padded = [c + " " * max(w - cell_len(c), 0) for c, w in zip(cells, wide, strict=False)]
        say(console, "  " + "  ".join([*padded, cells[2]]), "" if number else "dim")


def rows(settings: Settings) -> Iterator[tuple[str, str, str]]:
    """(key, value, where from) of every setting, those with their default among them."""
    yield "gate", settings.gate, _source(settings, "gate")
    yield "undecided", settings.undecided, _source(settings, "undecided")
    for entry, reason in sorted(settings.off.items()):
        yield f"off.{entry}", reason, _source(settings, f"off.{entry}")
    if not settings.off:
        yield "off", "no rule", "default"
    yield from _mains(settings)
    for key, field in TOLERANCES.items():
        name = f"tolerance.{key}"
        yield name, _percent(getattr(settings.usual, field)), _source(settings, name)
    yield "data", _folders(settings.data, settings), _source(settings, "data")
    instruments = settings.instruments
    count = len(instruments) if isinstance(instruments, (list, dict)) else 0
    yield "instruments", str(count or "none"), _source(settings, "instruments")


def _mains(settings: Settings) -> Iterator[tuple[str, str, str]]:
    volts, hertz = settings.mains_voltage, settings.mains_frequency
    own = _plain(volts, "volt", "V") if volts is not None else "as each primary is rated"
    yield "mains.voltage", own, _source(settings, "mains.voltage")
    own = _plain(hertz, "hertz", "Hz") if hertz is not None else "60 Hz"
    yield "mains.frequency", own, _source(settings, "mains.frequency")
    yield "mains.tolerance", _percent(settings.usual.mains), _source(settings, "mains.tolerance")


def _plain(value: Quantity, unit: str, symbol: str) -> str:
    return engineering(float(value.m_as(unit)), symbol, 4)


def _percent(share: float) -> str:
    return f"{100 * share:g} %"


def _folders(folders: Iterable[Path], settings: Settings) -> str:
    named = ", ".join(_path(f) for f in folders)
    types = len({k.name for k in settings.types.values()})
    return f"{named} ({counted(types, 'type')})" if named else "none"


def _source(settings: Settings, key: str) -> str:
    origin = settings.origins.get(key)
    return "default" if origin is None else f"{_path(origin.file)}: {origin.key}"


def _path(path: Path) -> str:
    """A path as seen from here, where that is shorter."""
    try:
        seen = os.path.relpath(path, Path.cwd())
    except ValueError:  # another drive
        return str(path)
    return min(seen, str(path), key=len)
