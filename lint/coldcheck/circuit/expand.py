"""Turns parts into branches once the nets have their names.

A tapped thing becomes one branch between each two neighbouring leads, so that the shares add up
to the whole from the first lead to the last.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import pi, sqrt
from typing import TYPE_CHECKING

from coldcheck.circuit.kinds import TRAITS
from coldcheck.circuit.leads import JACK_LEADS, output_leads, winding_leads
from coldcheck.circuit.model import (
    GROUND,
    Branch,
    Bridge,
    Coil,
    CoilSet,
    Coupler,
    OutputTransformer,
    Rating,
    Relay,
    Thyristor,
    Transformer,
    Transistor,
    Vibrator,
    Winding,
)
from coldcheck.circuit.throws import turned
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import Compound, Measure
from coldcheck.drawing.units import quantity

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator, Mapping, Sequence

    from coldcheck.circuit.transistors import TransistorType
    from coldcheck.drawing.model import (
        BridgeLine,
        CoilLine,
        CompoundLine,
        JackLine,
        OutputLine,
        Part,
        PotLine,
        RelayLine,
        ReverbLine,
        SignalLine,
        SwitchLine,
        TransformerLine,
        TransistorLine,
        WindingLine,
    )
    from coldcheck.drawing.units import Quantity


def part_branch(name: str, part: Part, left: str, right: str, value: Quantity | None) -> Branch:
    """The branch of a part drawn from ``left`` to ``right``; a diode's ``a`` is its anode."""
    plus = {"left": left, "right": right}.get(part.plus or "")
    turned = part.arrow == "left" if TRAITS[part.kind].one_way else _is_turned(part)
    return Branch(
        name,
        part.kind,
        right if turned else left,
        left if turned else right,
        part.name,
        part.span,
        value,
        resistance=part.resistance,
        plus=plus,
        closed=not part.open,
        part=part,
        rating=rating(part) if TRAITS[part.kind].breaks else None,
    )


def rating(line: Part | SwitchLine | RelayLine | JackLine) -> Rating | None:
    """What the drawing says the contacts may break, ``None`` where it says nothing."""
    if line.voltage is None and line.current is None:
        return None
    return Rating(line.voltage, line.voltage_is_ac, line.current)


def _is_turned(part: Part) -> bool:
    return part.kind is PartKind.SOURCE and part.plus == "right"


def winding(
    owner: str, line: WindingLine, net: Callable[[str], str], taken: Quantity | None = None
) -> Winding:
    """A winding with its halves; each has its share of the resistance by voltage.

    The emf of a branch is positive at ``a``: with the dot at lead 2 the ends change places.
    ``taken`` are its volts where none are written.
    """
    name = f"{owner}.{line.name}"
    ends = winding_leads(line)
    leads = tuple((end, net(f"{name}.{end}")) for end in ends)
    total = sum(line.voltages[1:], line.voltages[0]) if line.voltages else taken
    volts = _steps(line, total)
    branches = []
    for ((a, net_a), (b, net_b)), part in zip(pairwise(leads), volts, strict=True):
        share = float((part / total).m_as("")) if part and total else 1 / len(volts)
        ohms = None if line.resistance is None else line.resistance * share
        branch = name if len(ends) == 2 else f"{name}.{a}-{b}"
        nets = (net_b, net_a) if line.dot == "2" else (net_a, net_b)
        branches.append(Branch(branch, PartKind.WINDING, *nets, name, line.span, part, ohms))
    halves = tuple(branches)
    return Winding(
        name, line.primary, total, line.current, line.resistance, leads, halves, line.span,
        line.dot, line.insulation, taken=not line.voltages and taken is not None,
    )  # fmt: skip


def _steps(line: WindingLine, total: Quantity | None) -> tuple[Quantity | None, ...]:
    """The volts between each two neighbouring leads of a winding."""
    if len(line.voltages) < 2 and line.tapped:
        return (None, None) if total is None else (total / 2, total / 2)
    if not line.voltages:
        return (total,)
    if not any(line.taps):
        return line.voltages
    rising = [(*t, v) for t, v in zip(line.taps, line.voltages, strict=True)]
    parts = [_differences([float(v.m_as("volt")) for v in half]) for half in rising]
    first = parts[0] if len(parts) == 1 else parts[0][::-1]  # halves are counted from ct
    return tuple(quantity(v, "volt") for v in (*first, *(v for part in parts[1:] for v in part)))


