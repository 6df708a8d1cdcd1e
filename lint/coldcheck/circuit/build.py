"""A drawing becomes a circuit: declarations, wires, heaters, then nets with names and branches.

Nothing in the text makes this fail: what cannot be understood is listed in
:attr:`~coldcheck.circuit.model.Circuit.problems` and the rest is built around it.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.circuit import expand
from coldcheck.circuit.declare import Declared, read_declarations
from coldcheck.circuit.expected import check_expectations
from coldcheck.circuit.heaters import HeaterPlan, build_heater, plan_heaters
from coldcheck.circuit.kinds import TRAITS, Stamp
from coldcheck.circuit.lamps import glowing, numbered
from coldcheck.circuit.leads import lead_key, pin_key
from coldcheck.circuit.model import Branch, Circuit, Heater, Section, Tube
from coldcheck.circuit.problems import BAD_VALUE, NOT_SUPPORTED, ProblemLog
from coldcheck.circuit.standby import standby_at_work
from coldcheck.circuit.thyristors import figured
from coldcheck.circuit.usual import USUAL
from coldcheck.circuit.wiring import walk
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import quantity

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from coldcheck.circuit.model import OutputTransformer, Transformer
    from coldcheck.circuit.nets import Named
    from coldcheck.circuit.tubes import TubeType
    from coldcheck.circuit.usual import Usual
    from coldcheck.circuit.wiring import Drawn, Wiring
    from coldcheck.drawing.model import CompoundLine, Drawing, Part, Span
    from coldcheck.drawing.units import Quantity


def build_circuit(
    drawing: Drawing, library: Mapping[str, TubeType] | None = None, usual: Usual = USUAL
) -> Circuit:
    """Build the circuit of a drawing; never raises on its content.

    ``library`` holds further tube types by name, in front of the ones on file; ``usual`` is
    taken where the drawing states no tolerance.
    """
    log = ProblemLog(drawing)
    found = read_declarations(drawing, log, library or {})
    wiring = walk(drawing, found, log)
    check_expectations(drawing, found, wiring, log)
    strung = {name: (d.part, d.left, d.right) for name, d in wiring.strung.items()}
    plans = plan_heaters(found, wiring.nets, strung, log)
    named = wiring.nets.finish()
    return replace(_assemble(drawing, found, wiring, plans, named, log), usual=usual)


def _assemble(
    drawing: Drawing,
    found: Declared,
    wiring: Wiring,
    plans: Iterable[HeaterPlan],
    named: Named,
    log: ProblemLog,
) -> Circuit:
    net = named.nets.__getitem__
    heaters = {plan.tube: build_heater(plan, net) for plan in plans}
    mains = found.mains.voltage if found.mains else None
    heated = _needed_by_heaters(heaters.values())
    transformers = {
        name: expand.transformer(line, windings, net, wiring.nets.is_written, mains, heated)
        for name, (line, windings) in found.transformers.items()
    }
    _refuse_unsaid_tap(transformers.values(), log)
    outputs = {name: expand.output(line, net) for name, line in found.outputs.items()}
    coil_sets = {
        name: expand.coil_set(line, coils, net) for name, (line, coils) in found.coil_sets.items()
    }
    coil_sets |= {name: expand.reverb(line, net) for name, line in found.reverbs.items()}
    relays = {name: expand.relay(line, net) for name, line in found.relays.items()}
    bridges = {name: expand.bridge(line, net) for name, line in found.bridges.items()}
    transistors = {
        name: expand.transistor(line, kind, net) for name, (line, kind) in found.transistors.items()
    }
    branches: dict[str, Branch] = {}
    for branch in (
        *(b for relay in relays.values() for b in (relay.coil, *relay.contacts)),
        *(b for q in transistors.values() for b in (q.channel, q.control)),
        *(diode for bridge in bridges.values() for diode in bridge.diodes),
        *(b for coils in coil_sets.values() for _, b in coils.branches),
        *_declared_branches(found, transformers, outputs, heaters, net, _in_use(wiring, found)),
        *(b for line in found.compounds.values() for b in _inside(line, net, log)),
        *_drawn_branches(wiring.drawn, net, log),
    ):
        own = _free_name(branch.name, branches)
        branches[own] = replace(branch, name=own)
    branches = glowing(standby_at_work(branches))
    _refuse_without_law(branches.values(), log)
    return Circuit(
        drawing=drawing,
        graph=_graph(named, branches.values()),
        points=named.points,
        names=named.names,
        branches=branches,
        tubes=_tubes(found, heaters, net),
        transformers=transformers,
        outputs=outputs,
        coil_sets=coil_sets,
        relays=relays,
        bridges=bridges,
        thyristors={t.name: t for t in expand.thyristors(found.compounds, branches)},
        vibrators={v.name: v for v in expand.vibrators(found.compounds, branches, net)},
        plugs=expand.plugs(found.compounds),
        couplers={c.name: c for c in expand.couplers(found.compounds, branches)},
        transistors=transistors,
        mains=found.mains,
        places=_places(found, wiring, named, branches, drawing.file),
        problems=tuple(sorted(log.problems, key=lambda problem: problem.span)),
    )


def _needed_by_heaters(heaters: Iterable[Heater]) -> dict[frozenset[str], Quantity]:
    """Two nets -> the volts that all the heaters between them need."""
    found: dict[frozenset[str], set[Quantity]] = {}
    for heater in heaters:
        first, last = heater.branches[0], heater.branches[-1]
        far = last.b if last.b != first.a else first.b  # its halves in parallel
        found.setdefault(frozenset((first.a, far)), set()).add(heater.volts)
    return {ends: next(iter(volts)) for ends, volts in found.items() if len(volts) == 1}


def _refuse_unsaid_tap(transformers: Iterable[Transformer], log: ProblemLog) -> None:
    """A primary that is not drawn is taken to be on the mains; with taps nobody knows by which."""
    for transformer in transformers:
        for primary in transformer.primaries if not transformer.wired else ():
            if len(primary.branches) > len(primary.half) or len(primary.leads) == 2:
                continue
            ends = f"{primary.name}.{primary.leads[0][0]}", f"{primary.name}.{primary.leads[1][0]}"
            hint = f"for example: line -- {ends[0]} and neutral -- {ends[1]}"
            expected = "the tap that the mains is on"
            log.add(primary.span, BAD_VALUE, f"{primary.name}, not wired", expected, hint)


def _refuse_without_law(branches: Iterable[Branch], log: ProblemLog) -> None:
    """A kind that the solver cannot do yet stops the review: nothing is open around it."""
    for branch in branches:
        if branch.traits.stamp is Stamp.UNSOLVED:
            found = f"{branch.owner}, a {branch.kind.value}"
            log.add(branch.span, NOT_SUPPORTED, found, "a part whose law the solver knows")


def _graph(named: Named, branches: Iterable[Branch]) -> nx.MultiGraph[str]:
    graph: nx.MultiGraph[str] = nx.MultiGraph()
    graph.add_nodes_from(named.names)
    for branch in branches:
        graph.add_edge(branch.a, branch.b, key=branch.name, branch=branch)
    return graph


def _declared_branches(
    found: Declared,
    transformers: Mapping[str, Transformer],
    outputs: Mapping[str, OutputTransformer],
    heaters: Mapping[str, Heater],
    net: Callable[[str], str],
    in_use: Iterable[str],
) -> Iterator[Branch]:
    for transformer in transformers.values():
        for winding in transformer.windings:
            yield from winding.branches
    for name, (line, kind) in found.tubes.items():
        yield from heaters[name].branches if name in heaters else ()
        yield from _jumpers(name, kind, line.span, net)
    for output in outputs.values():
        yield from (branch for _, branch in output.branches)
    for pot in found.pots.values():
        yield from expand.pot(pot, net)
    for switch in found.switches.values():
        yield from expand.switch(switch, net)
    plugs = {net(key) for key in in_use}
    for jack in found.jacks.values():
        yield expand.jack(jack, net, plugs)
    for signal in found.signals:
        yield expand.signal(signal, net)


def _in_use(wiring: Wiring, found: Declared) -> Iterator[str]:
    """Where something is plugged in: points with a signal, ends of speakers, as keys."""
    for signal in found.signals:
        yield signal.name
    for item in wiring.drawn:
        if item.part.kind is PartKind.SPEAKER:
            yield from (item.left, item.right)


def _free_name(name: str, taken: Mapping[str, Branch]) -> str:
    """The name, or ``R1 (2)`` for a second part of the same name: it is wired all the same."""
    count, free = 1, name
    while free in taken:
        count += 1
        free = f"{name} ({count})"
    return free


def _jumpers(name: str, kind: TubeType, span: Span, net: Callable[[str], str]) -> Iterator[Branch]:
    """A link between two pins inside the tube: gone when the tube is pulled."""
    for a, b in kind.jumpers:
        ends = (net(pin_key(name, kind, a)), net(pin_key(name, kind, b)))
        yield Branch(f"{name}.{a}-{b}", PartKind.CONTACT, *ends, name, span)


def _drawn_branches(
    drawn: Iterable[Drawn], net: Callable[[str], str], log: ProblemLog
) -> Iterator[Branch]:
    """The parts on the wires, in the order of the text."""
    for item in drawn:
        part = numbered(item.part, log)
        name = f"{part.name}.heater" if part.kind is PartKind.HEATER else part.name
        value = _checked_value(part, log)
        yield expand.part_branch(name, part, net(item.left), net(item.right), value)


def _inside(line: CompoundLine, net: Callable[[str], str], log: ProblemLog) -> Iterator[Branch]:
    """The parts in one case; what steers one of them is called as the case is."""
    for inner in line.inside:
        part = numbered(inner.part, log)
        part = figured(part, log) if part.kind is PartKind.THYRISTOR else part
        a, b = (net(f"{line.name}.{end}") for end in inner.ends)
        made = expand.part_branch(part.name, part, a, b, _checked_value(part, log))
        made = replace(made, throws=(line.name,))
        way = part.kind is PartKind.PLUG
        yield replace(made, owner=line.name, part=None) if way else made


def _checked_value(part: Part, log: ProblemLog) -> Quantity | None:
    """The part's main value, a lamp's from its volts and amperes; what is absurd is dropped."""
    _check_direction(part, log)
    value = part.value
    if part.kind is PartKind.LAMP:
        return _lamp_ohms(part)
    if part.kind is PartKind.METER and value is None:
        return _meter_ohms(part)
    if part.kind is PartKind.BARRETTER:
        return _barretter_ohms(part, log)
    if part.kind is PartKind.PHOTOCELL:
        _check_light(part, log)
    if value is not None and value.m <= 0:
        expected = "a value above zero"
        hint = "where there is no part, draw a wire" if part.kind is PartKind.RESISTOR else ""
        log.add(part.span, BAD_VALUE, f"{part.name} {value:~}", expected, hint)
        return None
    return value


AMMETER_V = 0.1
"""What an ammeter drops with its pointer at the end: 50 to 100 mV (common practice)."""

VOLTMETER_A = 1e-3
"""What a voltmeter takes with its pointer at the end: 1000 ohm a volt (common practice)."""


def _meter_ohms(part: Part) -> Quantity | None:
    """A meter's resistance where it is not written: what is usual for its full scale."""
    if part.current is not None and "value" not in part.unknown:
        return quantity(AMMETER_V / float(part.current.m_as("ampere")), "ohm")
    if part.voltage is not None and "value" not in part.unknown:
        return quantity(float(part.voltage.m_as("volt")) / VOLTMETER_A, "ohm")
    return None


