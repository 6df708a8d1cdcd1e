"""Some panels of a picture by themselves."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.picture.sheet import on_sheet

if TYPE_CHECKING:
    from coldcheck.picture.changed import Changed
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


def around(picture: Picture, changed: Changed) -> Picture:
    """The panels with something changed in them; the whole where none has."""
    chosen = [p for p in picture.panels if _touched(p, changed)]
    return on_sheet(picture.title, picture.state, chosen) if chosen else picture


def _touched(panel: Panel, changed: Changed) -> bool:
    parts = {item.device.name for item in panel.items}
    leads = {name for name, _ in changed.leads}
    return bool(parts & (changed.parts | leads)) or any(w.net in changed.nets for w in panel.wires)


def _holds(panel: Panel, folded: str) -> bool:
    names = {item.device.name.casefold() for item in panel.items}
    return bool(names & {folded, f"{folded} heater", f"signal {folded}"}) or any(
        name.removeprefix(folded) in ("a", "b", "c") for name in names if name.startswith(folded)
    )