def _differences(rising: Sequence[float]) -> list[float]:
    return [b - a for a, b in pairwise((0.0, *rising))]


def transformer(
    line: TransformerLine,
    lines: list[WindingLine],
    net: Callable[[str], str],
    is_written: Callable[[str], bool],
    mains: Quantity | None,
    heated: Mapping[frozenset[str], Quantity],
) -> Transformer:
    """A mains transformer; it is ``wired`` when the drawing names a lead of a primary.

    ``heated`` are the volts that heaters between two nets need. Where a winding has none written
    they are taken, and those of the mains for an only primary.
    """
    alone = sum(w.primary for w in lines) == 1

    def volts(w: WindingLine) -> Quantity | None:
        if w.primary:
            return mains if alone else None
        return heated.get(frozenset(net(f"{line.name}.{w.name}.{end}") for end in ("1", "2")))

    windings = tuple(winding(line.name, w, net, volts(w)) for w in lines)
    keys = [f"{line.name}.{w.name}.{e}" for w in lines if w.primary for e in winding_leads(w)]
    taken = _taken(lines, mains)
    return Transformer(line.name, windings, any(map(is_written, keys)), line.span, taken)


def _taken(lines: list[WindingLine], mains: Quantity | None) -> int | None:
    """How many parts of the first primary there are up to the tap for this mains voltage."""
    first = next((w for w in lines if w.primary), None)
    if first is None or mains is None or len(first.voltages) > 1 or not any(first.taps):
        return None
    ends = [float((volts / mains).m_as("")) for volts in (*first.taps[0], *first.voltages)]
    return 1 + min(range(len(ends)), key=lambda k: abs(ends[k] - 1))


def coil_set(
    line: TransformerLine, lines: Sequence[CoilLine], net: Callable[[str], str]
) -> CoilSet:
    """Coils that couple. Turns go by the square root of impedances and inductances.

    In iron all of the flux is taken to be common where no coupling is written; of coils for radio
    frequencies it is not known then. Iron is what has the word, or more than 10 mH.
    """
    sized = [w for w in lines if w.measure is not Measure.UNKNOWN]
    known = dict(zip((w.name for w in sized), _sizes(sized), strict=True))
    most = max((henries for _, henries in known.values()), default=0.0)
    iron = line.gapped is not None or most > RADIO_HENRIES
    unsized = (1.0, UNSIZED_IRON if iron else UNSIZED_RADIO)
    coils = tuple(
        _wound(f"{line.name}.{w.name}", w, *known.get(w.name, unsized), net) for w in lines
    )
    coupling = line.coupling
    if coupling is None and (iron or len(lines) == 1):
        coupling = 1.0
    return CoilSet(line.name, coils, coupling, line.gapped, iron, line.span)


SPRING_HZ = 1000.0
"""At which the impedances of spring tanks are stated (makers' lists, from memory)."""


def reverb(line: ReverbLine, net: Callable[[str], str]) -> CoilSet:
    """The two coils of a spring tank: nothing is known of what springs hand on."""
    coils = tuple(_spring_coil(f"{line.name}.{coil.name}", coil, net) for coil in line.coils)
    return CoilSet(line.name, coils, 0.0, None, True, line.span)


def _spring_coil(name: str, line: CoilLine, net: Callable[[str], str]) -> Coil:
    ohms = float(line.sizes[0].m_as("ohm")) if line.sizes else UNSIZED_SPRING
    coil = _wound(name, line, 1.0, ohms / (2 * pi * SPRING_HZ), net)
    return replace(coil, assumed=not line.sizes, springs=True)


UNSIZED_SPRING = 500.0
"""Ohms at 1 kHz of a tank's coil of which nothing is written: those made have 8 to 12 000."""

UNSIZED_RADIO, UNSIZED_IRON = 1e-3, 10.0
"""Henries taken for a coil of unknown size: an IF coil's, an interstage primary's (practice).

They say the ohms of its wire; what the signal does with it is left open.
"""

