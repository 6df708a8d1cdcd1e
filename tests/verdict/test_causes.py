"""The first finding is the thing to change: one slip at a time in drawings that are sound."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from tests.verdict import causes_drawings as drawn

from coldcheck.drawing import parse_drawing
from coldcheck.judge.finding import CHANGE, EXPLAINS, LEVELS, Finding
from coldcheck.verdict.alike import told_once

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

SOUND = {
    "single-ended": drawn.SINGLE_ENDED,
    "push-pull": drawn.PUSH_PULL,
    "regulated": drawn.REGULATED,
    "pentode": drawn.PENTODE,
    "split load": drawn.SPLIT_LOAD,
    "choke input": drawn.CHOKE_INPUT,
    "pair": drawn.PAIR,
    "can": drawn.CAN,
    "portable": drawn.PORTABLE,
    "lifted": drawn.LIFTED,
    "totem": drawn.TOTEM,
}

EXCHANGED = """V2A.{0}
B1 --[R6 47k 1 W]-- V2A.{1}
V2A.cathode --[R7 2k2 0.5 W]-- gnd
V2A.{1}"""

WRONG = [
    ("single-ended", "[R4 1k5", "[R4 15k", "R4", "1.5 kohm"),
    ("single-ended", "[R3 100k", "[R3 10k", "R3", "100 kohm"),
    ("single-ended", "[R7 270 ohm", "[R7 27 ohm", "R7", "270 ohm"),
    ("single-ended", "[R7 270 ohm", "[R7 2k7", "R7", "270 ohm"),
    ("single-ended", "[R2 470 ohm", "[R2 470k", "R2", "470 ohm"),
    ("single-ended", "[R6 470k", "[R6 4M7", "R6", "470 kohm"),
    ("single-ended", "pri   230 V", "pri   115 V", "T1.pri", "230 V"),
    ("single-ended", "265 V ct 265 V", "530 V ct 530 V", "T1.ht", "530 V"),
    ("single-ended", "T1.ht.2 -- V3.plate2", "T1.ht.2 -- V3.plate1", "V3.plate1", "V3.plate2"),
    ("single-ended", "[R7 270 ohm 5 W]-- gnd", "[R7 270 ohm 5 W]-- GN", "GN", "gnd"),
    ("single-ended", "[R7 270 ohm 5 W]-- gnd", "[R7 270 ohm 5 W]-- V2.grid", "R7", "gnd"),
    ("single-ended", "[R6 470k 0.5 W]-- gnd", "[R6 470k 0.5 W]-- B1", "R6", "gnd"),
    ("single-ended", "PA -- V1A.plate", "PA -- V1A.plate\nPA -- DRV", "C4", "DRV"),
    ("single-ended", "[R3 100k 0.5 W]-- PA", "[R3 100k 0.5 W]-- DRV", "R3", "PA"),
    ("push-pull", "<-[D1 1N4007]--", "--[D1 1N4007]->", "D1", "Turn D1 round"),
    ("push-pull", "[R7 68k", "[R7 6k8", "R7", "68 kohm"),
    ("push-pull", "[R6 68k", "[R6 6k8", "R6", "68 kohm"),
    ("push-pull", "[R4 220k", "[R4 22k", "R4", "220 kohm"),
    ("push-pull", "[R22 6k8", "[R22 680 ohm", "R22", "6.8 kohm"),
    ("push-pull", "[R21 10k", "[R21 100k", "R21", "10 kohm"),
    ("push-pull", "R8 220k 0.5 W]-- BIAS", "R8 220k 0.5 W]-- B1", "R8", "BIAS"),
    ("push-pull", "B1 -- T2.ct", "B1 -- T2.p1", "T2", "is T2.ct meant"),
    ("push-pull", "pri   230 V", "pri   115 V", "T1.pri", "230 V"),
    ("regulated", "REG -- V1.plate\nV1.cathode --", "REG -- V1.cathode\nV1.plate --", "V1",
     "V1.plate and V1.cathode"),
    ("regulated", "[R1 8k2", "[R1 820 ohm", "R1", "8.2 kohm"),
    ("regulated", "[R3 47k", "[R3 4k7", "R3", "47 kohm"),
    ("regulated", "V2B.plate\nV2B.cathode --[R6", "V2B.cathode\nV2B.plate --[R6", "V2B",
     "plate"),
    ("pentode", "[R5 1M 0.5 W]-- gnd", "[R5 1M 0.5 W]-- B1", "R5", "gnd"),
    ("pentode", "[R3 1M", "[R3 10k", "R3", "kohm"),
    ("pentode", "[R4 2k2", "[R4 22k", "R4", "2.2 kohm"),
    ("pentode", "[R7 2k2", "[R7 220k", "R7", "2.2 kohm"),
    ("pentode", EXCHANGED.format("grid", "plate"), EXCHANGED.format("plate", "grid"), "V2A",
     "V2A.plate and V2A.grid"),
    ("split load", "[R6 1M]-- TAIL", "[R6 1M]-- gnd", "R6", "TAIL"),
    ("choke input", "[R1 8k2", "[R1 82k", "R1", "8.2 kohm"),
    ("pair", "R14 1M]-- TJ\nV2B.grid --[R15 1M]-- TJ", "R14 1M]-- gnd\nV2B.grid --[R15 1M]-- gnd",
     "R15", "R14 and R15 are likely meant to be on TJ"),
    ("can", "pri.2 -- B1\nIF1.sec.2 -- AVC", "pri.2 -- AVC\nIF1.sec.2 -- B1", "IF1.pri",
     "Exchange IF1.pri.2 and IF1.sec.2"),
    ("portable", "[R1 390 ohm", "[R1 3k9", "R1", "390 ohm"),
    ("lifted", "T1.h2.ct -- LIFT", "T1.h2.ct -- gnd", "T1.h2.ct",
     "T1.h2.ct is likely meant to be on LIFT"),
    ("totem", "V2A.plate --[R15 1k]", "V2B.cathode --[R15 1k]", "R15", "V2A.plate"),
    ("pentode", "--+[E1 300 V 1 ohm]--", "--[E1 300 V 1 ohm]+--", "E1", "Turn E1 round"),
]  # fmt: skip
"""Sound drawing, what is written there, the slip, the place to change, what its remedy says."""


@pytest.mark.parametrize("name", SOUND)
def test_the_drawings_are_sound(name: str, review: Callable[[str], Review]) -> None:
    assert review(SOUND[name]).at_or_above("notice") == ()


@pytest.mark.parametrize(("name", "right", "wrong", "place", "meant"), WRONG)
def test_the_first_finding_names_the_thing_to_change(
    name: str, right: str, wrong: str, place: str, meant: str, review: Callable[[str], Review]
) -> None:
    assert SOUND[name].count(right) == 1
    first = review(SOUND[name].replace(right, wrong)).findings[0]
    assert place in first.at
    assert meant in first.remedy
    assert first.certainty in ("likely", "certain")


def wrong(name: str, right: str, slip: str) -> str:
    return SOUND[name].replace(right, slip)


def test_what_is_explained_is_listed_and_never_graver(review: Callable[[str], Review]) -> None:
    """230 V on a primary for 115 V: everything doubles, and one line says why."""
    first, *others = review(wrong("single-ended", "pri   230 V", "pri   115 V")).findings
    assert first.at[0] == "T1.pri"
    assert first.rule == "supply.primary-voltage"
    assert first.evidence[CHANGE] == "T1.pri is for 115 V; with 230 V"
    for rule in ("heater.wrong-voltage", "capacitor.over-voltage"):
        assert rule in f"{first.rule} {first.evidence[EXPLAINS]}"
    assert LEVELS.index(first.level) >= LEVELS.index("caution")
    assert all(LEVELS.index(f.level) <= LEVELS.index(first.level) for f in others)
    assert "What would do it: look at the original again: T1.pri" in first.remedy


def test_what_no_rule_says_itself_is_put_in_front(review: Callable[[str], Review]) -> None:
    """A high-voltage winding of twice its volts: no rule knows, a finding at the tube says it."""
    first = review(wrong("single-ended", "265 V ct 265 V", "530 V ct 530 V")).findings[0]
    assert first.at[0] == "T1.ht"
    assert first.message.startswith("T1.ht is for 1060 V; with 530 V this goes away, and ")
    assert "If that is not it: " in first.remedy


def test_either_of_two_that_explain_alike_is_named(review: Callable[[str], Review]) -> None:
    """A tenth of the bias: the lower resistor a decade down, or the upper one a decade up."""
    first = review(wrong("push-pull", "[R22 6k8", "[R22 680 ohm")).findings[0]
    assert {"R21", "R22"} <= set(first.at)
    assert " Or: " in first.remedy


def test_a_larger_rating_is_no_cause(review: Callable[[str], Review]) -> None:
    """C1 is rated 350 V on 400 V: it is to be changed itself, and no slip elsewhere is made up."""
    looked = review(wrong("single-ended", "[C1 20 uF 500 V]", "[C1 20 uF 350 V]"))
    first = looked.findings[0]
    assert (first.rule, first.at) == ("capacitor.over-voltage", ("C1",))
    assert not any(f.is_cause for f in looked.findings)


def test_with_a_waived_finding_nothing_is_put_under_it(review: Callable[[str], Review]) -> None:
    text = wrong("single-ended", "[R2 470 ohm", "[R2 470k")
    looked = review(text + 'accept tube.plate-voltage at V2 because "a test of waivers"\n')
    assert [f.at for f in looked.findings if f.rule == "tube.plate-voltage"] == [("V2",)]


def test_halves_that_say_the_same_are_told_once(review: Callable[[str], Review]) -> None:
    """Both output tubes too hot by the same figures: one finding, both places."""
    looked = review(wrong("push-pull", "B1 --[R1 4k7", "B1 --[R1 47 ohm"))
    assert looked.circuit is not None
    span = looked.circuit.span("V2")
    one, other, third = (
        Finding("tube.plate-dissipation", "notice", "warm", (n,), span, f"{n}: {w} W", "Cool it")
        for n, w in (("V2", 14), ("V3", 14), ("V1A", 14))
    )
    (told, apart) = told_once(looked.circuit, [one, other, third])
    assert told.at == ("V2", "V3")
    assert told.message == "V2: 14 W (the same at V3)"
    assert apart == third
    hotter = replace(other, message="V3: 15 W")
    assert told_once(looked.circuit, [one, hotter]) == [one, hotter]
    accepted = replace(other, accepted="a reason")
    assert told_once(looked.circuit, [one, accepted]) == [one, accepted]


def test_a_sound_drawing_is_not_searched(
    monkeypatch: pytest.MonkeyPatch, review: Callable[[str], Review]
) -> None:
    from coldcheck.verdict import causes

    def never(*_: object) -> None:
        raise AssertionError("a suspect of a clean drawing was looked at")

    monkeypatch.setattr(causes, "_look", never)
    monkeypatch.setattr(causes, "suspects", never)
    assert review(drawn.PENTODE).at_or_above("notice") == ()


def test_what_is_undone_stays_where_it_is_written() -> None:
    """A changed drawing keeps its places; a value is changed in every instance of a sheet."""
    from coldcheck.drawing.model import Chain
    from coldcheck.drawing.redrawn import revalued, turned
    from coldcheck.drawing.units import quantity

    drawing = parse_drawing("A --[R1 10k]-- B --[D1 1N4007]-> C\n", "t.tube")
    (chain,) = (s for s in drawing.statements if isinstance(s, Chain))
    first, second = (x for x in chain.links if x is not None)
    (more,) = revalued(drawing, first.span, quantity(1e3, "ohm")).statements
    assert isinstance(more, Chain)
    assert more.links[0] == replace(first, value=quantity(1e3, "ohm"))
    (other,) = turned(drawing, second.span).statements
    assert isinstance(other, Chain)
    assert [x.arrow for x in other.links if x is not None] == [None, "left"]


PASS_TUBE = """B1 -- V1.plate1
B1 -- V1.plate2
B1 --+[E1 300 V]-- gnd
tube V1 5AR4
tube V2 6L6GC
V1.h1 --+[E2 5 V]-- V1.h2
V2.h1 --+[E3 6.3 V]-- V2.h2
V2.h2 -- V2.cathode
V1:8 --[R1 150k 2 W]-- gnd
V2.plate -- V1:8
V2.screen --[R2 470 1 W]-- V1:8
V2.cathode --[R6 10k 10 W]-- gnd
V2.grid --[R3 1k]-- REF
V1:8 --[R4 100k 2 W]-- REF --[R5 220k 2 W]-- gnd
"""

LONG_TAIL = """B1 --+[E1 350 V]-- gnd
tube V1 12AX7
V1.h1 --+[E2 12.6 V]-- V1.h2
V1.h2 -- gnd
signal IN 0.3 V 1 kHz
IN --[C1 22 nF 400 V film]-- G1 --[R1 1M]-- T
G1 -- V1A.grid
V1B.grid --[R2 1M]-- T
V1B.grid --[C2 100 nF 400 V film]-- FB
V1A.cathode -- K
V1B.cathode -- K
K --[R3 470 ohm]-- T
T --[R4 10k 1 W]-- FB
FB --[R5 100 ohm]-- gnd
OUT --[R6 4k7]-- FB
B1 --[R7 82k 1 W]-- V1A.plate --[C3 22 nF 400 V film]-- O1 --[R9 220k]-- gnd
B1 --[R8 100k 1 W]-- V1B.plate --[C4 22 nF 400 V film]-- O2 --[R10 220k]-- gnd
OUT --[R11 8 ohm 5 W]-- gnd
"""


def test_a_plate_on_the_rectifiers_cathode_pin_is_fed(review: Callable[[str], Review]) -> None:
    """The 5AR4 gives its output at pin 8, which is an end of its heater too."""
    assert "drawing.plate-on-heater-line" not in {f.rule for f in review(PASS_TUBE).findings}


def test_the_foot_of_a_long_tail_is_no_grid_leak(review: Callable[[str], Review]) -> None:
    """100 ohm at the foot are for the feedback; 100 kohm there would destroy the bias."""
    assert "resistor.unlikely-value" not in {f.rule for f in review(LONG_TAIL).findings}


UNSEEN = Path(__file__).parents[1] / "unseen"

SLIPS = [
    ("four/035", "T1.fil.ct is wired to gnd; without that wire"),
    ("four/039", "V3.grid and V3.screen are wired so; exchanged"),
    ("four/047", "J2.tip is wired to K2; on OUT"),
    ("four/051", "R11 is on PB; on G4"),
    ("four/075", "R33 is 33 kohm and R34 270 kohm; exchanged"),
    ("four/078", "P2.bottom is wired to gnd; on BIAS"),
    ("seven/001", "R10 is 82 ohm; with 820 ohm"),
    ("seven/071", "R14 is on gnd; on V2A.grid"),
    ("eight/054", "T1.ht.1 and T1.ht.ct are wired so; exchanged"),
]
"""Drawing of an unseen set (after its first sight), and the change it has to name."""


@pytest.mark.parametrize(("drawing", "change"), SLIPS)
def test_a_lead_on_the_wrong_point_is_named(
    drawing: str, change: str, review: Callable[[str], Review]
) -> None:
    looked = review((UNSEEN / f"{drawing}.tube").read_text("utf-8"))
    first = next(f for f in looked.findings if f.rule.partition(".")[0] != "touch")
    assert first.evidence[CHANGE] == change
    assert first.message.startswith(change.partition(";")[0])


@pytest.mark.parametrize(
    ("drawing", "rule", "at"),
    [
        ("seven/034", "output.taps-swapped", ("V2.screen", "V3.screen", "R11", "R12", "T2")),
        ("seven/080", "supply.winding-shorted", ("T1.ht", "T1.ht.2", "D2")),
        ("sixteen/004", "output.taps-swapped", ("V3.screen", "V4.screen", "R20", "R21", "T2")),
    ],
)
def test_what_names_wiring_comes_first(
    drawing: str, rule: str, at: tuple[str, ...], review: Callable[[str], Review]
) -> None:
    """Neither of the findings beside it nor behind a guess at a value elsewhere."""
    first = review((UNSEEN / f"{drawing}.tube").read_text("utf-8")).findings[0]
    assert (first.rule, first.at) == (rule, at)
    assert first.blame.first


def test_a_rule_that_names_the_lead_says_it_its_own_way(review: Callable[[str], Review]) -> None:
    first = review((UNSEEN / "seven" / "035.tube").read_text("utf-8")).findings[0]
    assert (first.rule, first.at[0]) == ("grid.bias-unused", "R7")
    assert CHANGE not in first.evidence
    assert first.remedy == "Take R7 to BM instead of gnd"


def test_what_hands_reach_is_told_by_itself(review: Callable[[str], Review]) -> None:
    """The jack ahead of its capacitor explains seven findings; the shock at it is none of them."""
    first = review((UNSEEN / "four" / "047.tube").read_text("utf-8")).findings[0]
    assert (first.rule, first.level, first.at[0]) == ("touch.live-terminal", "warning", "J2")


def test_a_supply_that_is_too_high_is_not_mended_by_taking_its_capacitor_away(
    review: Callable[[str], Review],
) -> None:
    """Without its reservoir everything is lower, and so within its limits."""
    looked = review(drawn.SINGLE_ENDED.replace("265 V ct 265 V", "360 V ct 360 V"))
    assert "tube.plate-voltage" in {f.rule for f in looked.findings}
    assert not [f for f in looked.findings if str(f.evidence.get(CHANGE, "")).startswith("C")]


def test_a_bleeder_a_decade_too_large_is_named(review: Callable[[str], Review]) -> None:
    """Once a dearer load was named for it; its writer says R1 15k (tests/unseen/four)."""
    first = review((UNSEEN / "four/010.tube").read_text("utf-8")).findings[0]
    assert first.at[0] == "R1"
    assert first.evidence[CHANGE] == "R1 is 150 kohm; with 15 kohm"


@pytest.mark.parametrize("drawing", ["four/003", "four/007", "four/063"])
def test_no_slip_is_made_up(drawing: str, review: Callable[[str], Review]) -> None:
    """A halved winding and a dropper of a hundred times its ohms mend nothing."""
    looked = review((UNSEEN / f"{drawing}.tube").read_text("utf-8"))
    assert not any(f.is_cause for f in looked.findings)
