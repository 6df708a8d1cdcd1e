"""Crossing wires taken as joined: parts with both ends on one net, rails tied to what they feed."""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_never

from coldcheck.anatomy.neighbourhood import net_text
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule


@rule(
    "drawing.shorted-part",
    title="Part with a wire across it",
    level="notice",
    states="the drawing alone",
    needs="nothing",
    criterion="Both ends of a two-lead part are on the same net: plain wire joins them. Parts that "
    "share the net are one finding. Switches, pots wired as rheostats and spare windings are left "
    "alone.",
    why="Where two lines cross on paper they are joined only with a dot. Taken as joined, two "
    "rails become one, and the parts between them have a wire across: a decoupling resistor does "
    "nothing, a filter capacitor is shorted and the supply with it.",
    source=PRACTICE,
    limits="Once joined, two wires are one, and the voltage there was between them is gone: a "
    "false joint shows only where a part lies between the two, where a point is left with one "
    "thing on it, or where the voltages it makes break another rule.",
)
def shorted_part(case: Case) -> Iterator[Outcome]:
    """Collect the parts with both ends on one net, net by net."""
    groups: dict[str, list[Branch]] = {}
    for branch in case.circuit.branches.values():
        if branch.a == branch.b and _useless(branch.kind):
            groups.setdefault(branch.a, []).append(branch)
    for net, parts in groups.items():
        names = tuple(b.name for b in parts)
        joined = [n for n in case.circuit.names.get(net, ()) if "." not in n and n not in LANDMARKS]
        where = net_text(case.circuit, net) if net not in LANDMARKS else net
        rails = f" ({' and '.join(joined)} are one wire)" if len(joined) > 1 else ""
        verb = "has both ends" if len(names) == 1 else "have both ends"
        yield shorted_part.finding(
            case,
            names,
            f"{' and '.join(names)} {verb} on {where}{rails}",
            "See on the original whether the lines only cross there: joined ones have a dot",
            evidence={"parts": figure(len(names), "")},
            certainty="certain",
        )


SHARING_OHM = 220.0
"""Between a pass tube's cathode and its output there is no more (common practice)."""


@rule(
    "drawing.plate-on-heater-line",
    title="Plate or screen joined to a heater bus",
    level="notice",
    states="the drawing alone",
    needs="nothing",
    criterion="A plate or a screen is on the same net as a heater lead of a tube whose cathode is "
    "not its filament, and that tube's own cathode is not on it.",
    why="Two lines that cross on paper, or pins counted from the wrong side. Where the heaters are "
    "grounded the plate is at gnd and its resistor carries the whole supply; where they are not, "
    "the supply stands between every heater and its cathode.",
    source=PRACTICE,
    limits="Plain wire only. A heater bus at the supply's voltage through a part shows in the "
    "heater-cathode voltages.",
)
def plate_on_heater_line(case: Case) -> Iterator[Outcome]:
    """Compare the nets of plates and screens with those of the heaters."""
    heating: dict[str, list[str]] = {}
    for tube in case.circuit.tubes.values():
        # A cathode on its own heater pin gives the supply there, as a filament does.
        own = tube.directly_heated or tube.type.cathode_heater is not None
        if tube.heater is not None and not own:
            for net in tube.heater.nets:
                heating.setdefault(net, []).append(tube.name)
    for section in case.circuit.sections():
        for electrode in ("plate", "screen"):
            at = section.net(electrode)
            if at is None or at not in heating or at in LANDMARKS or not section.kind.amplifies:
                continue
            if _referred(case.circuit, at):
                continue  # its reference: a rectifier's or a pass tube's own winding on the supply
            tubes = heating[at]
            yield plate_on_heater_line.finding(
                case,
                (section.name, f"{section.name}.{electrode}"),
                f"the {electrode} of {section.name} is joined to the heater bus of "
                f"{' and '.join(tubes)}",
                "See on the original whether the lines only cross there, and count the pins again",
                evidence={"tubes_on_the_line": figure(len(tubes), "")},
                certainty="certain",
            )


def _referred(circuit: Circuit, net: str) -> bool:
    """Whether a heater line is tied to the cathode of the tubes it heats, which gives a supply."""
    heated = [t for t in circuit.tubes.values() if t.heater and net in t.heater.nets]
    cathodes = {n for t in heated for s in t.sections for n in s.cathode_nets}
    beside = {b.other(n) for n in cathodes for b in circuit.at(n) if _evens(b)}
    return bool(heated) and net in cathodes | beside


def _evens(branch: Branch) -> bool:
    """Whether it is a resistor that makes pass tubes share their current, or measures it."""
    return branch.kind is PartKind.RESISTOR and (branch.ohms or 1e9) <= SHARING_OHM


RULES: tuple[Rule, ...] = (shorted_part, plate_on_heater_line)


def _useless(kind: PartKind) -> bool:
    """Whether a part with both leads on one net is a slip, and not a spare or a rheostat."""
    match kind:
        case (
            PartKind.RESISTOR | PartKind.CAPACITOR | PartKind.INDUCTOR | PartKind.DIODE
            | PartKind.LED | PartKind.ZENER | PartKind.FUSE | PartKind.THERMISTOR
            | PartKind.BARRETTER | PartKind.PHOTOCELL
            | PartKind.LAMP | PartKind.SOURCE | PartKind.METER
            | PartKind.ARRESTER | PartKind.THYRISTOR | PartKind.TRIGGER | PartKind.VIBRATOR
            | PartKind.CRYSTAL
        ):  # fmt: skip
            return True
        case (
            PartKind.SWITCH | PartKind.SPEAKER | PartKind.JACK | PartKind.HEATER
            | PartKind.WINDING | PartKind.POT | PartKind.CONTACT | PartKind.JACK_CONTACT
            | PartKind.PLUG
            | PartKind.SIGNAL | PartKind.RELAY
            | PartKind.CHANNEL | PartKind.GATE | PartKind.BASE
        ):  # fmt: skip
            return False
        case _:
            assert_never(kind)
