"""Power stages for radio frequencies: their pi network, their modulated screen, their meters."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.class_c import RF_COIL_H
from coldcheck.anatomy.coupling import decoupled, still_nets
from coldcheck.anatomy.neighbourhood import net_text
from coldcheck.anatomy.reach import passes
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.spread import spread
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

TURNED = Threshold(
    "times the plate's capacitor of a pi network may have the aerial's", 2.0, "",
    Citation("practice", "150 to 300 pF at the plate, 1000 pF and more at the aerial"),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Pi:
    """A coil between ``hot``, where a plate's signal comes, and ``out``, with what is to gnd."""

    coil: Branch
    hot: tuple[Branch, ...]
    out: tuple[Branch, ...]


@rule(
    "signal.pi-network-turned",
    title="Pi network with its large capacitor at the plate",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the values of the capacitors at both ends of the coil",
    criterion="A coil without iron leads from a plate, straight or behind its blocking capacitor, "
    "to a point with no electrode of a tube; capacitors, one of them variable, lead to gnd from "
    f"both ends, and those at the plate have {TURNED.value:g} times what those at the other end "
    "have, or more.",
    why="The end with the large capacitor is the one of low impedance. A plate wants some "
    "kilohms and an aerial 50 ohms: turned round, the network makes the load of the plate smaller "
    "still. There is hardly any power, the tube overheats, and the small capacitor that was meant "
    "for the plate's voltage is elsewhere.",
    source=(PRACTICE, Citation("arithmetic", "the ratio of impedances is that of C squared")),
    limits="Coils with taps or switched in parts, and networks between two tubes are not looked "
    "at. Wires of half a wave have kilohms themselves.",
    thresholds=(TURNED, RF_COIL_H),
)
def pi_network_turned(case: Case) -> Iterator[Outcome]:
    """Compare the capacitors at both ends of each such coil."""
    for pi in _networks(case.circuit):
        hot, out = (sum(_farad(b) for b in side) for side in (pi.hot, pi.out))
        if out and hot >= TURNED.value * out:
            largest = [max(side, key=_farad) for side in (pi.hot, pi.out)]
            first, other = (b.name for b in largest)
            yield pi_network_turned.finding(
                case,
                (first, other, pi.coil.name),
                f"{engineering(hot, 'F')} ({first}) is at the plate's end of {pi.coil.name} and "
                f"{engineering(out, 'F')} ({other}) at the aerial's: the network makes the load "
                "of the plate smaller and not larger",
                f"Exchange {first} and {other}; the one at the plate has to stand its voltage",
                evidence={"plate": figure(hot, "F"), "aerial": figure(out, "F")},
                limit=TURNED.figure,
                certainty="likely",
                excess=hot / out / TURNED.value,
            )


def _networks(circuit: Circuit) -> Iterator[Pi]:
    plates = {n for _, s in working(circuit) if (n := s.net("plate")) and n not in LANDMARKS}
    behind = {b.other(n) for n in plates for b in circuit.at(n) if b.kind is PartKind.CAPACITOR}
    still = still_nets(circuit)
    for coil in (b for b in circuit.branches.values() if _for_radio(b)):
        for hot, out in ((coil.a, coil.b), (coil.b, coil.a)):
            driven = hot in plates | behind and not {hot, out} & still
            sides = _to_gnd(circuit, hot), _to_gnd(circuit, out)
            turns = all(any(_has(b, "variable") for b in side) for side in sides)
            if driven and turns and out not in plates | behind and not circuit.electrodes_at(out):
                yield Pi(coil, *sides)


def _for_radio(branch: Branch) -> bool:
    henry = branch.henries if branch.kind is PartKind.INDUCTOR else None
    return henry is not None and henry <= RF_COIL_H.value


def _to_gnd(circuit: Circuit, net: str) -> tuple[Branch, ...]:
    near = (b for b in circuit.at(net) if b.kind is PartKind.CAPACITOR)
    return tuple(b for b in near if b.other(net) == GROUND)


def _has(branch: Branch, word: str) -> bool:
    return branch.part is not None and word in branch.part.words


def _farad(branch: Branch) -> float:
    return branch.farads or 0.0


@rule(
    "signal.meter-carries-radio",
    title="Meter on the radio side of its choke",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the wiring of the meter",
    criterion="A meter is on the plate or the grid of a tube, from which a capacitor or a coil "
    "takes or brings the signal; behind it nothing holds still, and a coil of "
    f"{RF_COIL_H.figure.text()} at most leads on.",
    why="The meter and its leads to the panel then hang on the full radio-frequency voltage. Their "
    "capacitance detunes the stage, they radiate, and what flows through the coil of the meter "
    "makes it read wrong or burns it. Hands touch the panel: the plate's voltage belongs behind a "
    "bypassed point.",
    source=PRACTICE,
    limits="Meters for radio frequencies, in the lead of an aerial, are on no electrode.",
    thresholds=(RF_COIL_H,),
)
def meter_carries_radio(case: Case) -> Iterator[Outcome]:
    """Look at what is on both sides of each meter."""
    circuit = case.circuit
    hot = {
        net: f"{s.name}.{e}"
        for _, s in working(circuit)
        for e in ("plate", "grid")
        if (net := s.net(e)) is not None and not decoupled(circuit, net)
    }
    for meter in (b for b in circuit.branches.values() if b.kind is PartKind.METER):
        for near, far in ((meter.a, meter.b), (meter.b, meter.a)):
            chokes = [b for b in circuit.at(far) if _for_radio(b)]
            signal = any(b.kind is PartKind.CAPACITOR for b in circuit.at(near))
            if near in hot and signal and chokes and not decoupled(circuit, far):
                yield _on_radio(case, meter, chokes[0], (hot[near], near, far))


