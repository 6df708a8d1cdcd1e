"""Which tubes can share a heater winding: intervals sorted by cathode voltage, and cut."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    Ends: TypeAlias = tuple[float, float]


def split_groups(ends: Mapping[str, Ends], height: Mapping[str, float]) -> list[tuple[str, ...]]:
    """Groups of tubes whose ranges of lift have something in common, lowest cathodes first.

    ``ends`` gives each tube's lowest and highest lift, ``height`` its cathode voltage. One cut
    between two cathode voltages where that is enough (the cut that leaves the most room), else as
    few groups as there can be. A tube whose own range is empty is a group by itself.
    """
    alone = [(name,) for name, (low, high) in ends.items() if low > high]
    rest = sorted((n for n in ends if (n,) not in alone), key=lambda n: height[n])
    groups = _one_cut(ends, rest) or _fewest(ends, rest)
    return sorted([*groups, *alone], key=lambda g: max(height[n] for n in g))


def width(ends: Mapping[str, Ends], names: Collection[str]) -> float:
    """The common range of some tubes, volts; negative where they have none."""
    return min(ends[n][1] for n in names) - max(ends[n][0] for n in names)


def _one_cut(ends: Mapping[str, Ends], rest: list[str]) -> list[tuple[str, ...]]:
    """No cut where all agree, else the best of the cuts after each tube; empty if none is good."""
    if not rest:
        return []
    if width(ends, rest) >= 0:
        return [tuple(rest)]
    cuts = [(tuple(rest[:i]), tuple(rest[i:])) for i in range(1, len(rest))]
    best = max(cuts, key=lambda cut: min(width(ends, g) for g in cut), default=None)
    if best is None or min(width(ends, g) for g in best) < 0:
        return []
    return list(best)


def _fewest(ends: Mapping[str, Ends], rest: list[str]) -> list[tuple[str, ...]]:
    """As few groups as possible: take the lowest upper end, and all that reach down to it."""
    groups = []
    left = sorted(rest, key=lambda n: ends[n][1])
    while left:
        top = ends[left[0]][1]
        groups.append(tuple(n for n in left if ends[n][0] <= top))
        left = [n for n in left if ends[n][0] > top]
    return groups
