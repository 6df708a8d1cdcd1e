"""Whether there are any numbers to judge by."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from coldcheck.rules.model import Case


def unsolved(case: Case) -> str | None:
    """Why no state at all has numbers; ``None`` as soon as one has.

    Single states that were not solved are said once for the whole review.
    """
    if any(True for _ in case.solved()):
        return None
    reasons = [s.reason for s in case.solutions.values() if s.reason]
    return f"no voltages could be worked out: {reasons[0] if reasons else 'nothing was solved'}"
