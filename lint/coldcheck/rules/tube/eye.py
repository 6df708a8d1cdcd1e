"""A tuning eye whose target does not get the supply's voltage, or whose plate gets it all."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.output_stage import stiff_nets
from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule


PLATE_OHM = 220e3
"""A plate's resistor has as much, one that only filters a target's supply less (practice)."""


@rule(
    "tube.target-behind-resistor",
    title="Tuning eye whose target is behind the plate's resistor",
    level="notice",
    blame=Blame.LIKELY_SLIP,
    states="the drawing alone",
    needs="the wiring of plate and target",
    criterion="The target of an indicator tube is joined to its plate, and nothing but resistors "
    f"feeds the two; or nothing but resistors of {PLATE_OHM / 1e3:g} kohm and more feeds the "
    "target, and the plate is on a supply point.",
    why="The target is what glows: it wants the full supply and takes milliamperes. The megohm "
    "belongs to the triode's plate beside it. With the target behind it nothing is left of the "
    "voltage, and the eye stays dark.",
    source=Citation("rca-rc", "the circuit on the sheets of the 6E5 and 6U5"),
    limits="A target on a smaller resistor of its own is taken to be meant so.",
)
def target_behind_resistor(case: Case) -> Iterator[Outcome]:
    """Look at what feeds each target."""
    for section in case.circuit.sections():
        target, plate = section.net("target"), section.net("plate")
        if section.kind is not SectionKind.INDICATOR:
            continue
        feeding, name = _only_resistors(case.circuit, section, target), section.name
        large = all((b.ohms or 0.0) >= PLATE_OHM for b in feeding)
        names = listed(b.name for b in feeding)
        if feeding and plate == target:
            words = (f"its target is on its plate, behind {names}",
                     f"Take {name}.target to the supply, ahead of {names}")  # fmt: skip
            yield _dark(case, name, feeding, words)
        elif feeding and large and plate in stiff_nets(case.circuit):
            words = (f"its plate is on the supply and its target behind {names}",
                     f"Exchange {name}.plate and {name}.target")  # fmt: skip
            yield _dark(case, name, feeding, words)


def _dark(case: Case, name: str, feeding: list[Branch], words: tuple[str, str]) -> Finding:
    """The finding, with how the target is fed and what to do."""
    return target_behind_resistor.finding(
        case,
        (f"{name}.target", name, *(b.name for b in feeding)),
        f"{name}: {words[0]}: it stays dark",
        words[1],
        evidence={"behind": listed(b.name for b in feeding)},
        certainty="certain",
    )


@rule(
    "tube.eye-plate-undropped",
    title="Tuning eye whose plate has no resistor",
    level="notice",
    states="the drawing alone",
    needs="the wiring of plate and target",
    criterion="The plate of an indicator tube is on its target by wire, and more than resistors "
    "feeds the two.",
    why="The triode beside the target moves the shadow by the volts it drops in its plate's "
    "resistor, half a megohm or more. Straight on the supply it drops none: the shadow stands "
    "still whatever the station, and the triode takes all the current its grid lets through.",
    source=Citation("rca-rc", "the circuit on the sheets of the 6E5 and 6U5"),
    limits="A target on a resistor of its own is taken to be meant so.",
)
def eye_plate_undropped(case: Case) -> Iterator[Outcome]:
    """Look whether each eye's plate is where its target is."""
    for section in case.circuit.sections():
        target = section.net("target")
        if section.kind is not SectionKind.INDICATOR or target != section.net("plate"):
            continue
        wired = target is not None and target not in LANDMARKS and bool(case.circuit.at(target))
        if wired and not _only_resistors(case.circuit, section, target):
            name = section.name
            yield eye_plate_undropped.finding(
                case,
                (f"{name}.plate", name),
                f"{name}: its plate is on the supply with its target: the shadow does not move",
                f"Put 470 kohm to 1 Mohm between {name}.target and {name}.plate",
                certainty="certain",
            )


def _only_resistors(circuit: Circuit, section: Section, target: str | None) -> list[Branch]:
    """The resistors at a target, where nothing else could feed it."""
    if target is None or target in LANDMARKS:
        return []
    near = [b for b in circuit.at(target) if b.kind is not PartKind.CAPACITOR]
    foreign = any(s.name != section.name for s, _ in circuit.electrodes_at(target))
    plain = all(b.kind is PartKind.RESISTOR for b in near)
    return near if plain and not foreign else []


RULES: tuple[Rule, ...] = (target_behind_resistor, eye_plate_undropped)
