"""Strings on the mains, and on a battery."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "heater.string-order"
TUBES = "tube V1 12AV6\ntube V2 12BA6\nV2.grid --[R1 1M]-- gnd\nV1.grid --[R2 1M]-- gnd\n"
FEEDS = {
    "mains": "mains 24 V 50 Hz\nline --[F1 fuse 1 A]-- HOT\nneutral -- gnd\n",
    "battery": "HOT --+[E1 25.2 V]-- gnd\n",
}


@pytest.mark.parametrize(("feed", "found"), [("mains", True), ("battery", False)])
def test_only_alternating_current_hums(
    feed: str, found: bool, review: Callable[[str], Review]
) -> None:
    """12.6 V of DC against 25.2 V say nothing of hum."""
    text = f"{FEEDS[feed]}{TUBES}HOT --[V1 heater]-- MID\nMID --[V2 heater]-- gnd\n"
    hits = [f for f in review(text).findings if f.rule == RULE]
    assert bool(hits) is found
    for hit in hits:
        assert "V1" in hit.at
        assert hit.evidence["heater_rms"].value == pytest.approx(24, rel=0.02)
