"""The voltage and resistance chart of a circuit: pin by pin, rail by rail, lead by lead."""

from __future__ import annotations

from functools import cached_property
from math import inf, log
from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import feeds_others
from coldcheck.bench.chart.conditions import conditions_of
from coldcheck.bench.chart.expected import Expected
from coldcheck.bench.chart.ohmmeter import MATTERS, SETTLED, Ohmmeter, pot_ends
from coldcheck.bench.chart.points import (
    RAIL_VOLTS,
    block_leads,
    named_points,
    shown_name,
    socket_pins,
    winding_leads,
)
from coldcheck.bench.chart.points import Pin as PointOf
from coldcheck.bench.chart.rows import Block, Chart, Note, Row
from coldcheck.bench.chart.silicon import Silicon
from coldcheck.bench.chart.sources import Sources
from coldcheck.bench.instruments.clip import mains_side
from coldcheck.bench.instruments.instruments import DC_METER, SCOPE
from coldcheck.bench.instruments.measure import divided
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.paths import Change
from coldcheck.solve.solution import WARM

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.bench.chart.ohmmeter import Ohms
    from coldcheck.bench.chart.points import Pin
    from coldcheck.circuit.model import Circuit

PATIENCE = 1.0
"""Seconds of settling below which nobody has to wait."""

LEAST_VOLTS = 0.05
"""DC below which a meter's loading is not worth a note."""


def chart_of(circuit: Circuit, state: str = WARM) -> Chart:
    """The chart of a circuit in a state. Raises KeyError for a state it does not have."""
    return Bench(circuit, state).chart()


