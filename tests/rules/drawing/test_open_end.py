"""Parts that lead nowhere: which lead is named."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review


def test_behind_a_winding_with_one_end_wired_that_winding_is_named(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    """A lead nothing is wired to is not written in the drawing; the text had no name for it."""
    looked = review(
        "mains 230 V 50 Hz\ntransformer T1\nprimary pri 230 V 20 ohm\n"
        "winding bias 50 V 20 mA 40 ohm\nline -- T1.pri.1\nT1.pri.2 -- neutral\n"
        "T1.bias.1 <-[D1 1N4007]-- NEG\nNEG --[R1 10k]-- gnd\ngnd --+[C1 47 uF 100 V]-- NEG\n"
    )
    found = only(looked, "supply.open-rectifier")
    assert found.at == ("T1.bias", "D1")
    assert "T1.bias.2 is not wired" in found.message
    assert "drawing.dead-end at D1, T1.bias.2" in str(found.evidence["explains"])
