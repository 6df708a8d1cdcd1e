"""A switch ahead of the reservoir, and a regulator's divider."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review


def of(looked: Review, rule: str) -> list:
    assert looked.readable
    assert not [n for n in looked.not_judged if "failed" in n.reason]
    return [f for f in looked.findings if f.rule == rule]


SUPPLY = """mains 120 V 60 Hz
transformer T1
 primary pri 120 V 5 ohm
 winding ht 260 V ct 260 V 90 mA 220 ohm
 winding fil 5 V 2 A 0.1 ohm
tube V3 5Y3GT heater T1.fil
T1.ht.1 -- V3.plate1
T1.ht.2 -- V3.plate2
T1.ht.ct -- gnd
{wires}
B1 --[R2 6k8 25 W]-- gnd
B1 --+[C2 40 uF 500 V]-- gnd
"""


@pytest.mark.parametrize(
    ("wires", "found"),
    [
        ("V3:8 --[S2 switch 500 V 2 A]-- B1", True),
        ("V3:8 --[S2 switch 500 V 2 A]-- A --[R3 10 ohm]-- B1", True),
        ("V3:8 -- A --+[C1 10 uF 500 V]-- gnd\nA --[S2 switch 500 V 2 A]-- B1", False),
        ("V3:8 -- A --[C1 0.9 uF 500 V]-- gnd\nA --[S2 switch 500 V 2 A]-- B1", True),
        ("V3:8 -- B1", False),
    ],
)
def test_a_switch_and_the_reservoir(
    wires: str, found: bool, review: Callable[[str], Review]
) -> None:
    hits = of(review(SUPPLY.format(wires=wires)), "supply.switch-ahead-of-reservoir")
    assert [(f.at[:2], f.level) for f in hits] == ([(("S2", "V3"), "notice")] if found else [])
    assert all(f.evidence["reservoir"].value == pytest.approx(40e-6, rel=0.03) for f in hits)


@pytest.mark.parametrize(
    ("more", "found"),
    [
        ("SENSE --[R5 220k]-- UNREG", True),
        ("SENSE --[R5 220k]-- REG", False),
        ("SENSE --[R5 220k]-- REG\nSENSE --[R7 10M]-- UNREG", False),
    ],
)
def test_a_regulators_divider(more: str, found: bool, review: Callable[[str], Review]) -> None:
    looked = review(f"""tube V1 6L6GC
    tube V2 6SJ7
    UNREG --+[E1 400 V]-- gnd
    UNREG -- V1.plate
    UNREG --[R9 220 ohm]-- V1.screen
    V1.cathode -- REG --[R8 10k]-- gnd
    UNREG --[R1 220k]-- V2.plate -- V1.grid
    REG --[R3 47k]-- V2.cathode
    gnd --[Z1 zener 82 V 3 W]-> V2.cathode
    V2.suppressor -- V2.cathode
    REG --[R4 100k]-- V2.screen --[R10 100k]-- gnd
    SENSE -- V2.grid
    SENSE --[R6 82k]-- gnd
    {more}""")
    hits = of(looked, "supply.regulator-senses-input")
    assert [f.at for f in hits] == ([("R5", "V2", "V1")] if found else [])


def test_pass_tubes_that_share_the_current_and_a_gas_tube_for_reference(
    sample: Callable[[str, str], Review],
) -> None:
    """The output is behind the sharing resistors; the pass tube is no amplifier of the other."""
    wrong, right = (
        of(sample("supply.regulator-senses-input/shared-pass-tubes", side),
           "supply.regulator-senses-input") for side in ("wrong", "right")
    )  # fmt: skip
    assert [f.at for f in wrong] == [("R9", "V2", "V1A", "V1B")]
    assert wrong[0].message.startswith("R9 takes V2.grid from RAW, the input: V2, which steers V1A")
    assert wrong[0].remedy == "Take R9 to OUT, the output, instead of RAW"
    assert not right


def test_a_cascode_and_the_follower_behind_it_are_no_regulator(
    review: Callable[[str], Review],
) -> None:
    """The upper grid hangs on a divider of the supply, as it has to."""
    looked = review("""tube V1 12AX7
    tube V2 12AX7
    B1 --+[E1 250 V]-- gnd
    signal IN 10 mV 1 kHz
    IN --[C1 100n 100 V film]-- V2A.grid --[R1 1M]-- gnd
    V2A.cathode --[R2 1k5]-- gnd
    V2A.plate -- V1A.cathode
    B1 --[R3 330k]-- G --[R4 120k]-- gnd
    G --[C2 1 uF 160 V film]-- gnd
    G --[R5 1k]-- V1A.grid
    B1 --[R6 100k]-- V1A.plate -- V1B.grid
    B1 -- V1B.plate
    V1B.cathode --[R7 100k]-- gnd
    V1B.cathode --[C3 1 uF 400 V film]-- OUT --[R8 220k]-- gnd
    """)
    assert "supply.regulator-senses-input" not in {f.rule for f in looked.findings}


SHUNTED = "supply.regulator-answer-shunted"


def test_a_capacitor_that_keeps_the_ripple_from_the_error_tube(sample, only) -> None:
    """1 / (2 pi 100 nF x 82k beside 120k) is 32.7 Hz."""
    found = only(sample(SHUNTED, "wrong"), SHUNTED)
    assert (found.at, found.level, found.state) == (("C1", "V2"), "notice", "drawing")
    assert found.evidence["corner"].value == pytest.approx(32.67, rel=1e-3)
    assert found.remedy == "Take C1 from TAP to OUT instead of gnd"


@pytest.mark.parametrize(
    ("old", "new", "count"),
    [
        ("TAP --[C1 100 nF 400 V]-- gnd", "TAP --[C1 100 pF 400 V]-- gnd", 0),
        ("TAP --[C1 100 nF 400 V]-- gnd", "V2.grid --[C1 100 nF 400 V]-- gnd", 1),
        # What the capacitor to the output brings, one to gnd may take at its own frequencies.
        (
            "TAP --[C1 100 nF 400 V]-- gnd",
            "TAP --[C1 100 nF 400 V]-- gnd\nTAP --[C9 100 nF 400 V]-- OUT",
            0,
        ),
        # A reference may be bypassed.
        ("TAP --[C1 100 nF 400 V]-- gnd", "V3.plate --[C1 100 nF 400 V]-- gnd", 0),
    ],
)
def test_what_shunts_a_regulator_s_answer(old: str, new: str, count: int, review) -> None:
    text = (Path("samples/mistakes") / SHUNTED / "wrong.tube").read_text("utf-8")
    assert old in text
    assert len(of(review(text.replace(old, new)), SHUNTED)) == count
