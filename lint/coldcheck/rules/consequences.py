"""One cause, one finding: what only follows from another finding is told with it.

A rectified bias the wrong way round overloads plates, screens and resistors; listing each of them
hides the one thing to mend. What is folded away stays in the evidence of its cause. A finding
graver than its cause is never folded, nor one that was waived, nor one under a waived cause.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from coldcheck.circuit.model import LANDMARKS
from coldcheck.rules.drawing_loose import attachments, wired_points
from coldcheck.rules.heater_lines import heater_lines
from coldcheck.rules.model import LEVELS
from coldcheck.rules.reach import reach

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from coldcheck.circuit.model import Circuit
    from coldcheck.rules.model import Finding

UNBIASED = ("grid.positive", "grid.no-bias")
OVERLOADS = ("tube.plate-dissipation", "tube.screen-dissipation", "tube.cathode-current")
DEAD = ("tube.no-cathode-path", "tube.no-plate-supply", "tube.no-screen-supply")
CORES = ("output.primary-over-current", "output.ungapped-core")
LOOSE = ("drawing.single-connection", "intent.not-met")
IDLE = ("supply.choke-below-critical", "supply.regulator-current", "supply.inverse-voltage")
STRAINED = ("heater.cathode-stress", "heater.lifted-too-far")
UNHELD = ("heater.no-common-lift", "heater.reference-too-weak", "heater.lift-unbypassed")
UNLOADED = ("mains.fuse-too-large", "tube.plate-voltage", "tube.screen-voltage")
SCREENS = ("output.no-screen-resistor", "signal.screen-overload")
RATED_SCREEN = ("tube.screen-voltage", "tube.screen-dissipation")


@dataclass(frozen=True, slots=True)
class Link:
    """Findings of ``effects`` follow from one of ``causes`` where ``holds`` says so.

    ``graver`` allows an effect above the level of its cause: a figure that is only so because the
    drawing is open there, not a danger of its own.
    """

    causes: tuple[str, ...]
    effects: tuple[str, ...]
    holds: Callable[[Circuit, Finding, Finding], bool]
    graver: bool = False


def _anywhere(_circuit: Circuit, _cause: Finding, _effect: Finding) -> bool:
    return True


def _surely(_circuit: Circuit, cause: Finding, _effect: Finding) -> bool:
    """A cause that fails the drawing may explain a figure graver than itself; advice may not."""
    return cause.level != "advice"


def _same_tube(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    return bool(_tubes(circuit, cause) & _tubes(circuit, effect))


def _on_the_tube(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether a part of the effect is wired to an electrode of the cause's tubes."""
    tubes = _tubes(circuit, cause)
    nets = {n for s in circuit.sections() if s.tube in tubes for n in s.electrodes.values()} - {
        "gnd"
    }
    parts = [circuit.branches[p] for p in effect.at if p in circuit.branches]
    return any({b.a, b.b} & nets for b in parts)


def _tubes(circuit: Circuit, finding: Finding) -> set[str]:
    owners = {p.partition(".")[0] for p in finding.at}
    sections = {s.name: s.tube for s in circuit.sections()}
    return {sections.get(o, o) for o in owners} & set(circuit.tubes)


