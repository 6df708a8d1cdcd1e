"""What to do in a step with power on: the lamp, the fuses, the voltages to go through."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.bench.plan.power import LAMPS, left_with, mains_power
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.bench.plan.model import Limiter
    from coldcheck.bench.plan.power import Power, Rung, Stage
    from coldcheck.circuit.model import Branch
    from coldcheck.solve.solution import Solution

HINDERS = 0.10
"""Share of the mains across the lamp above which full mains cannot be reached with it."""

DARK, DULL = 0.05, 0.25
"""Share of its voltage up to which a lamp is dark, and dull red (common practice)."""

LIMIT = 1.5
"""Current limit of a bench supply over what it is to deliver (common practice)."""


@dataclass(frozen=True, slots=True)
class Orders:
    """The sentences for one stage."""

    power: Power
    warm: Solution
    limiter: Limiter | None

    def of(self, rung: Rung, *, first: bool, string: bool) -> Iterator[str]:
        """In order; ``string`` says that the heaters are a string that no tube can be out of."""
        stage = rung.stage
        if stage.put_in and not first:
            yield (
                f"{self._switch_off()}, wait and measure as in the last step of this plan, then "
                f"put in {', '.join(stage.put_in)}."
            )
        elif first and string:
            yield (
                "The heaters hang on one another: tubes cannot be put in one after the other, so "
                "the next step with power has all of them in."
            )
        if first:
            yield from self._quiet()
            yield from self._first()
            yield (
                f"To move a clip to another point: {self._switch_off().lower()}, wait and measure "
                "as in the last step of this plan, then move it. A meter whose range is set by "
                "hand: on one above everything that can stand there (chart --at names it)."
            )
        yield from self._lamp(rung)
        if not rung.sure or (self._valve(stage) and self.power.mains):
            yield (
                "At reduced mains the heaters are too cold for their emission to be known: below "
                "full mains any reading from 0 to the top of its range is in order, and below "
                "about half a tube rectifier gives nothing."
            )

    def _switch_off(self) -> str:
        return "Switch off and pull the plug" if self.power.mains else "Switch the supplies off"

    def _valve(self, stage: Stage) -> bool:
        return stage.key in ("rectifier-in", "all-in") and any(
            s.kind is SectionKind.RECTIFIER
            and self.power.heated(s.tube)
            and s.tube not in stage.pulled
            for s in self.power.circuit.sections()
        )

    def _quiet(self) -> Iterator[str]:
        inputs = [b.name for b in self.power.circuit.branches.values() if b.kind is PartKind.SIGNAL]
        if inputs:
            yield f"No signal: nothing connected to {', '.join(inputs)}, the volume at its lowest."

    def _first(self) -> Iterator[str]:
        if not self.power.mains:
            named = ", ".join(b.name for b in self.power.sources) or "the supply"
            yield (
                "Set heater and bias supplies first and measure them; then the high tension "
                f"({named}), turned up in the steps below with its current limit on."
            )
            yield from self._limits()
            return
        if self.limiter is not None:
            yield from _fitted(self.limiter)
        else:
            yield (
                "What the set takes could not be worked out, so no lamp can be named: use a "
                "variable transformer with an ammeter, from 0 up."
            )
        fuses = [
            f"{b.name} {_amps(b)}"
            for b in self.power.circuit.branches.values()
            if b.kind is PartKind.FUSE
        ]
        if fuses:
            yield f"Fuses as drawn, none larger: {', '.join(fuses)}."
        yield (
            "Clip the meters on, one of measurement category II or above across the set's mains "
            "input, and open the power switch; only then plug in, close it, and turn the mains up "
            "to each voltage below, by that meter. Take the readings there; stay a minute on each. "
            "With a lamp alone and no variable transformer compare in proportion to the voltage "
            "the set then gets."
        )

    def _limits(self) -> Iterator[str]:
        for branch in self.power.sources:
            wave = self.warm.current(branch.name) if self.warm.converged else None
            if wave is not None:
                yield (
                    f"{branch.name} delivers {1000 * abs(wave.dc):.3g} mA when all is well: limit "
                    f"it to {1000 * LIMIT * abs(wave.dc):.2g} mA."
                )

    def _lamp(self, rung: Rung) -> Iterator[str]:
        taken = mains_power(self.power, rung.full) if self.limiter else None
        if taken is None or self.limiter is None:
            return
        watts, amps = taken
        across = 1 - left_with(self.limiter.volts, amps, self.limiter.lamp)
        look = "stays dark" if across < DARK else "glows dull red" if across < DULL else "glows"
        flash = "" if rung.stage.key == "tubes-out" else (
            " It shines for the first seconds, while heaters are cold and capacitors charge."
        )  # fmt: skip
        at = "" if rung.share == 1.0 else f" at {rung.volts:.0f} V"
        yield (
            f"The set takes {_watts(watts)} here{at}: the lamp {look} and leaves the set some "
            f"{100 * (1 - across):.0f} % of the mains.{flash} Bright and staying bright: a short, "
            "switch off."
        )
        if across > HINDERS:
            yield (
                "The lamp holds the set back. Only when it stayed as it should and all readings "
                f"before were right: {self._switch_off().lower()}, then take it out of the line "
                f"for the readings at {rung.volts:.0f} V."
            )


def _amps(branch: Branch) -> str:
    """A fuse's rating as the drawing has it."""
    return "" if branch.value is None else f"{float(branch.value.m):g} A"


def _watts(watts: float) -> str:
    return "less than 1 W" if watts < 1 else f"about {watts:.2g} W"


def _fitted(lamp: Limiter) -> Iterator[str]:
    more = " (several in parallel)" if lamp.lamp > LAMPS[-1] else ""
    taken = lamp.volts * lamp.amps
    yield (
        "With the plug still out of the outlet, and every joint insulated: put a filament lamp of "
        f"{lamp.lamp:.0f} W, {lamp.volts:.0f} V{more}, in series with the "
        f"line lead. It is {lamp.lamp / taken:.1f} times the {taken:.0f} VA ({lamp.watts:.0f} W, "
        f"{lamp.amps:.2f} A) that the set takes when all is well, losses of the core not counted; "
        "1 to 2 times is common practice. If the set is a dead short it lets through "
        f"{lamp.shorted:.2f} A. Best together with a variable transformer ahead of it, turned to 0."
    )
