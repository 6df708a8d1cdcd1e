"""The old polarity or ground switch, which puts the chassis on either mains lead at will."""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_never

from coldcheck.anatomy import galvanic
from coldcheck.anatomy.galvanic import mains_drawn, upstream
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed
from coldcheck.judge.rule import rule
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Outcome


@rule(
    "mains.polarity-switch",
    title="Polarity switch from the mains to the chassis",
    level="danger",
    states="the drawing alone",
    needs="the mains side on the drawing",
    criterion=(
        "A switch can join one point to the line as well as to the neutral, and from there a "
        "capacitor or resistor leads to `chassis`, `gnd` or `earth`."
    ),
    why=(
        "Before there were three-pin plugs one flipped this switch until the hum was least. It "
        "puts the chassis on whichever mains lead one likes, through a capacitor that is the only "
        "thing between the strings of the guitar and the line."
    ),
    source=Citation("web-ground-switch"),
    limits=(
        "Its capacitor is reported here and not again by mains.capacitor-to-chassis. A switch "
        "ganged over several parts of the drawing under different names is not seen."
    ),
    thresholds=(galvanic.SERIES_OHM,),
)
def polarity_switch(case: Case) -> Iterator[Outcome]:
    """Look for switches that reach both mains leads and, through a part, metal."""
    circuit = case.circuit
    if not mains_drawn(circuit):
        return
    for owner, parts in switched_to_metal(circuit):
        yield _found(case, owner, [b.name for b in parts])


def switched_to_metal(circuit: Circuit) -> Iterator[tuple[str, list[Branch]]]:
    """Switches between both mains leads, each with the parts from its middle to metal."""
    if not {"line", "neutral"} <= circuit.points.keys():
        return
    contacts = [b for b in circuit.branches.values() if b.traits.by_hand]
    for owner in dict.fromkeys(b.owner for b in contacts):
        mine = [b for b in contacts if b.owner == owner]
        poles = _poles_without(circuit, owner)
        for net in dict.fromkeys(n for b in mine for n in (b.a, b.b)):
            others = {b.other(net) for b in mine if net in (b.a, b.b)}
            parts = _to_metal(circuit, net) if all(others & p for p in poles) else []
            if parts:
                yield owner, parts


def _poles_without(circuit: Circuit, owner: str) -> tuple[frozenset[str], ...]:
    """The nets of the line's and of the neutral's lead, when a switch is left out."""
    without = circuit.without({owner})
    return tuple(
        upstream(without, circuit.points[p], through_fuses=True) for p in ("line", "neutral")
    )


def _couples(kind: PartKind) -> bool:
    """Whether a part from a switch's middle to metal is one of those that were put there."""
    match kind:
        case (
            PartKind.RESISTOR | PartKind.CAPACITOR | PartKind.FUSE | PartKind.LAMP
        ):  # fmt: skip
            return True
        case (
            PartKind.INDUCTOR | PartKind.DIODE | PartKind.LED | PartKind.ZENER
            | PartKind.SWITCH | PartKind.THERMISTOR | PartKind.BARRETTER | PartKind.PHOTOCELL
            | PartKind.SPEAKER | PartKind.JACK
            | PartKind.SOURCE | PartKind.HEATER | PartKind.WINDING | PartKind.POT
            | PartKind.CONTACT | PartKind.JACK_CONTACT | PartKind.PLUG | PartKind.SIGNAL
            | PartKind.RELAY | PartKind.METER
            | PartKind.ARRESTER | PartKind.THYRISTOR | PartKind.TRIGGER
            | PartKind.VIBRATOR | PartKind.CRYSTAL
            | PartKind.CHANNEL | PartKind.GATE | PartKind.BASE
        ):  # fmt: skip
            return False
        case _:
            assert_never(kind)


def _to_metal(circuit: Circuit, net: str) -> list[Branch]:
    metal = {circuit.points[m] for m in (GROUND, "chassis", "earth") if m in circuit.points}
    return [b for b in circuit.at(net) if _couples(b.kind) and b.other(net) in metal - {net}]


def _found(case: Case, owner: str, parts: list[str]) -> Outcome:
    return polarity_switch.finding(
        case,
        (owner, *parts),
        f"{owner} joins {listed(parts)}, and through it the chassis, to the line or to the neutral",
        f"Take {listed((owner, *parts))} out, and earth the chassis through a three-wire cord",
        evidence={"through": listed(parts)},
        certainty="certain",
    )


RULES = (polarity_switch,)