def _barretter_ohms(part: Part, log: ProblemLog) -> Quantity | None:
    """What a barretter has at the low end of its range: volts over the amperes that it holds."""
    low, high, amps = part.value, part.voltage, part.current
    if amps is None:
        hint = f"write [{part.name} barretter 300 mA 40 V 120 V], of one that is a resistor one V"
        log.add(
            part.span, BAD_VALUE, f"{part.name} without a current", "the amperes it holds", hint
        )
        return None
    if low is not None and high is not None and high <= low:
        log.add(part.span, BAD_VALUE, f"{low:~} {high:~}", "the lower end of its range first")
    return None if low is None or low.m <= 0 else (low / amps).to("ohm")


def _check_light(part: Part, log: ProblemLog) -> None:
    """A photocell has fewer ohms in the light, written second."""
    dark, lit = part.value, part.resistance
    if dark is not None and lit is not None and lit >= dark:
        log.add(part.span, BAD_VALUE, f"{dark:~} {lit:~}", "the ohms in the dark first")


def _lamp_ohms(part: Part) -> Quantity | None:
    """Hot resistance of a lamp: as given, or V / I, or V * V / P of its rating."""
    if part.resistance is not None:
        return part.resistance
    ohms: Quantity | None = None
    if part.voltage is not None and part.current is not None and part.current.m > 0:
        ohms = (part.voltage / part.current).to("ohm")
    elif part.voltage is not None and part.power is not None and part.power.m > 0:
        ohms = (part.voltage**2 / part.power).to("ohm")
    return ohms


