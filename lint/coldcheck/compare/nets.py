"""Which net of one circuit is which net of the other.

Names alone do not decide: the names of anonymous points come from what is wired to them, and an
author may rename any point or part. Nets are paired by what they share (electrodes, parts, names)
and by their structural colour: a hash of what is wired to them, and to their neighbours, without
any name (colour refinement, the one-dimensional Weisfeiler-Leman method).
"""

from __future__ import annotations

from collections import Counter, defaultdict
from hashlib import sha256
from typing import TYPE_CHECKING

from coldcheck.circuit.model import LANDMARKS
from coldcheck.compare.specs import branch_spec, ends

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from coldcheck.circuit.model import Circuit

ROUNDS = 8
WEIGHTS = {"landmark": 1000, "electrode": 4, "colour": 3, "name": 2, "part": 1}


def paired(old: Circuit, new: Circuit) -> dict[str, str]:
    """Net of ``old`` -> net of ``new``; each used once, the surest pairs first.

    O(p) in the number of pairs of nets that share anything; parts on gnd do not multiply it.
    """
    olds, news = tokens(old), tokens(new)
    holders: dict[tuple[str, str], list[str]] = defaultdict(list)
    for net, has in news.items():
        for token in has:
            holders[token].append(net)
    scores: Counter[tuple[str, str]] = Counter()
    for net, has in olds.items():
        for token in has:
            for other in holders[token]:
                scores[net, other] += WEIGHTS[token[0]]
    return _greedy(scores)


def _greedy(scores: Mapping[tuple[str, str], int]) -> dict[str, str]:
    pairs: dict[str, str] = {}
    taken: set[str] = set()
    for (a, b), _ in sorted(scores.items(), key=lambda item: (-item[1], item[0])):
        if a not in pairs and b not in taken:
            pairs[a] = b
            taken.add(b)
    return pairs


def tokens(circuit: Circuit) -> dict[str, set[tuple[str, str]]]:
    """Net -> what it can be recognised by."""
    found: dict[str, set[tuple[str, str]]] = {net: set() for net in circuit.graph.nodes}
    for net, token in _tokens(circuit):
        found.setdefault(net, set()).add(token)
    once = Counter(c for c in colours(circuit).values())
    for net, colour in colours(circuit).items():
        if once[colour] == 1:
            found[net].add(("colour", colour))
    return found


def _tokens(circuit: Circuit) -> Iterator[tuple[str, tuple[str, str]]]:
    for net, names in circuit.names.items():
        for name in names:
            yield net, ("landmark" if name in LANDMARKS else "name", name)
    for section in circuit.sections():
        for electrode, net in section.electrodes.items():
            yield net, ("electrode", f"{section.name}.{electrode}")
    for branch in circuit.branches.values():
        for net, mark in ends(branch):
            if net not in LANDMARKS:
                yield net, ("part", f"{branch.name}{mark}")


def colours(circuit: Circuit) -> dict[str, str]:
    """Net -> a hash that depends on what is wired where, and on no name but a landmark's."""
    colour = {net: net if net in LANDMARKS else "" for net in circuit.graph.nodes}
    edges = [(branch_spec(b), *ends(b)) for b in circuit.branches.values()]
    tubes = [
        (s.type.kind.value, circuit.tubes[s.tube].type.name, sorted(s.electrodes.items()))
        for s in circuit.sections()
    ]
    for _ in range(ROUNDS):
        around: dict[str, list[str]] = defaultdict(list)
        for spec, (a, mark_a), (b, mark_b) in edges:
            around[a].append(f"{spec}|{mark_a}|{colour[b]}")
            around[b].append(f"{spec}|{mark_b}|{colour[a]}")
        for kind, name, electrodes in tubes:
            whole = _hash(f"{e}={colour.get(n, '')}" for e, n in electrodes)
            for electrode, net in electrodes:
                around[net].append(f"{kind} {name}.{electrode}|{whole}")
        colour = {n: _hash((c, *sorted(around[n]))) for n, c in colour.items()}
    return colour


def _hash(parts: Iterable[str]) -> str:
    return sha256("\n".join(parts).encode("utf-8")).hexdigest()[:16]