RADIO_HENRIES = 10e-3
"""The largest coil for radio frequencies (an IF coil for 110 kHz has 10 mH; practice)."""


MOST_HENRIES = 100.0
"""The largest winding of a transformer that is given by its turns alone (from memory)."""

LOWEST_HZ = 20.0
"""Where a winding's reactance is its impedance when no inductance is written (practice)."""


def _sizes(lines: Sequence[CoilLine]) -> list[tuple[float, float]]:
    """Turns and henries of each."""
    if not lines:
        return []
    turns = [_turns(w) for w in lines]
    return list(zip(turns, _henries(lines, turns), strict=True))


def _turns(line: CoilLine) -> float:
    sizes = [float(size.to_base_units().m) for size in line.sizes]
    return sum(sizes) if line.measure is Measure.TURNS else sqrt(sizes[0])


def _henries(lines: Sequence[CoilLine], turns: list[float]) -> list[float]:
    """Inductances: as written, else by the square of the turns from one that is, else assumed."""
    written = [None if w.henries is None else float(w.henries.m_as("henry")) for w in lines]
    known = next(((h, n) for h, n in zip(written, turns, strict=True) if h is not None), None)
    if known is None:
        of_ohms = lines[0].measure is Measure.IMPEDANCE
        largest = max(turns)
        known = (largest**2 / (2 * pi * LOWEST_HZ) if of_ohms else MOST_HENRIES, largest)
    each = known[0] / known[1] ** 2
    return [each * n**2 if h is None else h for h, n in zip(written, turns, strict=True)]


def _wound(
    name: str, line: CoilLine, turns: float, henries: float, net: Callable[[str], str]
) -> Coil:
    leads = tuple((end, net(f"{name}.{end}")) for end in winding_leads(line))
    parts = []
    for ((a, net_a), (b, net_b)), share in zip(pairwise(leads), _shares(line), strict=True):
        ohms = None if line.resistance is None else line.resistance * share
        branch = name if len(leads) == 2 else f"{name}.{a}-{b}"
        ends = (net_b, net_a) if line.dot == "2" else (net_a, net_b)
        made = Branch(branch, PartKind.WINDING, *ends, name, line.span, None, ohms)
        parts.append((share, made))
    ohms = line.sizes[0] if line.measure is Measure.IMPEDANCE else None
    return Coil(
        name, line.primary, turns, quantity(henries, "henry"),
        line.henries is None, ohms, line.current, line.resistance, leads, tuple(parts),
        line.span, line.dot, line.insulation, line.measure is Measure.UNKNOWN,
    )  # fmt: skip


def _shares(line: CoilLine) -> list[float]:
    """The share of the turns between each two neighbouring leads."""
    if line.tapped and len(line.sizes) < 2:
        return [0.5, 0.5]
    if not line.sizes:
        return [1.0]
    rising = [[float(v.to_base_units().m) for v in (*t, whole)]
              for t, whole in zip(line.taps, line.sizes, strict=True)]  # fmt: skip
    if line.measure is Measure.IMPEDANCE:
        rising = [[sqrt(v) for v in half] for half in rising]
    parts = [_differences(half) for half in rising]
    first = parts[0] if len(parts) == 1 else parts[0][::-1]  # halves are counted from ct
    found = [*first, *(v for part in parts[1:] for v in part)]
    return [v / sum(found) for v in found]


def output_shares(line: OutputLine) -> Mapping[str, float]:
    """Lead -> position on the primary as a fraction of its turns, counted from ``p1``.

    A tap of a push-pull winding is given from ``ct`` as a fraction of the half; that of a
    single-ended one from the supply end, ``p1``, as a fraction of the whole.
    """
    if not line.tapped:
        middle = {} if line.tap is None else {"u1": line.tap}
    else:
        middle = {"ct": 0.5}
        if line.tap is not None:
            middle |= {"u1": 0.5 - line.tap / 2, "u2": 0.5 + line.tap / 2}
    return {"p1": 0.0, **middle, "p2": 1.0}