def _check_direction(part: Part, log: ProblemLog) -> None:
    if part.kind is PartKind.SOURCE and part.plus is None:
        hint = f"draw the plus: --+[{part.name} ...]-- or --[{part.name} ...]+--"
        expected = "a source whose plus is drawn (taken as the left side)"
        log.add(part.span, BAD_VALUE, part.name, expected, hint)
    elif TRAITS[part.kind].one_way and part.arrow is None:
        hint = f"draw which way it conducts: --[{part.name} ...]-> or <-[{part.name} ...]--"
        expected = "a direction (taken as left to right)"
        log.add(part.span, BAD_VALUE, part.name, expected, hint)


def _tubes(
    found: Declared, heaters: Mapping[str, Heater], net: Callable[[str], str]
) -> dict[str, Tube]:
    tubes = {}
    for name, (line, kind) in found.tubes.items():
        tap = _middle(name, kind, heaters.get(name), net)
        sections = tuple(
            Section(
                name + s.name,
                name,
                s,
                {e: net(lead_key(name, kind, s.name, e)) for e in s.electrodes},
                tap,
            )
            for s in kind.sections
        )
        tubes[name] = Tube(name, kind, sections, heaters.get(name), line.span)
    return tubes


def _middle(
    name: str, kind: TubeType, heater: Heater | None, net: Callable[[str], str]
) -> str | None:
    """The net of a filament's middle, where its two halves are wired."""
    if kind.cathode != "filament" or heater is None or len(heater.branches) < 2:
        return None
    return net(f"{name}.tap")


def _places(
    found: Declared, wiring: Wiring, named: Named, branches: Mapping[str, Branch], file: str
) -> dict[str, Span]:
    """Where each name is first mentioned; declared names keep their declaration.

    What is named both in the drawing and in a sheet of it stands in the drawing's own ``file``.
    """
    places: dict[str, Span] = {**found.spans}
    for name, (_, windings) in found.transformers.items():
        places |= {f"{name}.{w.name}": w.span for w in windings}
    for name, (_, coils) in found.coil_sets.items():
        places |= {f"{name}.{c.name}": c.span for c in coils}
    places |= {part: span for part, span in wiring.places.items() if part not in places}
    for name, branch in branches.items():
        places.setdefault(name, branch.span)
    for net, keys in named.names.items():
        spans = [places[key] for key in keys if key in places]
        if spans:
            places.setdefault(net, min(spans, key=lambda s: (s.file != file, s)))
    return places
