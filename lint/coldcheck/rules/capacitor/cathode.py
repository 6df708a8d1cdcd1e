"""The bypass of an output tube's cathode, and what it must stand when things go wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy import grid_kinds
from coldcheck.anatomy.case import unsolved_reason
from coldcheck.anatomy.grid_kinds import is_power_tube
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import volts
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule

TIMES = Threshold("rating of a cathode bypass, times its DC", 2.0, "", PRACTICE)
LEAST_V = Threshold("least rating of an output tube's cathode bypass", 50.0, "V", PRACTICE)
STOCK_V = (50, 63, 100, 160, 200, 250, 350, 450)


@rule(
    "capacitor.cathode-bypass-underrated",
    title="Cathode bypass of an output tube with little to spare",
    level="advice",
    states="warm",
    needs="a working voltage on the drawing and a solved warm state",
    criterion=f"A capacitor from an output tube's cathode to gnd is rated below {LEAST_V.value:g} "
    "V, or "
    f"below {TIMES.value:g} times the cathode's DC voltage.",
    why="When the output tube draws too much, for whatever reason, its cathode rises with it. A "
    "bypass rated just above the normal bias vents then, at the worst moment.",
    source=PRACTICE,
    limits="A tube that shorts outright puts most of the supply on its cathode; no usual bypass "
    "stands that, and it is not asked for. Above its rating the capacitor is another finding.",
    thresholds=(LEAST_V, TIMES, grid_kinds.POWER_WATTS),
)
def bypass_underrated(case: Case) -> Iterator[Outcome]:
    """Compare each bypass with twice the bias."""
    if unsolved_reason(case) is not None:
        return
    done: set[str] = set()
    for tube, section in working(case.circuit):
        net = section.cathode_nets[0]
        if not is_power_tube(tube, section) or net == GROUND:
            continue
        wave = case.warm.waves.get(net)
        for branch in case.circuit.at(net):
            rated = _rated(branch, net)
            if wave is None or rated is None or branch.name in done or rated < wave.dc:
                continue
            wanted = max(LEAST_V.value, TIMES.value * wave.dc)
            if rated < wanted * 0.999:
                done.add(branch.name)
                yield _underrated(case, section.name, branch, (rated, wanted, wave.dc))


def _rated(branch: Branch, net: str) -> float | None:
    if branch.kind is not PartKind.CAPACITOR or branch.other(net) != GROUND or branch.part is None:
        return None
    return si(branch.part.voltage, "volt")


def _underrated(
    case: Case, section: str, branch: Branch, found: tuple[float, float, float]
) -> Outcome:
    rated, wanted, bias = found
    buy = next((v for v in STOCK_V if v >= wanted), None)
    return bypass_underrated.finding(
        case,
        (branch.name, section),
        f"{branch.name} on the cathode of {section} is rated {volts(rated)}; with {volts(bias)} "
        f"of bias {volts(wanted)} is wanted",
        f"Use one for {buy:g} V" if buy else f"Use one for {volts(wanted)} or more",
        state="warm",
        evidence={"rated": figure(rated, "V"), "cathode": figure(bias, "V")},
        limit=figure(wanted, "V"),
        excess=wanted / rated,
    )


RULES: tuple[Rule, ...] = (bypass_underrated,)