def output(line: OutputLine, net: Callable[[str], str]) -> OutputTransformer:
    """An output transformer. Turns ratio of the secondary: sqrt(Zs / Zp)."""
    leads = tuple((lead, net(f"{line.name}.{lead}")) for lead in output_leads(line))
    nets, shares = dict(leads), output_shares(line)
    secondary = [lead for lead, _ in leads if lead not in shares]
    branches = []
    for a, b in pairwise([lead for lead, _ in leads if lead in shares]):
        share = shares[b] - shares[a]
        ohms = None if line.resistance is None else line.resistance * share
        branches.append((share, _coil(line, (a, b), nets, ohms, "p2" in line.dots)))
    turns = [sqrt(float((z / line.primary).m_as(""))) for z in (*line.steps, line.secondary)]
    for (a, b), ratio in zip(pairwise(secondary), _differences(turns), strict=True):
        branches.append((ratio, _coil(line, (a, b), nets, None, "s2" in line.dots)))
    return OutputTransformer(
        line.name,
        line.primary,
        line.secondary,
        line.inductance,
        tuple(branches),
        leads,
        line.span,
        line.current,
        line.gapped,
        line.steps,
    )


def _coil(
    line: OutputLine,
    ends: tuple[str, str],
    nets: Mapping[str, str],
    ohms: Quantity | None,
    turned: bool,
) -> Branch:
    a, b = ends
    name = f"{line.name}.{a}-{b}"
    first, last = (nets[b], nets[a]) if turned else (nets[a], nets[b])
    return Branch(name, PartKind.WINDING, first, last, line.name, line.span, None, ohms)


def pot(line: PotLine, net: Callable[[str], str]) -> Iterator[Branch]:
    """The track from lead to lead; at an end of the wiper's travel one part of it is 0 ohm."""
    name = line.name
    for (above, high), (below, low) in pairwise(line.shares):
        value = None if line.value is None else line.value * (high - low)
        ends = net(f"{name}.{above}"), net(f"{name}.{below}")
        yield Branch(f"{name}.{above}-{below}", PartKind.POT, *ends, name, line.span, value)


def switch(line: SwitchLine, net: Callable[[str], str]) -> Iterator[Branch]:
    """One contact for each pole and position."""
    for pole, position in line.contacts:
        yield Branch(
            f"{line.name}.{pole}common-{position}", PartKind.CONTACT,
            net(f"{line.name}.{pole}common"), net(f"{line.name}.{pole}{position}"),
            line.name, line.span, closed=line.at == position, rating=rating(line),
            throws=_throws(line, position),
        )  # fmt: skip


def _throws(line: SwitchLine, position: int) -> tuple[str, ...]:
    """What changes a contact: of two positions the switch, of more each position it is not in.

    Every other position opens the contact that is closed as drawn; its own closes another.
    """
    if line.throws <= 2:
        return (line.name,)
    others = [n for n in range(1, line.throws + 1) if n != line.at]
    return tuple(turned(line.name, n) for n in (others if position == line.at else (position,)))


def relay(line: RelayLine, net: Callable[[str], str]) -> Relay:
    """A relay: its coil, and its contacts as they are while the set works."""
    name = line.name
    coil = Branch(
        f"{name}.coil", PartKind.RELAY, net(f"{name}.coil.1"), net(f"{name}.coil.2"),
        f"{name}.coil", line.span, line.ohms,
    )  # fmt: skip
    contacts = tuple(
        Branch(
            f"{name}.{pole}common-{end}", PartKind.CONTACT, net(f"{name}.{pole}common"),
            net(f"{name}.{pole}{end}"), name, line.span, closed=(end == "no") != line.released,
            rating=rating(line),
        )
        for pole in line.poles
        for end in line.ends[1:]
    )  # fmt: skip
    delay = None if line.delay is None else float(line.delay.m_as("second"))
    return Relay(name, coil, contacts, line.coil, line.coil_is_ac, delay, line.released, line.span)


