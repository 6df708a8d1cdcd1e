"""The values of parts in the drawing's own words: ``4k7``, ``22 nF``, never computed floats."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from coldcheck.drawing.lines import without_comment

if TYPE_CHECKING:
    from coldcheck.circuit.model import Circuit
    from coldcheck.drawing.model import Span

_UNITS = "V|Vac|kV|mV|A|mA|uA|W|mW|ohm|ohms|kohm|Mohm|k|M|F|uF|nF|pF|H|mH|uH|%|Hz|kHz|MHz|p|n|u|m"
_AMOUNT = re.compile(rf"(\S+) ({_UNITS})(?=\s|$)")
_SILENT = frozenset(
    (
        "air", "anti-surge", "at", "battery", "bleeder", "bulb", "capacitor", "carbon",
        "ceramic", "choke", "closed", "composition", "ct", "diode", "dot", "electrolytic",
        "fast", "film", "fuse", "gapped", "heater", "inductor", "insulation", "iron", "jack",
        "lamp", "led", "loudspeaker", "mains", "metal", "mica", "ntc", "oil", "open", "oxide",
        "paper", "parallel", "plugged", "polyester", "polypropylene", "polystyrene", "power",
        "primary", "ptc", "resistor", "series", "signal", "slow", "source", "speaker", "switch",
        "tantalum", "taps", "thermistor", "time-delay", "ungapped", "unplugged", "winding",
        "wirewound", "zener",
    )
)  # fmt: skip
"""Words that a part's symbol or the text says; beside the symbol they would only take room."""


def line_text(circuit: Circuit, span: Span) -> str:
    """What the drawing has at a place, without its comment."""
    line = without_comment(circuit.drawing.line(span))
    return line[span.column - 1 : span.end_column - 1].strip()


def part_lines(text: str, most: int) -> tuple[str, ...]:
    """A part's text as lines: its value, then its ratings together.

    ``most`` is how many lines there may be; a choke's ``8 H 250 ohm`` makes two.
    """
    glued = _AMOUNT.sub("\\1\u00a0\\2", " ".join(text.split()))
    words = [w for w in glued.split(" ") if w and w.lower() not in _SILENT]
    words = [_short(w) for w in words]
    if len(words) <= most:
        return tuple(words)
    head, rest = words[: most - 1], words[most - 1 :]
    return (*head, " ".join(rest))


def _short(word: str) -> str:
    return re.sub(r"\s?ohms?$", "\u00a0Ω" if "\u00a0" in word else "Ω", word)
