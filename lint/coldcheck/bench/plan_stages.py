"""The steps with power on: stage after stage, more tubes in each, the mains turned up."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from coldcheck.bench.plan_bias import adjusters, output_sections
from coldcheck.bench.plan_model import DC, Caution, Check, Step
from coldcheck.bench.plan_power import SHARES, left_with, mains_power, stages_of
from coldcheck.bench.plan_rails import (
    grid_check,
    highest_share,
    overstressed,
    rail_checks,
    rails,
    range_of,
    tube_checks,
    winding_checks,
)
from coldcheck.bench.plan_steps import tubes_step
from coldcheck.circuit.model import GROUND
from coldcheck.solve.solution import STANDBY
from coldcheck.solve.warmup import UNLOADED

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.bench.plan_bias import Adjuster
    from coldcheck.bench.plan_model import Limiter
    from coldcheck.bench.plan_power import Power, Rung, Stage
    from coldcheck.circuit.model import Circuit, Section
    from coldcheck.solve.solution import Solution

ADJUSTED = 0.10
"""Either way of its target a bias is left at (common practice)."""

CHANGES = 0.05
"""Share of a rail's voltage below which a switch leaves it as it is."""


@dataclass(slots=True)
class Stages:
    """Writes the steps with power. ``solved`` collects every state a set may be switched off in."""

    power: Power
    known: Mapping[str, Solution]
    limiter: Limiter | None
    solved: dict[str, Solution] = field(default_factory=dict)

    @property
    def circuit(self) -> Circuit:
        """What is powered."""
        return self.power.circuit

    def steps(self) -> Iterator[Step]:
        """In order."""
        every = stages_of(self.circuit)
        usable = [s for s in every if self.power.possible(s)]
        left_out = [s for s in every if s not in usable]
        adjusting = list(adjusters(self.circuit, self.known["warm"]))
        before = usable[-2] if len(usable) > 1 else None
        for number, stage in enumerate(usable):
            if self._tubes_go_in(stage, usable[:number]):
                found = tubes_step(self.circuit)
                yield from () if found is None else (found,)
            grids = output_sections(self.circuit) if stage is before else []
            yield self._stage(stage, number == 0, grids, adjusting, left_out)
        yield from (self._adjust(a) for a in adjusting)
        yield from self._switches()

    def _tubes_go_in(self, stage: Stage, earlier: list[Stage]) -> bool:
        grids = {s.tube for s in self.circuit.sections() if "grid" in s.electrodes}
        inside = set(self.circuit.tubes) - stage.pulled
        return bool(grids & inside) and all(grids <= e.pulled for e in earlier)

    def _stage(
        self, stage: Stage, first: bool, grids: list[Section], adjusting: list[Adjuster],
        left_out: list[Stage],
    ) -> Step:  # fmt: skip
        full = self.power.rung(stage, 1.0)
        if not full.solved:
            reason = full.full.reason or full.idle.reason
            missing = (f"not worked out: {reason}; do not go on without other figures",)
            return Step(stage.key, _title(stage), True, missing=missing)
        over = overstressed(self.circuit, full.idle)
        top = highest_share(over) if over else 1.0
        rungs = list(self._rungs(stage, top))
        cautions = [*self._over(over, top), *self._at_high_line(full, over)]
        checks = [c for r in rungs for c in self._readings(r, r.share == top)]
        if first:
            ends = rungs[:1] + rungs[1:][-1:] if self.power.mains else []
            checks = [c for r in ends for c in winding_checks(self.power, r)] + checks
        final = rungs[-1]
        checks += [c for s in grids if (c := grid_check(s, final)) is not None]
        self.solved[final.full.state.name] = final.full
        self.solved[final.idle.state.name] = final.idle
        do = [*self._ways(stage, final, first, left_out), *_starts(adjusting, grids, stage)]
        return Step(stage.key, _title(stage), True, tuple(cautions), tuple(do), tuple(checks))

    def _rungs(self, stage: Stage, top: float) -> Iterator[Rung]:
        """In steps where the direct voltages come up, and where all tubes draw for the first time."""
        full = self.power.rung(stage, top)
        self_fed = rails(self.circuit, full.idle)
        valve = not full.sure or any(
            self.power.heated(t) for t in stage.put_in if stage.key == "rectifier-in"
        )
        stepped = stage.key == "all-in" or (bool(self_fed) and (stage.key == "tubes-out" or valve))
        shares = SHARES if stepped else (SHARES[0], 1.0) if stage.key == "tubes-out" else ()
        for share in (s for s in shares if s < top):
            rung = self.power.rung(stage, share)
            if rung.solved:
                yield rung
        yield full

    def _readings(self, rung: Rung, last: bool) -> Iterator[Check]:
        """The rails of the whole stage at this setting; at the last one the tubes too."""
        whole = self.power.rung(rung.stage, 1.0)
        nets = rails(self.circuit, whole.full) | rails(self.circuit, whole.idle)
        for check in rail_checks(self.circuit, rung, nets):
            yield self._unloaded(check) if rung.stage.key == "all-in" and last else check
        if rung.stage.key == "all-in" and last:
            yield from tube_checks(self.circuit, rung, mains=False)

    def _unloaded(self, check: Check) -> Check:
        """Say how high a rail is before the tubes draw."""
        volts = [
            abs(w.dc) for n, s in self.known.items()
            if n in UNLOADED and s.converged and (w := s.wave(check.point)) and check.other == GROUND
        ]  # fmt: skip
        high = max(volts, default=0.0)
        if check.high is None or check.expected is None or high <= abs(check.high):
            return check
        return replace(check, note=f"up to {high:.0f} V until the tubes draw")

    def _over(self, over: list[tuple[str, float, float]], top: float) -> Iterator[Caution]:
        if over:
            named = ", ".join(f"{n} {peak:.0f} V (rated {rating:.0f} V)" for n, peak, rating in over)
            yield Caution(
                "notice",
                f"At full mains this step would put more on capacitors than they stand: {named}. "
                f"Go no further than {top * self.power.volts:.0f} V of mains ({100 * top:.0f} %) "
                "here, with a variable transformer; without one leave this step out.",
            )

    def _at_high_line(self, full: Rung, over: list[tuple[str, float, float]]) -> Iterator[Caution]:
        factor = 1 + self.circuit.mains_tolerance
        high = [] if over or not self.power.mains else overstressed(self.circuit, full.idle, factor)
        if high:
            named = ", ".join(f"{n} (rated {rating:.0f} V)" for n, _, rating in high)
            yield Caution(
                "notice",
                f"With the mains {100 * (factor - 1):.0f} % high this step would be too much for "
                f"{named}: hold the mains at {self.power.volts:.0f} V by the meter.",
            )

    def _ways(
        self, stage: Stage, rung: Rung, first: bool, left_out: list[Stage]
    ) -> Iterator[str]:
        if stage.put_in and not first:
            yield (
                "Switch off, pull the plug, wait and measure as in the last step, then put in "
                f"{', '.join(stage.put_in)}."
            )
        elif first and left_out:
            yield (
                "The heaters hang on one another: tubes cannot be put in one after the other, so "
                "the next step with power has all of them in."
            )
        if first:
            yield from self._first(stage)
        yield from self._lamp(rung)
        if not rung.sure or (self._valve(stage) and self.power.mains):
            yield (
                "At reduced mains the heaters are too cold for their emission to be known: below "
                "full mains any reading from 0 to the top of its range is in order, and below "
                "about half a tube rectifier gives nothing."
            )

    def _valve(self, stage: Stage) -> bool:
        return stage.key in ("rectifier-in", "all-in") and any(
            s.kind == "rectifier" and self.power.heated(s.tube) and s.tube not in stage.pulled
            for s in self.circuit.sections()
        )

    def _first(self, stage: Stage) -> Iterator[str]:
        if not self.power.mains:
            volts = ", ".join(
                f"{b.name} {self.power.volts * float(b.value.m_as('volt')) / self.power.volts:g} V"
                for b in self.power.sources if b.value is not None
            )  # fmt: skip
            yield (
                "Heater and bias supplies first, and check them; then the high tension "
                f"({volts or 'as drawn'}), its current limit just above what it is to deliver, "
                "turned up in the steps below."
            )
            yield from self._limits()
            return
        if self.limiter is not None:
            lim = self.limiter
            yield (
                f"Put a filament lamp of {lim.lamp:.0f} W, {lim.volts:.0f} V, in series with the "
                f"line lead: 1 to 2 times the {lim.watts:.0f} W ({lim.amps:.2f} A) the set takes "
                "when all is well, losses of the core not counted (common practice). If the set is "
                f"a dead short it lets through {lim.shorted:.2f} A. Best together with a variable "
                "transformer ahead of it, turned to 0."
            )
        yield (
            "Turn the mains up to each voltage below, measured behind the lamp at the primary, and "
            "take the readings there; stay a minute on each. With the lamp alone and no variable "
            "transformer take what the set then gets and compare with the readings in proportion; "
            "take the lamp out for the readings at full mains only when all others were right."
        )

    def _limits(self) -> Iterator[str]:
        warm = self.known["warm"]
        for branch in self.power.sources:
            wave = warm.current(branch.name) if warm.converged else None
            if wave is not None:
                yield (
                    f"{branch.name} delivers {1000 * abs(wave.dc):.3g} mA when all is well: limit "
                    f"it to {1500 * abs(wave.dc):.2g} mA."
                )

    def _lamp(self, rung: Rung) -> Iterator[str]:
        taken = mains_power(self.power, rung.full) if self.limiter else None
        if taken is None or self.limiter is None:
            return
        watts, amps = taken
        across = 1 - left_with(self.limiter.volts, amps, self.limiter.lamp)
        look = "stays dark" if across < 0.05 else "glows dull red" if across < 0.25 else "glows"
        flash = "" if rung.stage.key == "tubes-out" else (
            " It is bright for the first seconds, while heaters are cold and capacitors charge."
        )  # fmt: skip
        at = "" if rung.share == 1.0 else f" at {rung.volts:.0f} V"
        yield (
            f"The set takes about {watts:.2g} W here{at}: the lamp {look} and leaves the set some "
            f"{100 * (1 - across):.0f} % of the mains.{flash} Bright and staying bright: a short, "
            "switch off."
        )

    def _adjust(self, found: Adjuster) -> Step:
        """The bias step of one pot."""
        warm = self.known["warm"]
        checks = []
        for name in found.sections:
            section = next(s for s in self.circuit.sections() if s.name == name)
            rated = self.circuit.tubes[section.tube].type.rating("plate-dissipation")
            limit = None if rated is None else found.full_at(name, rated.value)
            checks.append(_target(self.circuit, section, warm, limit, self.power.volts))
        return Step(
            f"bias-{found.pot}", f"Set the bias with {found.pot}", True, (), tuple(_setting(found)),
            tuple(c for c in checks if c is not None),
            () if all(checks) else ("no point in the drawing shows the current of every tube",),
        )  # fmt: skip

    def _switches(self) -> Iterator[Step]:
        """Every other switch position, and the rails that it moves."""
        warm = self.known["warm"]
        thrown = [s for s in self.known.values() if s.state.kind == STANDBY]
        checks: list[Check] = []
        still, missing = [], []
        for solution in thrown:
            name = next(iter(solution.state.thrown))
            if not solution.converged:
                missing.append(f"{name} thrown: not worked out: {solution.reason}")
                continue
            self.solved[solution.state.name] = solution
            moved = list(self._moved(warm, solution))
            checks += [replace(c, note=f"{name} thrown") for c in moved]
            if not moved:
                still.append(name)
        if thrown:
            do = ["Throw each switch with the set at full mains, one hand, and read."]
            if still:
                do.append(f"No rail changes with {', '.join(still)}.")
            yield Step("switches", "The other switch positions", True, (), tuple(do), tuple(checks),
                       tuple(missing))  # fmt: skip

    def _moved(self, warm: Solution, solution: Solution) -> Iterator[Check]:
        from coldcheck.bench.plan_power import Rung, Stage

        rung = Rung(Stage("switch", "", (), frozenset()), 1.0, self.power.volts, solution, solution, True)
        for name, net in (rails(self.circuit, warm) | rails(self.circuit, solution)).items():
            before, after = warm.waves.get(net), solution.waves.get(net)
            if before and after and abs(after.dc - before.dc) > CHANGES * abs(before.dc):
                yield from (c for c in rail_checks(self.circuit, rung, {name: net}) if c.point == name and c.other == GROUND)


