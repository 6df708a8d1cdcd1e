"""The steps with power on: stage after stage, more tubes in each, the mains turned up."""

from __future__ import annotations

from dataclasses import field, replace
from typing import TYPE_CHECKING

from coldcheck.bench.plan.bias import adjusters, at_safe_ends, output_sections
from coldcheck.bench.plan.heaters import heaters_step
from coldcheck.bench.plan.listening import listening_steps
from coldcheck.bench.plan.model import Caution, Step
from coldcheck.bench.plan.orders import Orders
from coldcheck.bench.plan.power import SHARES, Power, Rung, stages_of
from coldcheck.bench.plan.rails import (
    highest_share,
    overstressed,
    rail_checks,
    rails,
    without_figure,
)
from coldcheck.bench.plan.slipping import slipping
from coldcheck.bench.plan.switches import switch_steps
from coldcheck.bench.plan.target import currents, target
from coldcheck.bench.plan.tubes import drawing_checks, grid_check, tube_checks
from coldcheck.bench.plan.watch import howling, watched
from coldcheck.bench.plan.windings import mains_checks, winding_checks
from coldcheck.records import dataclass
from coldcheck.solve.solution import WARM
from coldcheck.solve.warmup import UNLOADED

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.bench.plan.bias import Adjuster
    from coldcheck.bench.plan.model import Check, Limiter
    from coldcheck.bench.plan.power import Stage
    from coldcheck.circuit.model import Circuit, Section
    from coldcheck.solve.solution import Solution


