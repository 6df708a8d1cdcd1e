"""Standby switches drawn at rest, as schematics often are: at work they are closed.

Without this a set whose standby switch is drawn open would be solved and judged in standby alone.
A switch across something (a standby that shorts a winding) is open at work and stays as drawn.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.circuit.model import LANDMARKS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from coldcheck.circuit.model import Branch

WORD = "standby"


def standby_at_work(branches: Mapping[str, Branch]) -> dict[str, Branch]:
    """The branches, with every standby switch in a line closed."""
    at_rest = [b for b in branches.values() if _at_rest(b)]
    if not at_rest:
        return dict(branches)
    whole: nx.Graph[str] = nx.Graph()
    whole.add_edges_from((b.a, b.b) for b in branches.values() if b.traits.metal and b.closed)
    closed = {b.name: replace(b, closed=True) for b in at_rest if _in_line(whole, b)}
    return {**branches, **closed}


def _at_rest(branch: Branch) -> bool:
    words = () if branch.part is None else branch.part.words
    return branch.traits.by_hand and not branch.closed and WORD in words


def _in_line(whole: nx.Graph[str], branch: Branch) -> bool:
    """Whether nothing but the switch, and what leads to gnd, joins its two ends.

    A switch to gnd itself (in the tap of a winding) is in line where nothing else leads there.
    """
    ends = {branch.a, branch.b}
    kept = set(whole) if ends & set(LANDMARKS) else set(whole) - set(LANDMARKS)
    graph = whole.subgraph(kept)
    return not ends <= set(graph) or not nx.has_path(graph, branch.a, branch.b)
