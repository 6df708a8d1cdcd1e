"""What a caller hands in, as the rest of the program takes it: sheets, settings, values."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from coldcheck.api.errors import BadValueError, missing
from coldcheck.drawing import valued
from coldcheck.drawing.reader import parse_drawing, with_sheets
from coldcheck.drawing.sheet_files import SheetRefused
from coldcheck.drawing.values import BadValue
from coldcheck.files.places import where
from coldcheck.settings.find import given

if TYPE_CHECKING:
    from collections.abc import Mapping

    from coldcheck.drawing.model import Drawing
    from coldcheck.drawing.valued import Value
    from coldcheck.drawing.values import Amount
    from coldcheck.settings.model import Settings


def drawing_of(text: str, name: str, sheets: Mapping[str, str]) -> Drawing:
    """The drawing of a text, its sheets taken from ``sheets`` (name -> text) and nowhere else."""
    texts = {where(Path(sheet)): content for sheet, content in sheets.items()}

    def fetch(path: Path) -> bytes:
        if path in texts:
            return texts[path].encode("utf-8")
        there = ", ".join(sheets) or "none"
        raise SheetRefused("no such sheet", f"one of the sheets given ({there})", absent=True)

    return with_sheets(parse_drawing(text, name), Path(name), fetch)


def settings_of(table: Mapping[str, Any]) -> Settings:
    """Settings given as a table, with the keys of ``coldcheck.toml``. Raises SettingsError."""
    return given(table)


def amount_of(values: Mapping[str, Value], name: str, new: str | float) -> Amount:
    """What a value is to be; raises MissingError and BadValueError."""
    if name not in values:
        raise missing("a value", name, values)
    try:
        return valued.amount_of(values[name], new)
    except BadValue as bad:
        hint = f"; {bad.hint}" if bad.hint else ""
        raise BadValueError(f"{name}: found {bad.found}; expected {bad.expected}{hint}") from None
