"""What follows from a finding is told with it, and nothing that a person can be hurt by is lost."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from coldcheck.judge.finding import LEVELS, REACH, Finding
from coldcheck.verdict import consequences
from coldcheck.verdict.consequences import LINKS, Link, fold
from coldcheck.verdict.registry import RULES

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

TURNED = """mains 120 V 60 Hz
transformer T1
    primary pri   120 V  10 ohm
    winding neg   50 V  20 mA  40 ohm
    winding warm  6.3 V ct  2 A
tube V1 EL84  heater T1.warm
tube V2 EL84  heater T1.warm
T1.warm.ct -- gnd
B1 --+[E1 300 V]-- gnd
T1.neg.2 -- gnd
T1.neg.1 --[D1 1N4007]-> NEG
NEG --[C1 10 uF 100 V film]-- gnd
NEG --[R1 47k 1 W]-- gnd
NEG --[R2 220k]-- V1.grid
NEG --[R3 220k]-- V2.grid
V1.cathode --[R4 10 ohm 0.125 W]-- gnd
V2.cathode --[R5 10 ohm 0.125 W]-- gnd
B1 -- V1.plate
B1 -- V1.screen
B1 -- V2.plate
B1 -- V2.screen
"""


def test_a_bias_the_wrong_way_round_is_one_finding(review: Callable[[str], Review]) -> None:
    looked = review(TURNED)
    (found,) = looked.at_or_above("notice")
    assert (found.rule, found.at) == ("grid.positive", ("V1", "V2"))
    assert "D1" in found.remedy
    told = str(found.evidence["explains"])
    for expected in ("tube.plate-dissipation at V1", "resistor.over-power at R5"):
        assert expected in told


def test_under_a_waived_cause_its_consequences_come_back(review: Callable[[str], Review]) -> None:
    looked = review(TURNED + 'accept grid.positive at V1 because "to see what else there is"\n')
    assert "tube.plate-dissipation" in {f.rule for f in looked.at_or_above("notice")}


def test_a_waived_consequence_stays_listed(review: Callable[[str], Review]) -> None:
    looked = review(TURNED + 'accept resistor.over-power at R4 because "a test of waivers"\n')
    kept = {(f.rule, f.at): f.accepted for f in looked.findings}
    assert kept["resistor.over-power", ("R4",)] == "a test of waivers"
    assert "intent.accept-unmatched" not in {f.rule for f in looked.findings}


def findings_of(review: Callable[[str], Review]) -> tuple[Review, Finding, Finding]:
    looked = review(TURNED + 'accept grid.positive at V1 because "both are wanted"\n')
    cause = next(f for f in looked.findings if f.rule == "grid.positive")
    effect = next(f for f in looked.findings if f.rule == "tube.plate-dissipation")
    return looked, replace(cause, accepted=None), effect


def test_a_graver_finding_is_never_folded_away(review: Callable[[str], Review]) -> None:
    looked, cause, effect = findings_of(review)
    assert looked.circuit is not None
    assert len(fold(looked.circuit, [cause, effect])) == 1
    assert len(fold(looked.circuit, [cause, replace(effect, level="danger")])) == 2


def test_another_tube_is_another_matter(review: Callable[[str], Review]) -> None:
    looked, cause, effect = findings_of(review)
    assert looked.circuit is not None
    elsewhere = replace(effect, at=("V9",))
    assert fold(looked.circuit, [cause, elsewhere]) == [cause, elsewhere]


@pytest.mark.parametrize("link", LINKS)
def test_links_name_rules_that_exist_and_hide_no_danger(link: Link) -> None:
    levels = {r.id: r.level for r in RULES}
    assert set(link.causes) | set(link.effects) <= set(levels)
    assert link.raises or "danger" not in {levels[e] for e in link.effects}


def test_no_link_folds_what_is_graver_without_raising(review: Callable[[str], Review]) -> None:
    """Every link and every pair of levels: what is told is never milder than what is folded."""
    looked = review("B1 --+[E1 250 V]-- gnd\nB1 --[R1 1k 1 W]-- gnd\n")
    assert looked.circuit is not None
    span = looked.circuit.span("R1")

    def same(*_: object) -> bool:
        return True

    for link in LINKS:
        held = replace(link, holds=same)
        cause_rule, effect_rule = link.causes[0], link.effects[-1]
        for cause_level in LEVELS:
            for effect_level in LEVELS:
                cause = Finding(cause_rule, cause_level, "drawing", ("R1",), span, "", "")
                effect = Finding(effect_rule, effect_level, "drawing", ("R1",), span, "", "")
                with pytest.MonkeyPatch.context() as patched:
                    patched.setattr(consequences, "LINKS", (held,))
                    told = fold(looked.circuit, [cause, effect])
                assert LEVELS.index(max((f.level for f in told), key=LEVELS.index)) >= max(
                    LEVELS.index(cause_level), LEVELS.index(effect_level)
                )


def test_what_is_merely_possible_explains_nothing(review: Callable[[str], Review]) -> None:
    """A screen four volts over at the edge of its range does not hide a real overload."""
    looked = review("B1 --+[E1 250 V]-- gnd\nB1 --[R1 1k 1 W]-- gnd\n")
    assert looked.circuit is not None
    span = looked.circuit.span("R1")
    edge = Finding("tube.screen-voltage", "advice", "warm", ("R1",), span, "", "",
                   {REACH: "304 V"}, certainty="possible")  # fmt: skip
    over = Finding("tube.screen-dissipation", "advice", "warm", ("R1",), span, "", "")
    assert fold(looked.circuit, [edge, over]) == [edge, over]
    assert not any("output.no-screen-resistor" in link.effects for link in LINKS)


def test_what_raises_gives_its_level_to_the_cause(review: Callable[[str], Review]) -> None:
    """A coupling of 22 uF holds a charge that kills: told with the slip, and as a danger."""
    looked = review("B1 --+[E1 250 V]-- gnd\nB1 --[C1 22 uF 400 V film]-- X --[R1 470k]-- gnd\n")
    assert looked.circuit is not None
    slip, charge = (
        Finding(rule, level, "drawing", ("C1",), looked.circuit.span("C1"), "", "")
        for rule, level in (("capacitor.unlikely-value", "notice"), ("supply.no-bleeder", "danger"))
    )
    (told,) = fold(looked.circuit, [charge, slip])
    assert (told.rule, told.level) == ("capacitor.unlikely-value", "danger")
    assert told.evidence["explains"] == "supply.no-bleeder at C1"
    advice = replace(slip, level="advice")
    assert fold(looked.circuit, [charge, advice]) == [charge, advice]


def test_of_two_that_explain_each_other_one_is_told(review: Callable[[str], Review]) -> None:
    looked = review("B1 --+[E1 250 V]-- gnd\nB1 --[R1 1k 1 W]-- gnd\n")
    assert looked.circuit is not None
    twice = [
        Finding("resistor.over-power", "notice", "warm", ("R1",), looked.circuit.span("R1"), "", "")
    ] * 2
    over = replace(twice[0], rule="resistor.over-voltage")
    told = fold(looked.circuit, [over, *twice])
    assert [f.rule for f in told] == ["resistor.over-power"] * 2


def test_the_root_of_a_chain_names_all_that_follows(review: Callable[[str], Review]) -> None:
    """A wire across the bypass: no bias, so too much current, so a screen resistor that burns."""
    looked = review(
        "tube V1 6V6GT\nB1 --+[E1 250 V]-- gnd\nB1 --[R1 1k 0.1 W]-- V1.screen\n"
        "B1 -- V1.plate\nV1.grid --[R2 470k]-- gnd\nV1.cathode -- gnd\n"
        "V1.cathode --[C1 25 uF 50 V]-- gnd\n"
    )
    (told,) = (f for f in looked.findings if f.rule == "drawing.shorted-part")
    explained = str(told.evidence["explains"])
    assert "grid.no-bias at V1" in explained
    assert "tube.plate-dissipation at V1" in explained
    assert "resistor.over-power at R1" in explained
    assert {f.rule for f in looked.at_or_above("notice")} == {"drawing.shorted-part"}


def test_a_blocked_gain_control_explains_the_leak_of_what_it_holds(
    review: Callable[[str], Review],
) -> None:
    """2.2 and 10 Mohm in series hold V1's grid, whose type allows 3 Mohm."""
    path = Path(__file__).parents[2] / "samples/mistakes/signal.gain-control-blocked/wrong.tube"
    looked = review(path.read_text("utf-8").replace("tube V1 6BA6", "tube V1 EF89"))
    (found,) = looked.at_or_above("notice")
    assert found.rule == "signal.gain-control-blocked"
    assert "grid.leak-too-high at V1" in str(found.evidence["explains"])
