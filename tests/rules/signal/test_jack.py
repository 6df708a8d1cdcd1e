"""Jacks without a plug: a loop still has to pass."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

PAIRS = Path(__file__).parents[3] / "samples" / "mistakes"


def muted(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == "signal.return-muted"]


def test_a_return_on_gnd(sample: Callable[[str, str], Review], only: Callable[..., object]) -> None:
    found = only(sample("signal.return-muted", "wrong"), "signal.return-muted")
    assert (found.at, found.state, found.level) == (("J3", "J2"), "unplugged", "notice")
    assert found.remedy == "Wire J3.switch to the tip of J2 in place of gnd"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("J3.switch -- gnd", "J3.switch -- J2.tip"),
        ("J3.switch -- gnd", ""),  # not wired: nothing mutes it
        ("J3.switch -- gnd", "J3.switch -- gnd\nsignal AUX 0.3 V 1 kHz\nAUX -- J3.tip"),
        ("J2.tip --[R5 100k 0.5 W]-- gnd", "J2.tip --[R5 100k 0.5 W]-- gnd\nJ2.tip -- OUT"),
        ("signal IN 20 mV 1 kHz\n", ""),  # no signal is drawn, so none is lost
    ],
)
def test_what_is_no_muted_return(old: str, new: str, review: Callable[[str], Review]) -> None:
    text = (PAIRS / "signal.return-muted" / "wrong.tube").read_text("utf-8")
    assert text.count(old) == 1
    assert muted(review(text)) == [("J3", "J2")]
    assert muted(review(text.replace(old, new))) == []
