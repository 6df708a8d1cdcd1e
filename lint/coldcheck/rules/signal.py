"""Rules on what the signal meets: feedback, loads, swings. Spread over modules signal_*."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.rules import (
    signal_coupling,
    signal_feedback,
    signal_follower,
    signal_jack,
    signal_parallel,
    signal_screen,
    signal_source,
    signal_supply,
)

if TYPE_CHECKING:
    from coldcheck.rules.model import Rule

RULES: tuple[Rule, ...] = (
    *signal_follower.RULES,
    *signal_screen.RULES,
    *signal_supply.RULES,
    *signal_coupling.RULES,
    *signal_parallel.RULES,
    *signal_feedback.RULES,
    *signal_jack.RULES,
    *signal_source.RULES,
)