def _on_radio(case: Case, meter: Branch, choke: Branch, where: tuple[str, str, str]) -> Finding:
    electrode, _, far = where
    cold = net_text(case.circuit, choke.other(far))
    return meter_carries_radio.finding(
        case,
        (meter.name, choke.name, electrode),
        f"{meter.name} is between {electrode} and {choke.name}: it and its leads carry the radio "
        "frequency that the choke is to keep off them",
        f"Exchange {meter.name} and {choke.name}: {choke.name} to {electrode}, {meter.name} on the "
        f"side of {cold}, with a bypass to gnd between the two",
        certainty="certain",
    )


@dataclass(frozen=True, slots=True)
class Modulated:
    """A stage whose plate is fed through ``iron``, from ``before`` to ``behind``."""

    section: Section
    iron: str
    before: str
    behind: str


@rule(
    "signal.screen-unmodulated",
    title="Screen of a plate-modulated stage on the unmodulated supply",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the wiring of modulator and stage",
    criterion="The plate of a stage for radio frequencies with a screen is fed through a coil of "
    f"{RF_COIL_H.figure.text()} at most and then through iron that the plates of other tubes "
    "drive: a winding of a transformer or their common choke. Its screen is fed, through resistors "
    "alone, from before that iron and not from behind it.",
    why="The current of a tetrode or pentode follows its screen and hardly its plate. With the "
    "screen held still the plate's swing changes little: the carrier is hardly modulated, and "
    "distorted, and in the troughs the screen takes the current that the plate leaves.",
    source=(PRACTICE, Citation("handbooks")),
    limits="Screens with a choke, a winding or a tube of their own are left alone.",
    thresholds=(RF_COIL_H,),
)
def screen_unmodulated(case: Case) -> Iterator[Outcome]:
    """Compare where plate and screen of each modulated stage are fed from."""
    circuit = case.circuit
    for stage in _modulated(circuit):
        screen = stage.section.net("screen")
        nets = set() if screen is None else _through_resistors(circuit, screen, stage.before)
        if stage.before not in nets or stage.behind in nets:
            continue
        feeding = [b.owner for b in circuit.at(stage.before) if b.kind is PartKind.RESISTOR
                   and b.other(stage.before) in nets]  # fmt: skip
        name, behind = stage.section.name, net_text(circuit, stage.behind)
        first = feeding[0] if feeding else f"{name}.screen"
        yield screen_unmodulated.finding(
            case,
            (first, f"{name}.screen", stage.iron),
            f"{first} feeds the screen of {name} from the supply before {stage.iron}, which "
            "modulates the plate: the screen holds still, and with it the current of the tube",
            f"Take {first} from {behind}, the modulated side of {stage.iron}",
            certainty="certain",
        )


def _modulated(circuit: Circuit) -> Iterator[Modulated]:
    """The stages behind a coil for radio, then iron that the plate of another tube is on."""
    plates = {s.name: s.net("plate") for _, s in working(circuit)}
    for _, section in working(circuit):
        own = plates[section.name]
        near = set() if own is None else _through_coils(circuit, own)
        others = {n for name, n in plates.items() if n and name != section.name}
        for iron, before, behind, driven in _irons(circuit):
            if behind in near and own != behind and driven & others - near | others & {behind}:
                yield Modulated(section, iron, before, behind)


def _irons(circuit: Circuit) -> Iterator[tuple[str, str, str, set[str]]]:
    """Windings and chokes with iron, either way round, with the nets of the windings beside."""
    for coil_set in circuit.coil_sets.values():
        for coil in coil_set.coils if coil_set.iron else ():
            beside = {n for c in coil_set.coils if c is not coil for n in c.nets} - set(LANDMARKS)
            for a, b in (coil.nets[::-1], coil.nets) if len(coil.nets) == 2 else ():
                yield coil.name, a, b, beside
    for choke in circuit.branches.values():
        iron = choke.kind is PartKind.INDUCTOR and not _for_radio(choke)
        if iron and choke.owner not in circuit.coil_sets:
            yield choke.name, choke.a, choke.b, set()
            yield choke.name, choke.b, choke.a, set()


def _through_coils(circuit: Circuit, plate: str) -> set[str]:
    """What direct current gets to from a plate through coils for radio frequencies, meters."""

    def leads(branch: Branch, here: str) -> bool:
        return here not in LANDMARKS and (_for_radio(branch) or branch.kind is PartKind.METER)

    return set(spread(circuit, [plate], leads)) - {plate}


def _through_resistors(circuit: Circuit, screen: str, until: str) -> set[str]:
    """What direct current gets to from a screen through no iron, up to ``until``."""

    def leads(branch: Branch, here: str) -> bool:
        plain = passes(branch) and (not branch.traits.coil or _for_radio(branch))
        return plain and here not in {*LANDMARKS, until}

    return set(spread(circuit, [screen], leads))


RULES: tuple[Rule, ...] = (pi_network_turned, meter_carries_radio, screen_unmodulated)
