"""Return jacks with tip and contact exchanged."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "signal.jack-contact-exchanged"
WRONG = (Path(__file__).parents[3] / "samples" / "mistakes" / RULE / "wrong.tube").read_text(
    "utf-8"
)


def told(looked: Review) -> list[tuple[str, ...]]:
    assert looked.readable
    return [f.at for f in looked.findings if f.rule == RULE]


def test_a_return(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    found = only(sample(RULE, "wrong"), RULE)
    assert (found.level, found.state) == ("notice", "drawing")
    assert found.at == ("J2", "J2.tip", "J2.switch", "J1")
    assert found.remedy == "Exchange J2.tip and J2.switch"
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize(("old", "new", "found"), [
    # One jack alone may be an output that mutes what follows.
    ("J1.tip -- SEND\n", "J1.tip -- OUT\n", 0),
    # Something else brings the next stage a signal.
    ("RET -- V1B.grid", "RET -- V1B.grid\nsignal RET 0.1 V", 0),
    # No grid behind the contact.
    ("RET -- V1B.grid", "V1B.grid -- gnd", 0),
])  # fmt: skip
def test_where_it_tells(old: str, new: str, found: int, review: Callable[[str], Review]) -> None:
    assert old in WRONG
    assert len(told(review(WRONG.replace(old, new)))) == found


@pytest.mark.parametrize(("tip", "contact", "found"), [("gnd", "IN", 1), ("IN", "gnd", 0)])
def test_an_input(tip: str, contact: str, found: int, review: Callable[[str], Review]) -> None:
    looked = review(
        f"tube V1 12AX7\njack J1\nJ1.tip -- {tip}\nJ1.switch -- {contact}\nJ1.sleeve -- gnd\n"
        "IN --[R1 1M]-- gnd\nIN --[R2 33k]-- V1A.grid\nV1A.cathode --[R3 1k5]-- gnd\n"
        "B1 --+[E1 250 V]-- gnd\nB1 --[R4 100k]-- V1A.plate --[C1 22n 400 V]-- OUT\n"
        "OUT --[R5 1M]-- gnd\nsignal IN 20 mV\n"
    )
    assert told(looked) == [("J1", "J1.tip", "J1.switch")] * found
