"""Which points are joined by plain wire, and what the joined points are called together.

A union-find over *keys*: the canonical name of a point (``gnd``, ``B1``, ``V1A.plate``). The net
takes the name of its best key: a landmark, then the builder's own name, then the lead written
first, then leads nobody wrote, and last a name made from the parts beside a nameless point.
"""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING

from coldcheck.circuit.model import LANDMARKS
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Mapping

LANDMARK, _NAMED, _WRITTEN, WINDING_LEAD, LEAD, PIN, _NAMELESS = range(7)


@dataclass(frozen=True, slots=True)
class Named:
    """The finished nets.

    nets
        Everything, the keys of nameless points too -> net.
    points
        Every lead, every spelling in the drawing and every net's own name -> net.
    names
        Net -> keys, the written ones first in the order of writing.
    """

    nets: Mapping[str, str]
    points: Mapping[str, str]
    names: Mapping[str, tuple[str, ...]]


@dataclass(slots=True)
class Nets:
    """Grows while the drawing is read; :meth:`finish` gives the names."""

    _parent: dict[str, str] = field(default_factory=dict)
    _rank: dict[str, tuple[int, int]] = field(default_factory=dict)
    _written: dict[str, int] = field(default_factory=dict)
    _spellings: dict[str, str] = field(default_factory=dict)
    _labels: dict[str, str] = field(default_factory=dict)

    def lead(self, key: str, grade: int = LEAD) -> str:
        """Add a lead that exists whether or not it is wired."""
        if key not in self._parent:
            self._parent[key] = key
            self._rank[key] = (grade, len(self._rank))
        return key

    def name(self, text: str) -> str:
        """Add a point the builder named, or a landmark (any case); return its key."""
        landmark = text.casefold()
        if landmark in LANDMARKS:
            self.lead(landmark, LANDMARK)
            self._rank[landmark] = (LANDMARK, LANDMARKS.index(landmark))
            return self._write(landmark, text)
        return self._write(self.lead(text, _NAMED), text)

    def write(self, key: str, text: str) -> str:
        """Say that the drawing names the lead ``key``, spelled ``text``."""
        self.lead(key)
        if key not in self._written and self._rank[key][0] in (WINDING_LEAD, LEAD):
            self._rank[key] = (_WRITTEN, len(self._written))
        return self._write(key, text)

    def spell(self, text: str, key: str) -> None:
        """Let ``text`` stand for ``key`` without counting as written."""
        self._spellings.setdefault(text, key)

    def nameless(self, label: str) -> str:
        """Add a point without a name; ``label`` is what to call it if nothing better joins."""
        key = f"\0{len(self._labels)}"
        self._labels[key] = label
        return self.lead(key, _NAMELESS)

    def join(self, a: str, b: str) -> None:
        """Wire two keys together."""
        a, b = self.find(a), self.find(b)
        if a != b:
            best, other = sorted((a, b), key=self._order)
            self._parent[other] = best

    def find(self, key: str) -> str:
        """The key that stands for everything joined to ``key`` so far."""
        while self._parent[key] != key:
            self._parent[key] = self._parent[self._parent[key]]
            key = self._parent[key]
        return key

    def _order(self, key: str) -> tuple[int, int, int, int]:
        """Best first; of what somebody wrote, the drawing's own goes before that of its sheets."""
        grade, index = self._rank[key]
        if grade in (_NAMED, _WRITTEN):
            return (_NAMED, key.count("/"), grade, index)
        return (grade, 0, grade, index)

    def joined(self, a: str, b: str) -> bool:
        """Whether two keys are on one net."""
        return self.find(a) == self.find(b)

    def is_written(self, key: str) -> bool:
        """Whether the drawing itself names this key."""
        return key in self._written

    def finish(self) -> Named:
        """Name every net; O(n log n) in the number of keys."""
        groups: dict[str, list[str]] = {}
        for key in self._parent:
            groups.setdefault(self.find(key), []).append(key)
        nets: dict[str, str] = {}
        points: dict[str, str] = {}
        names: dict[str, tuple[str, ...]] = {}
        taken = set(self._parent)
        for members in groups.values():
            best = min(members, key=self._order)
            net = _unique(self._labels[best], taken) if best in self._labels else best
            shown = [key for key in members if key not in self._labels]
            shown.sort(key=lambda key: self._written.get(key, len(self._parent)))
            names[net] = tuple(shown)
            points |= dict.fromkeys((*shown, net), net)
            nets |= dict.fromkeys(members, net)
        points |= {text: points[key] for text, key in self._spellings.items()}
        return Named(nets | points, points, names)

    def _write(self, key: str, text: str) -> str:
        self._written.setdefault(key, len(self._written))
        self._spellings.setdefault(text, key)
        return key


def _unique(label: str, taken: set[str]) -> str:
    """``label``, or ``label (2)`` and so on where it is taken already; adds it to ``taken``."""
    name, count = label, 1
    while name in taken:
        count += 1
        name = f"{label} ({count})"
    taken.add(name)
    return name
