"""The volts of a state in the few letters a drawing has room for."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Protocol

from coldcheck.drawing.units import volt_digits
from coldcheck.picture.grid import Tone, text_width

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from coldcheck.picture.model import Note, Picture

NIL, HUM = 0.005, 0.05
"""Volts below which nothing is written: DC, and the rms of AC."""


class Level(Protocol):
    """A voltage over one cycle."""

    @property
    def dc(self) -> float: ...  # noqa: D102
    @property
    def ac_rms(self) -> float: ...  # noqa: D102


def volts_of(levels: Mapping[str, Level]) -> dict[str, str]:
    """Net -> its DC to gnd, or its AC where there is hardly any DC: ``165 V``, ``6.30 V~``."""
    found = {net: _text(level) for net, level in levels.items()}
    return {net: text for net, text in found.items() if text}


def widest(states: Iterable[Mapping[str, str]]) -> dict[str, str]:
    """Net -> the words of that state which need most room, for a picture that shows any of them."""
    found: dict[str, str] = {}
    for words in states:
        for net, text in words.items():
            kept = found.get(net, "")
            found[net] = max(kept, text, key=lambda t: text_width(t, Tone.VOLTS))
    return found


def with_volts(picture: Picture, words: Mapping[str, str]) -> Picture:
    """The picture with the volts of a state in the places it has for them."""
    panels = tuple(
        replace(p, notes=tuple(_noted(note, words) for note in p.notes)) for p in picture.panels
    )
    return replace(picture, panels=panels)


def _noted(note: Note, words: Mapping[str, str]) -> Note:
    if note.word.tone is not Tone.VOLTS:
        return note
    return replace(note, word=replace(note.word, text=words.get(note.about, "")))


def _text(level: Level) -> str:
    if level.ac_rms > 3 * abs(level.dc):
        return f"{volt_digits(level.ac_rms)} V~" if level.ac_rms > HUM else ""
    return f"{volt_digits(level.dc)} V" if abs(level.dc) > NIL else ""