@dataclass(slots=True)
class Stages:
    """Writes the steps with power. ``solved`` collects every state a set may be switched off in.

    circuit
        As drawn.
    known
        The states of the review.
    """

    circuit: Circuit
    known: Mapping[str, Solution]
    limiter: Limiter | None
    solved: dict[str, Solution] = field(default_factory=dict)
    adjusting: tuple[Adjuster, ...] = field(init=False, default=())
    power: Power = field(init=False)

    def steps(self) -> Iterator[Step]:
        """In order; the bias pots stand at their safe ends until the bias is set."""
        self.adjusting = tuple(adjusters(self.circuit, self.known[WARM]))
        self.power = Power(at_safe_ends(self.circuit, self.adjusting))
        every = stages_of(self.circuit)
        usable = [s for s in every if s is every[-1] or self.power.possible(s)]
        before = usable[-2] if len(usable) > 1 else None
        earlier: Stage | None = None
        for stage in usable:
            grids = output_sections(self.circuit) if stage is before else []
            if earlier is not None:
                new = earlier.pulled - stage.pulled
                stage = replace(stage, put_in=tuple(t for t in self.circuit.tubes if t in new))
            yield self._stage(stage, earlier is None, grids, string=len(usable) < len(every))
            if earlier is None and len(usable) > 1:
                yield from self._heaters(string=len(usable) < len(every))
            earlier = stage
        yield from self._adjust()
        yield from listening_steps(self.circuit, self.known[WARM], self.power.volts)
        yield from switch_steps(self.circuit, self.power.volts, self.known)

    def _heaters(self, *, string: bool) -> Iterator[Step]:
        found = heaters_step(self.power, self.known[WARM], string=string)
        if found is not None:
            yield found

    def _stage(self, stage: Stage, first: bool, grids: list[Section], *, string: bool) -> Step:
        full = self.power.rung(stage, 1.0)
        if not full.solved:
            reason = full.full.reason or full.idle.reason
            missing = (f"Not worked out: {reason}. Do not go on without other figures.",)
            return Step(stage.key, _title(stage), True, missing=missing)
        over = overstressed(self.circuit, full.idle)
        top = highest_share(over) if over else 1.0
        rungs = list(self._rungs(stage, top))
        cautions = [*self._over(over, top), *self._at_high_line(full, over)]
        cautions += self._cold(stage)
        checks = [c for r in rungs for c in self._readings(r, r is rungs[-1])]
        if first:
            ends = rungs[:1] + rungs[1:][-1:] if self.power.mains else []
            checks = [c for r in ends for c in winding_checks(self.power, r)] + checks
            checks += mains_checks(self.circuit, rungs[-1])
        if rails(self.circuit, rungs[-1].full):
            at = [grid_check(s, r, "at the empty socket") for s in grids for r in rungs]
            checks += [c for c in at if c is not None]
        for found in (rungs[-1].full, rungs[-1].idle):
            self.solved[found.state.name] = found
        orders = Orders(self.power, self.known[WARM], self.limiter)
        do = [*orders.of(rungs[-1], first=first, string=string)]
        do[0 if first else len(do) : 0] = self._starts(grids, stage)
        if stage.key == "all-in":
            do[0:0] = howling(self.circuit, self.known[WARM])
        if stage.key == "all-in":
            do += slipping(self.circuit, self.known[WARM], checks)
        do.append(watched(self.circuit, stage, lamp=self.limiter is not None))
        lost = tuple(without_figure(self.circuit, full.full))
        return Step(
            stage.key, _title(stage), True, tuple(cautions), tuple(do), tuple(checks), lost
        )  # fmt: skip

    def _rungs(self, stage: Stage, top: float) -> Iterator[Rung]:
        """In steps where direct voltages come up, and where all tubes draw for the first time."""
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
        if not last:
            yield from drawing_checks(self.circuit, rung)
        if last:
            yield from tube_checks(self.circuit, rung)
            yield from currents(self.circuit, rung.full, rung.volts)
        if rung.stage.key == "all-in" and last:
            yield from winding_checks(self.power, rung, heaters=True)

    def _unloaded(self, check: Check) -> Check:
        """Say how high a rail is before the tubes draw."""
        waves = [
            s.between(check.point, check.other)
            for name, s in self.known.items() if name in UNLOADED and s.converged
        ]  # fmt: skip
        volts = [abs(w.dc) for w in waves if w is not None]
        high = max(volts, default=0.0)
        if check.low is None or check.high is None or high <= max(abs(check.low), abs(check.high)):
            return check
        note = f"up to {high:.0f} V until the tubes draw"
        return replace(check, note="; ".join(t for t in (check.note, note) if t))

    def _over(self, over: list[tuple[str, float, float]], top: float) -> Iterator[Caution]:
        if over:
            named = ", ".join(f"{n} {peak:.0f} V (rated {limit:.0f} V)" for n, peak, limit in over)
            yield Caution(
                "notice",
                "At full mains this step would put more on capacitors than they are rated for: "
                f"{named}. Go no further than {top * self.power.volts:.0f} V of mains "
                f"({100 * top:.0f} %) here, with a variable transformer; without one leave this "
                "step out.",
            )

    def _cold(self, stage: Stage) -> Iterator[Caution]:
        """What stands too high while the tubes are in but do not draw yet."""
        if stage.key != "all-in":
            return
        worst: dict[str, tuple[float, float]] = {}
        for name in UNLOADED:
            if name in self.known and self.known[name].converged:
                for part, peak, rating in overstressed(self.circuit, self.known[name]):
                    worst[part] = max(worst.get(part, (0.0, 0.0)), (peak, rating))
        if worst:
            named = ", ".join(f"{v:.0f} V on {p} (rated {r:.0f} V)" for p, (v, r) in worst.items())
            yield Caution(
                "notice",
                f"Switched on at full mains, before the tubes draw, there would be {named}: fit "
                "parts rated for it before this step.",
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

    def _starts(self, grids: list[Section], stage: Stage) -> Iterator[str]:
        """Where the bias adjusters stand before the output tubes go in."""
        for found in self.adjusting:
            if grids:
                low, high = found.empty
                safe, far = (high, low) if found.safe else (low, high)
                yield (
                    f"Turn {found.pot} from {found.safe_lead} to its other end and back: the grids "
                    f"move from {safe:.1f} V to {far:.1f} V and back. Leave it at "
                    f"{found.safe_lead}, where the tubes will draw least."
                )
            elif stage.key == "tubes-out":
                yield (
                    f"Turn {found.pot} to {found.safe_lead} before power comes on, and leave it "
                    "there until the bias is set: the readings are for that."
                )
            elif stage.key == "all-in":
                yield f"{found.pot} is still at {found.safe_lead}: the tubes draw least there."

    def _adjust(self) -> Iterator[Step]:
        """One step for each bias pot, and the readings of the whole set when all are set."""
        warm = self.known[WARM]
        for found in self.adjusting:
            checks = [
                target(self.circuit, s, warm, found, self.power.volts)
                for s in self.circuit.sections() if s.name in found.sections
            ]  # fmt: skip
            missing = () if all(checks) else ("Not every tube's current can be read at a point.",)
            yield Step(
                f"bias-{found.pot}", f"Power on: set the bias with {found.pot}", True, (),
                tuple(_setting(found)), tuple(c for c in checks if c is not None), missing,
            )  # fmt: skip
        if self.adjusting:
            yield self._set_up()

    def _set_up(self) -> Step:
        warm, stage = self.known[WARM], stages_of(self.circuit)[-1]
        rung = Rung(stage, 1.0, self.power.volts, warm, warm, True)
        checks = [
            *rail_checks(self.circuit, rung, rails(self.circuit, warm)),
            *tube_checks(self.circuit, rung),
            *currents(self.circuit, warm, rung.volts),
        ]
        do = ("Everything once more with the bias as set, after ten minutes.",)
        return Step("set-up", "Power on: the set at work", True, (), do, tuple(checks))


def _title(stage: Stage) -> str:
    return f"Power on: {stage.words}"


def _setting(found: Adjuster) -> Iterator[str]:
    yield (
        f"With the meters clipped on beforehand, one hand and a tool insulated to its tip: from "
        f"{found.safe_lead} turn slowly towards the value below, reading every tube; stay "
        "below it for ten minutes, then set it again. Look at the plates: any red, switch off."
    )
    yield (
        f"Worked out for {found.pot} at {100 * found.drawn:.0f} % of its travel; where it ends up "
        "depends on the tubes, the reading decides."
    )