def _same_heater_line(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether the effect is about the cause's winding or about tubes that are all heated by it."""
    lines = [x for x in heater_lines(circuit) if x.name == cause.at[0]]
    heated = {t.name for x in lines for t in x.tubes}
    hit = _tubes(circuit, effect)
    return effect.at[0] == cause.at[0] or (bool(hit) and hit <= heated)


def _on_a_loose_end(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether the grid's wire is one of those that end at the gap."""
    if _same_tube(circuit, cause, effect):
        return True
    nets = {circuit.points[n] for n in circuit.points if n in effect.at}
    nets |= {s.electrodes["grid"] for s in circuit.sections() if s.name in effect.at}
    island = set(reach(circuit, nets, LANDMARKS)) - set(LANDMARKS)
    return any(len(attachments(circuit, n)) < 2 for n in island & set(wired_points(circuit)))


def _at_that_end(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether the loose end of the cause is on the grid's own wires."""
    nets = [s.electrodes["grid"] for s in circuit.sections() if s.name == effect.at[0]]
    return circuit.points.get(cause.at[0]) in set(reach(circuit, nets, LANDMARKS))


def _same_place(_circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    return bool(set(cause.at) & {p.partition(".")[0] for p in effect.at})


def _same_part(_circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    return bool(set(cause.at) & set(effect.at))


def _its_transformer(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether a plate of the cause's tubes is on the effect's output transformer."""
    output = circuit.outputs.get(effect.at[0])
    nets = {net for _, net in output.leads} if output else set()
    tubes = _tubes(circuit, cause)
    return any(s.tube in tubes and s.net("plate") in nets for s in circuit.sections())


def _first_the_same(_circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether both are, in the first place, about the same part."""
    return cause.at[:1] == effect.at[:1]


def _then(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether the effect is about the cause's heater winding and in the cause's state."""
    return effect.state == cause.state and _same_heater_line(circuit, cause, effect)


LINKS = (
    Link(("drawing.incomplete",), DEAD, _same_tube),
    Link(("drawing.incomplete",), ("grid.no-return",), _on_a_loose_end),
    Link(("drawing.single-connection",), ("grid.no-return",), _at_that_end),
    Link(("drawing.incomplete",), ("output.open-secondary",), _same_place),
    Link(("drawing.incomplete",), ("output.taps-swapped", "output.screen-left-fed"), _same_tube),
    Link(("drawing.incomplete",), LOOSE, _anywhere),
    Link(("drawing.incomplete",), (*UNLOADED, *IDLE), _surely, graver=True),
    Link(("heater.no-common-lift", "heater.lift-unlimited"), STRAINED, _same_heater_line),
    Link(("heater.lift-unlimited",), UNHELD, _same_heater_line),
    Link(("heater.reference-switched",), STRAINED, _then),
    Link(("heater.filaments-join-cathodes",), ("heater.two-references",), _same_heater_line),
    Link(("heater.filament-tied-at-end",), ("heater.two-references",), _same_heater_line),
    Link(
        ("heater.lift-capacitor-underrated",),
        ("capacitor.over-voltage", "capacitor.little-margin"),
        _same_part,
    ),
    Link(("drawing.plate-on-heater-line",), ("resistor.over-power",), _on_the_tube),
    Link(("tube.plate-dissipation",), ("tube.idles-hot-in-class-ab",), _same_tube),
    Link(("grid.positive",), ("grid.no-bias",), _same_tube),
    Link(UNBIASED, (*OVERLOADS, "tube.idles-hot-in-class-ab"), _same_tube),
    Link(UNBIASED, ("resistor.over-power",), _on_the_tube),
    Link(
        ("heater.shares-rectifier-filament",), ("heater.rectifier-filament-grounded",), _same_tube
    ),
    Link(("tube.no-plate-supply",), ("tube.screen-dissipation",), _same_tube),
    Link((*DEAD, "supply.open-rectifier"), UNLOADED, _anywhere, graver=True),
    Link(("supply.open-rectifier",), ("capacitor.reversed",), _anywhere),
    Link(("mains.live-chassis",), ("mains.live-common",), _anywhere),
    Link(("supply.bias-switched",), OVERLOADS, _same_tube),
    Link(("supply.bias-switched",), ("resistor.over-power",), _on_the_tube),
    Link(("capacitor.over-voltage",), ("capacitor.little-margin",), _same_part),
    Link(("capacitor.no-room-for-swing",), ("capacitor.little-margin",), _same_part),
    Link(("supply.choke-below-critical",), ("supply.regulator-current",), _anywhere),
    Link(("supply.winding-shorted",), ("heater.wrong-voltage",), _anywhere),
    Link(("supply.windings-opposed",), ("heater.wrong-voltage",), _anywhere),
    Link((*OVERLOADS, *DEAD, "grid.positive", "grid.no-bias"), CORES, _its_transformer),
    Link(("supply.regulator-current",), ("supply.rectifier-overload",), _anywhere),
    Link(("output.wrong-load",), ("output.wrong-plate-load",), _first_the_same),
    Link(("tube.screen-voltage",), ("tube.screen-dissipation", *SCREENS), _same_tube),
    Link(("output.screen-above-plate",), ("tube.screen-dissipation", *SCREENS), _same_tube),
    Link(("output.screen-left-fed",), OVERLOADS, _same_tube),
    Link(("tube.screen-undropped",), RATED_SCREEN, _same_tube),
    Link(("signal.no-plate-load",), OVERLOADS, _same_tube),
)


def fold(circuit: Circuit, findings: Sequence[Finding]) -> list[Finding]:
    """The findings without those that follow from another one; causes name what they explain."""
    explained: dict[int, list[str]] = {}
    folded: set[int] = set()
    for i, effect in enumerate(findings):
        causes = (j for j, c in enumerate(findings) if j != i and _follows(circuit, c, effect))
        cause = next(causes, None)
        if cause is not None:
            folded.add(i)
            explained.setdefault(cause, []).append(f"{effect.rule} at {', '.join(effect.at)}")
    return [_telling(f, explained.get(i, [])) for i, f in enumerate(findings) if i not in folded]


def _follows(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    if cause.accepted is not None or effect.accepted is not None:
        return False
    for link in LINKS:
        if cause.rule in link.causes and effect.rule in link.effects:
            graver = LEVELS.index(effect.level) > LEVELS.index(cause.level)
            if (link.graver or not graver) and link.holds(circuit, cause, effect):
                return True
    return False


def _telling(finding: Finding, effects: list[str]) -> Finding:
    if not effects:
        return finding
    return replace(finding, evidence={**finding.evidence, "explains": "; ".join(effects)})
