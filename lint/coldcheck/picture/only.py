"""One panel of a picture by itself."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.picture.sheet import on_sheet

if TYPE_CHECKING:
    from coldcheck.picture.model import Panel, Picture


def only(picture: Picture, name: str) -> Picture | None:
    """The panels called so, or those a part of that name is in; ``None`` where there is none."""
    folded = name.casefold()
    chosen = [p for p in picture.panels if p.name.casefold() == folded]
    chosen = chosen or [p for p in picture.panels if _holds(p, folded)]
    if not chosen:
        return None
    sheet = on_sheet(picture.title, picture.state, chosen)
    about = {call.number for panel in chosen for call in panel.calls}
    return replace(sheet, entries=tuple(e for e in picture.entries if e.number in about))


def _holds(panel: Panel, folded: str) -> bool:
    names = {item.device.name.casefold() for item in panel.items}
    return bool(names & {folded, f"{folded} heater", f"signal {folded}"}) or any(
        name.removeprefix(folded) in ("a", "b", "c") for name in names if name.startswith(folded)
    )
