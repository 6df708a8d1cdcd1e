"""Ripple current against the rating, by Ohm's law."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review


@pytest.mark.parametrize(("rated", "found"), [("0.4 A", True), ("0.5 A", False), ("", False)])
def test_ripple(rated: str, found: bool, review: Callable[[str], Review]) -> None:
    # 100 V at 60 Hz, 10 % high, across 10 uF (265 ohm) behind 1 ohm: 0.415 A.
    looked = review(
        "mains 120 V 60 Hz\ntransformer T1\n primary pri 120 V 0.01 ohm\n"
        " winding w 100 V 1 ohm\nT1.w.2 -- gnd\n"
        f"T1.w.1 --[C1 10 uF 630 V film {rated}]-- gnd\n"
    )
    assert not [n for n in looked.not_judged if "failed" in n.reason]
    hits = [f for f in looked.findings if f.rule == "capacitor.ripple-current"]
    assert [f.at for f in hits] == ([("C1",)] if found else [])
    for f in hits:
        assert (f.level, f.state) == ("notice", "high line")
        assert f.evidence["used"].value == pytest.approx(0.415, rel=0.01)
