"""Frequency changers whose oscillator runs where it cannot follow the signal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy import superhets as anatomy
from coldcheck.anatomy.cans import STRAY_F
from coldcheck.anatomy.coupling import RADIO_F, still_nets
from coldcheck.anatomy.oscillators import at_grid
from coldcheck.anatomy.output_stage import thrown_circuit
from coldcheck.anatomy.superhets import changers, has_changer
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.throws import thrown_text, throws_by_hand
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.superhets import Changer
    from coldcheck.circuit.model import Circuit
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

ABOVE = Threshold(
    "least share of the signal's frequency that an oscillator has, long and medium waves", 1.0, "",
    Citation("practice", "it is above the signal by the intermediate frequency"),
)  # fmt: skip
BELOW = Threshold(
    "least share of the signal's frequency that an oscillator has, short waves", 0.8, "",
    Citation("practice", "a few sets have it below, by the intermediate frequency"),
)  # fmt: skip
SHORT_HZ = Threshold(
    "signal with the gang in from which a band is one of short waves", 3e6, "Hz",
    Citation("practice", "medium waves begin near 0.5 MHz, coastal bands near 1.6 MHz"),
)  # fmt: skip


@rule(
    "signal.oscillator-below-signal",
    title="Oscillator coil too large for the signal's coil",
    level="notice",
    states="the drawing alone; each switch as drawn and thrown",
    needs="the inductance of both coils, and the capacitors of both circuits with a section of "
    "the gang in each",
    criterion="The oscillator's circuit of a converter or mixer resonates below the signal's, or, "
    f"where that one begins above {SHORT_HZ.value / 1e6:g} MHz, at less than {BELOW.value:g} of "
    "it, with the gang fully in or fully out, in some position of the switches, whatever the "
    "trimmers do.",
    why="With two sections on one shaft the oscillator has to run above the signal by the "
    "intermediate frequency: its coil is the smaller one. A larger one belongs to another band. At "
    "most at one place on the dial are the two apart by the intermediate frequency: the band is "
    "silent.",
    source=(PRACTICE, Citation("arithmetic", "f = 1 / (2 pi sqrt(L C))")),
    limits="Only grids that one tuned coil of known inductance reaches are judged: no coils in "
    "series, no pairs, no stage that mixes by itself, no coil tuned by its core. A band is not "
    "held against the intermediate frequency.",
    thresholds=(ABOVE, BELOW, SHORT_HZ, anatomy.OUT, STRAY_F),
)
def oscillator_below_signal(case: Case) -> Iterator[Outcome]:
    """Compare both circuits of each frequency changer in each position of the switches."""
    found = _in_each_position(case.circuit)
    for (oscillator, _), (position, changer) in found.items():
        if min(_shares(changer)) < _least(changer).value:
            others = [c for (o, _), (_, c) in found.items() if o != oscillator]
            yield _finding(case, position, changer, others)


def _in_each_position(circuit: Circuit) -> dict[tuple[str, str], tuple[str, Changer]]:
    """(Oscillator's coil, signal's coil) -> the first position that joins them, and how."""
    found: dict[tuple[str, str], tuple[str, Changer]] = {}
    for throw in (None, *(throws_by_hand(circuit) if has_changer(circuit) else ())):
        thrown = circuit if throw is None else thrown_circuit(circuit, frozenset({throw}))
        position = "as drawn" if throw is None else f"with {thrown_text([throw])}"
        for changer in changers(thrown):
            key = (changer.oscillator.coil, changer.signal.coil)
            found.setdefault(key, (position, changer))
    return found


def _shares(changer: Changer) -> tuple[float, float]:
    """Oscillator over signal, gang in and gang out, the trimmers as they raise it most."""
    signal, oscillator = changer.signal, changer.oscillator
    return oscillator.closed[1] / signal.closed[0], oscillator.open[1] / signal.open[0]


def _least(changer: Changer) -> Threshold:
    return ABOVE if changer.signal.closed[0] < SHORT_HZ.value else BELOW


def _finding(case: Case, position: str, changer: Changer, others: list[Changer]) -> Finding:
    signal, oscillator, shares = changer.signal, changer.oscillator, _shares(changer)
    end = shares.index(min(shares))
    mine = (oscillator.closed[1], oscillator.open[1])[end]
    heard = (signal.closed[0], signal.open[0])[end]
    contacts = dict.fromkeys((*oscillator.contacts, *signal.contacts))
    return oscillator_below_signal.finding(
        case,
        (oscillator.coil, signal.coil, *contacts, changer.section.name),
        f"{position}, {oscillator.coil} ({engineering(oscillator.henry, 'H')}) tunes the "
        f"oscillator and {signal.coil} ({engineering(signal.henry, 'H')}) the signal: with the "
        f"gang {'in' if end == 0 else 'out'} the oscillator is at {engineering(mine, 'Hz')} at "
        f"most and the signal at {engineering(heard, 'Hz')} at least, and the oscillator has to be "
        "above it",
        _cure(changer, others),
        evidence={
            "oscillator": figure(mine, "Hz"),
            "signal": figure(heard, "Hz"),
            "share": figure(min(shares), ""),
        },
        limit=_least(changer).figure,
        certainty="certain",
        excess=_least(changer).value / min(shares),
    )


def _cure(changer: Changer, others: list[Changer]) -> str:
    mine, heard = changer.oscillator, changer.signal
    fit = [o for o in others if o.oscillator.henry < heard.henry and mine.henry < o.signal.henry]
    if fit:
        return f"Exchange {mine.coil} and {fit[0].oscillator.coil} on the switch"
    return f"Use an oscillator coil below {engineering(heard.henry, 'H')}"


@rule(
    "signal.converter-grids-exchanged",
    title="Screen and oscillator's plate of a converter exchanged",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the wiring of both grids and of the oscillator's coil",
    criterion="A converter with a second grid for its oscillator's plate has a winding of its "
    "oscillator's coil at the screen, straight or by a capacitor, and at that grid no coil but a "
    f"capacitor of {RADIO_F.figure.text()} or more to gnd.",
    why="The second grid is next to the one that oscillates and collects what it steers; the "
    "screen is behind the signal's grid's shield and is to hold still. Exchanged, the tickler gets "
    "next to nothing and the oscillator does not start.",
    source=(PRACTICE, Citation("type-sheet")),
    limits="Converters whose screen is their oscillator's plate have no second grid of their own.",
    thresholds=(RADIO_F,),
)
def converter_grids_exchanged(case: Case) -> Iterator[Outcome]:
    """Look which of the two grids of each converter the tickler is on."""
    circuit = case.circuit
    for _, section in working(circuit):
        plate, screen = section.net("grid2"), section.net("screen")
        if section.kind is not SectionKind.CONVERTER or plate is None or screen is None:
            continue
        nets = at_grid(circuit, section)
        sets = [s for s in circuit.coil_sets.values() if any(nets & set(c.nets) for c in s.coils)]
        wound = {n for s in sets for c in s.coils for n in c.nets} - set(LANDMARKS)
        apart = plate != screen and not _given(circuit, plate) & wound
        if apart and _given(circuit, screen) & wound and _bypassed(circuit, plate):
            yield _exchanged(case, section.name)


def _given(circuit: Circuit, net: str) -> set[str]:
    """A net and those that a capacitor leads to from there, up to what holds still."""
    near = {b.other(net) for b in circuit.at(net) if b.kind is PartKind.CAPACITOR}
    return {net, *near} - set(still_nets(circuit))


def _bypassed(circuit: Circuit, net: str) -> bool:
    near = (b for b in circuit.at(net) if b.kind is PartKind.CAPACITOR and b.other(net) == GROUND)
    return any((b.farads or 0.0) >= RADIO_F.value for b in near)


def _exchanged(case: Case, name: str) -> Finding:
    return converter_grids_exchanged.finding(
        case,
        (name, f"{name}.grid2", f"{name}.screen"),
        f"{name}: the oscillator's winding is at its screen, and its second grid, the oscillator's "
        "plate, is held still: it does not oscillate",
        f"Exchange {name}.grid2 and {name}.screen",
        certainty="certain",
    )


RULES: tuple[Rule, ...] = (oscillator_below_signal, converter_grids_exchanged)