class Bench:
    """A circuit in one state with the instruments on it; what they say is worked out when asked.

    Raises KeyError for a state the circuit does not have.
    """

    def __init__(self, circuit: Circuit, state: str = WARM) -> None:
        self.circuit, self.expected = circuit, Expected(circuit, state)
        state_ = self.expected.state
        self.change = Change(thrown=state_.thrown, pulled=state_.pulled)
        self.meter = Ohmmeter(circuit, self.change)

    @cached_property
    def sources(self) -> Sources:
        """Source resistances in the state."""
        return Sources(self.expected.solution)

    @cached_property
    def silicon(self) -> Silicon:
        """What an ohmmeter turns on."""
        return Silicon(self.meter)

    @cached_property
    def mains(self) -> frozenset[str]:
        """The nets on the mains' side."""
        return mains_side(self.circuit)

    @cached_property
    def _pots(self) -> dict[str, tuple[Ohmmeter, Ohmmeter]]:
        return pot_ends(self.circuit, self.change)

    def chart(self) -> Chart:
        """Every row."""
        drawing, solution = self.circuit.drawing, self.expected.solution
        return Chart(
            drawing.file,
            drawing.title or "",
            self.expected.state.name,
            "" if solution.converged else solution.reason,
            GROUND in self.mains,
            tuple(b for b in self._blocks() if b.rows),
            conditions_of(self.expected),
        )

    def _blocks(self) -> Iterator[Block]:
        for tube in self.circuit.tubes.values():
            rows = tuple(self.row(pin) for pin in socket_pins(self.circuit, tube))
            yield Block("tube", tube.name, f"{tube.type.name}, {tube.type.base}", rows)
        for name, kind, leads in block_leads(self.circuit):
            yield Block("part", name, kind, tuple(self.row(p) for p in leads))
        rails, points = self._named()
        yield Block("rails", "Supply rails", "", rails)
        yield Block("points", "Other points", "", points)
        for name, leads in winding_leads(self.circuit):
            coils = self.circuit.coil_sets.get(name)
            what = "spring tank" if coils is not None and coils.springs else "transformer"
            yield Block("transformer", name, what, tuple(self.row(p) for p in leads))

    def _named(self) -> tuple[tuple[Row, ...], tuple[Row, ...]]:
        rails: list[Row] = []
        others: list[Row] = []
        for name, net in named_points(self.circuit).items():
            row = self.row_of(name, net)
            volts = row.volts.dc.value if row.volts else 0.0
            rail = abs(volts) >= RAIL_VOLTS and feeds_others(self.circuit, net)
            (rails if rail else others).append(row)
        return tuple(rails), tuple(others)

    def row_of(self, point: str, net: str) -> Row:
        """The row of a point by itself."""
        return self.row(PointOf(point, point, "", net))

    def row(self, pin: Pin) -> Row:
        """What belongs to one pin, lead or point."""
        if pin.net is None or pin.use == "unwired":
            return Row(pin, "", None, (), None, ())
        net = pin.net
        way = self.meter.through(net)
        return Row(
            pin,
            shown_name(self.circuit, net),
            self.meter.read(net),
            tuple(dict.fromkeys(b.owner for b, _ in way)),
            self.expected.voltages(net),
            tuple(self._notes(net)),
        )

    def _notes(self, net: str) -> Iterator[Note]:
        if net == GROUND:
            return
        ohms = self.meter.read(net)
        yield from self._coils(net, ohms)
        yield from self._unknown(net, ohms)
        yield from self._waits(net)
        yield from self._diodes(net)
        yield from self._turns(net, ohms)
        yield from self._live(net)

    def _unknown(self, net: str, ohms: Ohms) -> Iterator[Note]:
        """What makes a reading unsure: transistors that conduct by themselves, else a value."""
        near = self.meter.conducting(net)
        if near:
            yield Note("own-channel", near)
        elif ohms.nominal is None:
            yield Note("unknown-part")

    def _coils(self, net: str, ohms: Ohms) -> Iterator[Note]:
        if ohms.infinite:
            return
        way = [(b, c) for b, c in self.meter.through(net) if b.traits.coil]
        if way:
            yield Note("through-winding", tuple(dict.fromkeys(b.owner for b, _ in way)))
        coils = [(b.name, c) for b, c in way]
        assumed = tuple(name for name, c in coils if c is not None and c.assumed)
        if assumed:
            yield Note("assumed-winding", assumed)

    def _waits(self, net: str) -> Iterator[Note]:
        charging = self.meter.charging(net)
        if charging is None or (charging.seconds == inf and self.meter.read(net).nominal is None):
            return
        seconds = charging.seconds * log(1 / SETTLED)
        if charging.seconds == inf:
            yield Note("climbs", charging.names)
        elif seconds >= PATIENCE:
            yield Note("settles", charging.names, seconds)
        if charging.backwards and seconds >= PATIENCE:
            yield Note("minus-lead", charging.backwards)

    def _diodes(self, net: str) -> Iterator[Note]:
        for word in ("plus", "minus"):
            on = self.silicon.turned_on(net, plus_on_point=word == "plus")
            if on:
                yield Note("diode", on, word=word)

    def _turns(self, net: str, ohms: Ohms) -> Iterator[Note]:
        for name, (low, high) in self._pots.items():
            ends = [m.nominal.ohms(net, GROUND) for m in (low, high)]
            ends += [] if ohms.nominal is None else [ohms.nominal]
            if inf not in ends and max(ends) - min(ends) > MATTERS * max(ends):
                yield Note("pot", (name,), ohms.nominal, min(ends), max(ends))

    def _live(self, net: str) -> Iterator[Note]:
        if net in self.mains:
            yield Note("mains")
        volts = self.expected.voltages(net)
        if volts is None:
            yield Note("no-voltage", word=self.expected.reason(net))
            return
        if volts.peak > SCOPE.max_volts and not self.mains & {net, GROUND}:
            yield Note("input-rating", number=volts.peak)
        hertz = self.expected.swing(net)
        if hertz is not None:
            yield Note("swings", number=hertz)
        share = divided(DC_METER.input_ohms(volts.dc.value), self.sources.ohms(net))
        if abs(volts.dc.value) >= LEAST_VOLTS and 1 - share >= MATTERS:
            yield Note("loading", number=volts.dc.value * share)
