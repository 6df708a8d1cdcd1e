"""Rectifier tubes against the AC their plates may be supplied with."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.rectifiers import feeds, first_capacitors, rectifier_tubes
from coldcheck.drawing.wording import volts
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Section, Tube
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule

LARGE_F = 1e-6
CLEARLY = Threshold(
    "plate supply over its rating from which it is more than advice", 1.1, "", PRACTICE
)


@rule(
    "supply.plate-supply-too-high",
    title="Rectifier tube on more AC than its plates may have",
    level="notice",
    states="the drawing alone; the winding's rated volts",
    needs="the type's AC supply rating for a capacitor or a choke first, and the winding's volts",
    criterion=(
        "The rms volts from a plate to the winding's return are more than the type may have with "
        f"the filter drawn: advice, and from {CLEARLY.value:g} times on a notice. A capacitor of "
        "1 uF or more on the output makes it a capacitor input."
    ),
    why=(
        "With more AC than the sheet allows the peaks of current at switch-on and the inverse "
        "voltage outgrow the tube, though the mean current may be well within its rating."
    ),
    source=Citation("type-sheet"),
    limits=(
        "Sheets allow more volts at less current; only the figure on file is compared. A tube "
        "whose plates are not fed from a winding plainly is left alone."
    ),
    thresholds=(CLEARLY,),
)
def plate_supply_too_high(case: Case) -> Iterator[Outcome]:
    """Compare each rectifier's feed with its rating."""
    for tube, section in rectifier_tubes(case.circuit):
        found = max((f.volts for f in feeds(case.circuit, section)), default=None)
        if found is not None:
            yield from _compare(case, tube, section, found)


def _compare(case: Case, tube: Tube, section: Section, found: float) -> Iterator[Outcome]:
    large = any(f >= LARGE_F for _, f in first_capacitors(case.circuit, section))
    filtered = "capacitor" if large else "choke"
    limit = tube.type.rating("supply-rms-capacitor-input" if large else "supply-rms-choke-input")
    if limit is None or found <= limit.value:
        return
    yield plate_supply_too_high.finding(
        case,
        (section.name,),
        f"the plates of {section.name} are fed with {volts(found)} rms; with a {filtered} first a "
        f"{tube.type.name} may have {volts(limit.value)}",
        f"Use a winding of {volts(limit.value)} a plate or less, or a larger rectifier",
        level="notice" if found > CLEARLY.value * limit.value else "advice",
        evidence={"supply": figure(found, "V")},
        limit=figure(limit.value, "V"),
        source=limit.cited,
        excess=found / limit.value,
    )


RULES: tuple[Rule, ...] = (plate_supply_too_high,)