def bridge(line: BridgeLine, net: Callable[[str], str]) -> Bridge:
    """The four diodes of a block, each from its anode to its cathode."""
    name = line.name
    ends = (("ac1", "plus"), ("ac2", "plus"), ("minus", "ac1"), ("minus", "ac2"))
    diodes = tuple(
        Branch(
            f"{name}.{a}-{b}", PartKind.DIODE, net(f"{name}.{a}"), net(f"{name}.{b}"),
            name, line.span,
        )
        for a, b in ends
    )  # fmt: skip
    return Bridge(name, line.part, diodes, line.span)


def couplers(
    lines: Mapping[str, CompoundLine], branches: Mapping[str, Branch]
) -> Iterator[Coupler]:
    """The optocouplers whose cell has ohms in the light of their lamp."""
    for name in lines:
        lamp, cell = branches.get(f"{name}.lamp"), branches.get(f"{name}.cell")
        if lamp is not None and cell is not None and cell.resistance is not None:
            yield Coupler(name, lamp, cell)


def thyristors(
    lines: Mapping[str, CompoundLine], branches: Mapping[str, Branch]
) -> Iterator[Thyristor]:
    """The thyristors and triacs."""
    for name in lines:
        main, gate = branches.get(f"{name}.main"), branches.get(f"{name}.gate")
        if main is not None and gate is not None:
            yield Thyristor(name, main, gate)


USUAL_HERTZ = 115.0
"""Of a vibrator of which the drawing says nothing (common practice: 100 to 120)."""


def vibrators(
    lines: Mapping[str, CompoundLine], branches: Mapping[str, Branch], net: Callable[[str], str]
) -> Iterator[Vibrator]:
    """The vibrators."""
    for name, line in lines.items():
        main = branches.get(f"{name}.chopper")
        if main is not None:
            hertz = line.frequency
            own = USUAL_HERTZ if hertz is None else float(hertz.m_as("hertz"))
            yield Vibrator(name, main, net(f"{name}.reed"), own)


def plugs(lines: Mapping[str, CompoundLine]) -> dict[str, str]:
    """What each plug is in the state in which it is not as drawn."""
    found = {}
    for name, line in lines.items():
        if line.sort is Compound.MAINS_PLUG:
            found[name] = "turned"
        elif line.sort is Compound.CONNECTOR:
            found[name] = "plugged" if line.inside[0].part.open else "unplugged"
    return found


def transistor(line: TransistorLine, kind: TransistorType, net: Callable[[str], str]) -> Transistor:
    """Its two paths; those of a p-channel type are drawn the way its current flows."""
    name, sort = line.name, PartKind.GATE if kind.family.gated else PartKind.BASE
    main, out, control = kind.family.leads
    nets = {lead: net(f"{name}.{lead}") for lead in kind.family.leads}

    def path(a: str, b: str, what: PartKind) -> Branch:
        ends = (a, b) if kind.family.sign > 0 else (b, a)
        return Branch(f"{name}.{a}-{b}", what, nets[ends[0]], nets[ends[1]], name, line.span)

    channel = path(main, out, PartKind.CHANNEL)
    steered = path(*((out, control) if kind.family.regulates else (control, out)), sort)
    return Transistor(name, kind, nets, channel, steered, line.sink, line.span)


def jack(line: JackLine, net: Callable[[str], str], in_use: Collection[str]) -> Branch:
    """The contact that rests on the tip until a plug lifts it.

    Where the drawing does not say, a plug is in when its tip is among the nets ``in_use``.
    """
    a, b = net(f"{line.name}.switch"), net(f"{line.name}.tip")
    plugged = b in in_use if line.plugged is None else line.plugged
    return Branch(
        f"{line.name}.switch-tip", PartKind.JACK_CONTACT, a, b, line.name, line.span,
        closed=not plugged, rating=rating(line),
    )  # fmt: skip


def signal(line: SignalLine, net: Callable[[str], str]) -> Branch:
    """A signal source from its point to gnd.

    One at an electrode or a coil stands for what comes in there (an aerial's field): it is
    ``closed`` for the signal alone, so that it does not tie an AVC line to gnd.
    """
    here, name = net(line.name), line.name
    _, lead, end = name.rpartition(".")
    outside = not lead or end in JACK_LEADS
    return Branch(
        name, PartKind.SIGNAL, here, GROUND, name, line.span, line.voltage, closed=outside
    )
