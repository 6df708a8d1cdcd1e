"""Hum at a loudspeaker that a sound supply does not leave."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import net_text
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering
from coldcheck.drawing.wording import volts
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.solve.cycle.network import branch_ohms
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.solution import Solution

HUM_W = Threshold(
    "hum in a loudspeaker with no signal", 5e-3, "W",
    Citation("practice", "a milliwatt is heard in a quiet room; small sets with one "
             "reservoir leave one or two"),
)  # fmt: skip
RIPPLES = 0.02
"""Of its volts: a supply point with more ripple than that is named beside the loudspeaker."""


@rule(
    "output.hum",
    title="Hum in the loudspeaker",
    level="notice",
    states="warm, no signal",
    needs="a speaker whose ohms are known, and a solved warm state with the mains in it",
    criterion=f"The ripple of the supply, and what heaters leak through drawn parts, put more than "
    f"{1e3 * HUM_W.value:g} mW into a speaker while there is no signal.",
    why="A reservoir that is missing, a decade too small or on the wrong point, a choke without "
    "its second capacitor: the set plays, and hums louder than soft music.",
    source=HUM_W.source,
    limits="In a balanced stage ripple cancels in the solution to the last digit, in a real one "
    "not. What magnetic fields and wiring bring is not in a drawing.",
    thresholds=(HUM_W,),
)
def hum(case: Case) -> Iterator[Outcome]:
    """What each speaker gets at rest."""
    warm = case.solutions.get("warm")
    if warm is None or not warm.converged:
        return
    for branch in case.circuit.branches.values():
        ohms = branch_ohms(branch, warm.state) if branch.kind is PartKind.SPEAKER else None
        amps = warm.current(branch.name)
        if ohms and amps is not None and amps.ac_rms**2 * ohms > HUM_W.value:
            yield _heard(case, warm, branch, amps.ac_rms * ohms, amps.ac_rms**2 * ohms)


def _heard(case: Case, warm: Solution, speaker: Branch, rms: float, watts: float) -> Finding:
    rails = _rippling(case.circuit, warm)
    named = rails[:1]
    where = "".join(f"; {net_text(case.circuit, n)} has {volts(v)} rms of ripple" for n, v in named)
    parts = [b.name for n, _ in named for b in case.circuit.at(n) if b.plus is not None]
    return hum.finding(
        case,
        (speaker.name, *(net_text(case.circuit, n) for n, _ in named), *parts),
        f"{speaker.name} hums: {volts(rms)} rms, {engineering(watts, 'W')}, with no signal{where}",
        "Look at the filter capacitors: the value of each, and that it leads to gnd from the "
        "point it is to smooth",
        state="warm",
        evidence={"hum": figure(rms, "V"), "power": figure(watts, "W")},
        limit=HUM_W.figure,
        certainty="likely",
        excess=watts / HUM_W.value,
    )


def _rippling(circuit: Circuit, warm: Solution) -> list[tuple[str, float]]:
    """The points that plates and screens are fed from and that ripple, the worst first."""
    found = {}
    for section in circuit.sections():
        for electrode in ("plate", "screen"):
            net = section.net(electrode)
            if net is None or not section.kind.amplifies:
                continue
            for branch in circuit.at(net):
                far = branch.other(net)
                wave = warm.waves.get(far)
                if wave is not None and far not in LANDMARKS and not circuit.electrodes_at(far):
                    found[far] = (wave.ac_rms, wave.dc)
    over = [(n, ac) for n, (ac, dc) in found.items() if ac > RIPPLES * abs(dc)]
    return sorted(over, key=lambda x: -x[1])


RULES: tuple[Rule, ...] = (hum,)
