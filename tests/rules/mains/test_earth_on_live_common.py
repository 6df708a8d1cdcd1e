"""The protective earth on the mains side of a set without a transformer."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "mains.earth-on-live-common"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_the_green_wire_on_the_bus(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(RULE, "wrong"), RULE)
    assert found.at == ("earth", "gnd", "chassis")
    assert (found.level, found.state, found.certainty) == ("danger", "drawing", "certain")
    assert "the protective earth is on gnd, which is on the neutral" in found.message
    assert found.remedy.startswith("Do not plug it in. Take the wire of `earth` off gnd")
    assert "class Y" in found.remedy
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize(
    ("written", "instead", "fires"),
    [
        ("earth -- gnd", "earth -- chassis", False),  # where it belongs
        ("earth -- gnd", "earth --[R9 1k2]-- gnd", False),  # no wire
        (
            "neutral -- gnd",
            "neutral --[S2 switch 250 Vac 3 A]-- gnd",
            True,
        ),  # the switch"s other pole
        ("neutral -- gnd", "neutral --[R9 1M]-- gnd", False),  # a leak
        ("earth -- gnd", "earth -- gnd\nchassis -- gnd", False),  # mains.live-chassis
    ],
)
def test_where_earth_may_be(
    written: str, instead: str, fires: bool, changed: Callable[[str, str, str, str], Review]
) -> None:
    assert bool(told(changed(RULE, "wrong", written, instead))) is fires
