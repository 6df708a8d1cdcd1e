"""What hangs together: the nets that some branches join to a start, and no others."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from coldcheck.circuit.model import Branch, Circuit


def spread(
    circuit: Circuit, start: Iterable[str], leads: Callable[[Branch, str], bool]
) -> frozenset[str]:
    """The nets reached from ``start``, which are among them.

    ``leads(branch, here)`` says whether a branch leads on from a net that was reached. It is asked
    of no branch whose other end was reached before.
    """
    seen = set(start)
    todo = list(seen)
    while todo:
        here = todo.pop()
        for branch in circuit.at(here):
            far = branch.other(here)
            if far not in seen and leads(branch, here):
                seen.add(far)
                todo.append(far)
    return frozenset(seen)