def _title(stage: Stage) -> str:
    return f"Power on: {stage.words}"


def _starts(adjusting: list[Adjuster], grids: list[Section], stage: Stage) -> Iterator[str]:
    """Where the bias adjusters stand before the output tubes go in."""
    for found in adjusting:
        if grids:
            low, high = found.empty
            safe = high if found.safe else low
            yield (
                f"Before the output tubes go in turn {found.pot} to {found.safe_lead}, where they "
                f"draw least: their grids then stand at {safe:.1f} V (as drawn, at "
                f"{100 * found.drawn:.0f} % of its travel, at what the list says)."
            )
        elif stage.key == "all-in":
            yield f"Start with {found.pot} at {found.safe_lead}: the tubes draw least there."


def _setting(found: Adjuster) -> Iterator[str]:
    yield (
        f"From {found.safe_lead} turn slowly towards the value below, reading every tube; stay "
        "below it for ten minutes, then set it again. Look at the plates: any red, switch off."
    )
    yield (
        f"Worked out for {found.pot} at {100 * found.drawn:.0f} % of its travel; where it ends up "
        "depends on the tubes, the reading decides."
    )


def _target(
    circuit: Circuit, section: Section, warm: Solution, limit: tuple[float, float] | None, mains: float
) -> Check | None:
    """The point that shows a tube's current: its cathode, else its half of the output primary."""
    rated = circuit.tubes[section.tube].type.rating("plate-dissipation")
    reading = warm.readings.get(section.name)
    if reading is None or rated is None:
        return None
    note = f"{reading.plate_ma:.1f} mA plate, {reading.plate_w:.3g} W of {rated.value:g} W"
    cathode = section.cathode_nets[0]
    if cathode != GROUND and (found := range_of(warm, cathode)):
        volts = found[0]
        stop = limit[1] if limit else volts * rated.value / reading.plate_w
        point, other = f"{section.name}.{'cathode' if 'cathode' in section.electrodes else 'f1'}", GROUND
    else:
        feed = _winding_at(circuit, section)
        wave = None if feed is None else warm.between(feed, section.electrodes["plate"])
        if feed is None or wave is None or not reading.plate_w:
            return None
        volts, stop = wave.dc, wave.dc * rated.value / reading.plate_w
        point, other = feed, f"{section.name}.plate"
    return Check(
        point, other, DC, volts, (1 - ADJUSTED) * volts, (1 + ADJUSTED) * volts, None, stop,
        "above: the plate is beyond its rating", mains=mains, note=note,
    )  # fmt: skip


def _winding_at(circuit: Circuit, section: Section) -> str | None:
    """The far end of the output winding that feeds a plate."""
    plate = section.electrodes["plate"]
    coils = [b for b in circuit.at(plate) if b.owner.split(".")[0] in circuit.outputs]
    return coils[0].other(plate) if coils else None
