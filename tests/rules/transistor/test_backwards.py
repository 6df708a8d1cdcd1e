"""Transistors that carry their current the wrong way."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

BODY = "transistor.body-diode-carries"


def test_drain_and_source_exchanged(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """60 V less a diode's 0.8 V over 1 kohm is 59.2 mA, whatever the gate is at."""
    found = only(sample(BODY, "wrong"), BODY)
    assert (found.at, found.state, found.level) == (("Q1",), "warm", "notice")
    assert found.evidence["current"].value == pytest.approx(59.2e-3, rel=0.01)
    assert found.evidence["across"].value == pytest.approx(0.8, abs=0.1)
    assert found.remedy == "Exchange Q1.drain and Q1.source"
    assert not [f for f in sample(BODY, "right").findings if f.rule == BODY]


REVERSE = """B1 --+[E1 {volts} V 1 A]-- gnd
transistor Q1 IRF510
B1 --[R1 {ohms}]-- Q1.source
Q1.drain -- gnd
Q1.gate --[R2 1k]-- Q1.source
"""


@pytest.mark.parametrize(
    ("volts", "ohms", "fires"),
    # 10 V less 0.6 V over 9.1 and 9.8 kohm are 1.03 and 0.96 mA.
    [(10, "9.1k", True), (10, "9.8k", False), (0.2, "10 ohm", False)],
)
def test_a_milliampere_through_the_body_diode(
    volts: float, ohms: str, fires: bool, review: Callable[[str], Review]
) -> None:
    looked = review(REVERSE.format(volts=volts, ohms=ohms))
    assert any(f.rule == BODY for f in looked.findings) is fires


HEAD = "transistor.upside-down"


def test_a_pnp_transistor_where_an_npn_belongs(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """Grids draw all the tail gets: 12 V less a junction over the resistors behind the base."""
    found = only(sample(HEAD, "wrong"), HEAD)
    assert (found.at, found.state, found.level) == (("Q1",), "warm", "notice")
    assert found.evidence["current"].value == pytest.approx(25.6e-3, rel=0.01)
    assert found.message.endswith(
        "2N3906 is a PNP type and stands as an NPN would, or with collector and emitter exchanged"
    )
    assert found.remedy.startswith("Fit an NPN type if Q1 is drawn right")
    assert not [f for f in sample(HEAD, "right").findings if f.rule == HEAD]


TURNED = """{plus}E1 10 V 1 A{minus}
transistor Q1 {type}
B1 --[R1 1M]-- Q1.emitter
Q1.collector -- gnd
B1 --[R2 {ohms}]-- Q1.base
"""


@pytest.mark.parametrize("kind", ["2N3904", "2N3906"])
@pytest.mark.parametrize(("ohms", "fires"), [("9.1k", True), ("9.8k", False)])
def test_a_milliampere_out_of_the_collector(
    kind: str, ohms: str, fires: bool, review: Callable[[str], Review]
) -> None:
    """10 V less 0.6 V over 9.1 and 9.8 kohm are 1.03 and 0.96 mA, PNP with all turned round."""
    plus, minus = ("B1 --+[", "]-- gnd") if kind == "2N3904" else ("gnd --+[", "]-- B1")
    looked = review(TURNED.format(plus=plus, minus=minus, type=kind, ohms=ohms))
    assert looked.readable
    assert any(f.rule == HEAD for f in looked.findings) is fires
