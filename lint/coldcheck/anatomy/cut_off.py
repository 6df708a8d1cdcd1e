"""Supply points that nothing feeds as drawn, and the contacts that keep them from being fed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.energised import energised
from coldcheck.anatomy.lifted_returns import HIGH_V
from coldcheck.anatomy.neighbourhood import is_own, wired
from coldcheck.anatomy.output_stage import thrown_circuit
from coldcheck.anatomy.reach import Ways, reach
from coldcheck.anatomy.roads import switch_positions
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.once import once
from coldcheck.drawing.units import si
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from coldcheck.circuit.model import Branch, Circuit, Transformer

FED = ("plate", "screen")


@dataclass(frozen=True, slots=True)
class Island:
    """Nets that conductors join and no supply feeds; ``names`` are those the drawing gives rails.

    ``hanging`` maps sections in use to their plates and screens on it.
    """

    nets: frozenset[str]
    names: tuple[str, ...]
    hanging: Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class CutOff:
    """What a relay or switch leaves without its supply as drawn, and feeds when thrown.

    ``contacts`` are open as drawn and on the way; ``islands`` or ``transformers`` are behind.
    """

    throw: str
    contacts: tuple[Branch, ...]
    islands: tuple[Island, ...] = ()
    transformers: tuple[Transformer, ...] = ()


@once
def dead_islands(circuit: Circuit) -> tuple[Island, ...]:
    """Every island with a plate or screen in use that no supply feeds."""
    ways = Ways.of(circuit)
    seen: set[str] = set()
    found = []
    for _, section in working(circuit):
        for net in (section.net(e) for e in FED):
            if net is None or net in LANDMARKS or net in seen:
                continue  # what is joined to a landmark lacks no line to a supply
            if wired(circuit, net) and not ways.fed(net):
                found.append(_island(circuit, net))
                seen |= found[-1].nets
    return tuple(found)


def _island(circuit: Circuit, net: str) -> Island:
    nets = [n for n in reach(circuit, [net], LANDMARKS) if n not in LANDMARKS]
    names = tuple(n for i in nets for n in circuit.names.get(i, ()) if _is_rail(circuit, n, i))
    hanging = {s.name: tuple(e for e in FED if s.net(e) in nets) for _, s in working(circuit)}
    return Island(frozenset(nets), names, {n: es for n, es in hanging.items() if es})


def _is_rail(circuit: Circuit, name: str, net: str) -> bool:
    """Whether a name is one of the builder's own and no grid or cathode is on its net."""
    return is_own(name) and not any(e not in FED for _, e in circuit.electrodes_at(net))


@once
def cut_off(circuit: Circuit) -> tuple[CutOff, ...]:
    """What each relay and switch keeps from its supply: dead plates, and primaries of relays."""
    return (*_islands_cut_off(circuit), *_primaries_cut_off(circuit))


def cut_off_by_hand(circuit: Circuit) -> frozenset[str]:
    """The nets that a switch leaves without a supply as drawn: a set that is drawn in standby."""
    hands = (c for c in cut_off(circuit) if c.throw not in circuit.relays)
    return frozenset(n for c in hands for i in c.islands for n in i.nets)


def _islands_cut_off(circuit: Circuit) -> Iterator[CutOff]:
    dead = list(dead_islands(circuit))
    hands = [throw for position in switch_positions(circuit) for throw in position]
    for throw in dict.fromkeys((*circuit.relays, *hands) if dead else ()):
        ways = Ways.of(thrown_circuit(circuit, frozenset({throw})))
        islands = tuple(i for i in dead if any(ways.fed(n) for n in i.nets))
        opened = _opened(circuit.branches.values(), throw)
        on_it = [b for b in opened if any({b.a, b.b} & i.nets for i in islands)]
        if islands and opened:
            dead = [i for i in dead if i not in islands]
            yield CutOff(throw, tuple(on_it or opened), islands)


def _primaries_cut_off(circuit: Circuit) -> Iterator[CutOff]:
    """Transformers for plates that get no mains once a relay has pulled in, and no other does."""
    high = [t for t in circuit.transformers.values() if _for_plates(t)]
    for relay in circuit.relays.values() if high else ():
        opened = () if relay.released else _opened(relay.contacts, relay.name)
        if opened and relay.coil.name in energised(circuit, [b.name for b in opened]):
            single = tuple(b for b in opened if len(_unlit(circuit, high, (b,))) == len(high))
            if len(_unlit(circuit, high, opened)) == len(high):
                yield CutOff(relay.name, single or opened, (), tuple(high))


def _for_plates(transformer: Transformer) -> bool:
    return any((si(w.volts, "volt") or 0.0) >= HIGH_V.value for w in transformer.secondaries)


def _unlit(
    circuit: Circuit, which: Iterable[Transformer], opened: Iterable[Branch]
) -> list[Transformer]:
    """Those whose primaries lose all that ever gives them current with contacts open."""
    ever, lit = energised(circuit, ()), energised(circuit, [b.name for b in opened])
    own = ((t, {b.name for w in t.primaries for b in w.branches} & ever) for t in which)
    return [t for t, parts in own if parts and not parts & lit]


def _opened(contacts: Iterable[Branch], throw: str) -> tuple[Branch, ...]:
    """The contacts that a throw closes, open as drawn."""
    return tuple(
        b for b in contacts
        if b.traits.opens and not b.closed and b.a != b.b and b.closed_with(frozenset({throw}))
    )  # fmt: skip
