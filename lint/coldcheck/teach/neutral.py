"""A drawing as a pupil gets it: without title, remarks and names that tell what was done to it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from coldcheck.circuit import build_circuit
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing import parse_drawing

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

TITLE = 'drawing "Exercise"'

USUAL = re.compile(r"B\+?\d*|IN\d*|OUT\d*|RES|NEG|BIAS|C-|A[VG]C")
"""Names that every drawing has and that say nothing of a mistake (common practice)."""

_REMARK = re.compile(r'#(?=(?:[^"]*"[^"]*")*[^"]*$).*')


def bare(text: str, *, promises: bool = True) -> str:
    """A drawing without title and remarks; without ``promises`` also without ``expect`` lines."""
    lines = [_REMARK.sub("", line).rstrip() for line in text.splitlines()]
    lines = [TITLE if line.startswith("drawing ") else line for line in lines]
    kept = [line for line in lines if promises or not line.startswith("expect ")]
    squeezed = [a for a, b in zip(kept, ["", *kept], strict=False) if a or b]
    return "\n".join(squeezed).strip("\n") + "\n"


def neutral(*texts: str) -> tuple[str, ...]:
    """Versions of one drawing, bare, their points called ``N1`` and so on alike in all of them."""
    plain = [bare(text) for text in texts]
    circuits = [build_circuit(parse_drawing(text, "drawing")) for text in plain]
    taken = {name for circuit in circuits for name in (*circuit.points, *circuit.branches)}
    telling = [n for circuit in circuits for n in circuit.points if _tells(n)]
    names = _new_names(dict.fromkeys(telling), taken)
    return tuple(_renamed(text, names) for text in plain)


def _tells(name: str) -> bool:
    invented = re.fullmatch(r"\w+[+-]?", name) and name not in LANDMARKS
    return bool(invented) and not USUAL.fullmatch(name)


def _new_names(old: Iterable[str], taken: set[str]) -> dict[str, str]:
    free = (name for n in range(1, len(taken) + 2000) if (name := f"N{n}") not in taken)
    return dict(zip(old, free, strict=False))


def _renamed(text: str, names: Mapping[str, str]) -> str:
    """Whole words only, and none of a lead, a pin or a quoted text."""
    pieces = re.split(r'("[^"]*")', text)
    for old, new in names.items():
        word = re.compile(rf"(?<![\w.:]){re.escape(old)}(?![\w.:])")
        pieces = [p if p.startswith('"') else word.sub(new, p) for p in pieces]
    return "".join(pieces)
