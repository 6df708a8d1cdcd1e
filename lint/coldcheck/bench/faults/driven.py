"""A load that a fault takes away while the set is driven as far as it goes: what plates swing to.

The circuit made linear about the faulty state, with the input at which the sound set reaches its
first limit. With its load gone a pentode drives the primary alone: how high the plate is thrown is
a small-signal estimate and no bound, since a real plate bottoms on the other half, and what it
then flies up to is for the capacitances to say. Triodes stand an open secondary.
"""

from __future__ import annotations

from dataclasses import replace
from math import inf
from typing import TYPE_CHECKING

from coldcheck.anatomy.output_stage import (
    has_load,
    output_tubes,
    thrown_circuit,
)
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.units import engineering
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Finding
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.solve.faults import fault as f
from coldcheck.solve.faults.fault import Fault, altered
from coldcheck.solve.signal.results import GRID_CURRENT
from coldcheck.solve.signal.small_signal import small_signal
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.anatomy.output_stage import OutputTube
    from coldcheck.circuit.model import Circuit, OutputTransformer
    from coldcheck.solve.signal.results import Driven, Stage
    from coldcheck.solve.solution import Solution

FLASHES = Threshold(
    "times its direct voltage that a plate on a transformer may swing to", 3.0, "", PRACTICE
)
"""With its load a plate swings to twice the supply at most; sockets and iron are made for that."""

UNKNOWN = "what {} does driven without its load: no signal is drawn, or its limit is not known"

TAKES_A_LOAD = (f.OPEN, f.THROWN)


@dataclass(frozen=True, slots=True)
class Drive:
    """How far the sound set goes: by the name of a source, peak volts there at the first limit.

    ``hertz`` are the sources' own frequencies.
    """

    peaks: Mapping[str, float]
    hertz: tuple[float, ...]

    @classmethod
    def of(cls, circuit: Circuit, good: Solution) -> Drive:
        """Of the sound set; nothing where no signal is drawn, or none could be worked out."""
        found = small_signal(circuit, good, (1000.0,)) if circuit.outputs else None
        sources = found.sources.values() if found is not None and found.solved else ()
        peaks = {d.source: _first_limit(d) for d in sources}
        known = {name: peak for name, peak in peaks.items() if peak < inf}
        return cls(known, tuple(d.frequency for d in sources))

    def judged(
        self, circuit: Circuit, fault: Fault, solution: Solution
    ) -> tuple[tuple[Finding, ...], str]:
        """What a fault that takes a load away does at full drive, and why it is not known if so.

        Of each output the worst plate. Nothing is said where triodes alone are on it.
        """
        findings: list[Finding] = []
        for output in unloaded(circuit, fault):
            driven = self._driven(circuit, output, fault, solution)
            if not driven:
                return tuple(findings), UNKNOWN.format(output.name)
            for each in driven:
                findings += self._thrown(output, each, solution, circuit)
        return tuple(findings), ""

    def _driven(
        self, circuit: Circuit, output: OutputTransformer, fault: Fault, solution: Solution
    ) -> tuple[Driven, ...]:
        """The sources of the set without its load whose full drive is known."""
        faulty = _without_load(circuit, output, fault)
        state = replace(solution, circuit=faulty)
        found = small_signal(faulty, state, self.hertz) if self.peaks else None
        every = found.sources.values() if found is not None and found.solved else ()
        return tuple(d for d in every if d.source in self.peaks)

    def _thrown(
        self, output: OutputTransformer, driven: Driven, solution: Solution, circuit: Circuit
    ) -> Iterator[Finding]:
        tubes = [t for t in output_tubes(circuit) if t.output.name == output.name]
        found = [(self._swing(t, driven), t) for t in tubes]
        swing, tube = max(found, key=lambda each: each[0], default=(0.0, None))
        net = None if tube is None else tube.section.electrodes["plate"]
        wave = None if net is None else solution.waves.get(net)
        if tube is None or wave is None or wave.dc <= 0:
            return
        peak = wave.dc + swing
        if peak <= FLASHES.value * wave.dc:
            return
        name, source = output.name, driven.source
        drive, across = self.peaks[source] / 2**0.5, self._across(output, tube, driven)
        yield Finding(
            "fault.flash-over", "notice", solution.state.name, (name, tube.section.name),
            circuit.span(name),
            f"driven as far as the set goes ({engineering(drive, 'V', 2)} at {source}), "
            f"{name} without its load lets the plate of {tube.section.name} swing to some "
            f"{engineering(peak, 'V', 2)}, {peak / wave.dc:.1f} times its {wave.dc:.0f} V at rest, "
            f"with {engineering(across, 'V', 2)} peak across the primary: socket, tube or primary "
            "flash over (a small-signal estimate)",
            "Fit a resistor straight across the secondary, which stays when the load goes",
            {"plate_peak": figure(peak, "V"), "plate_dc": figure(wave.dc, "V"),
             "primary_peak": figure(across, "V"), "signal_rms": figure(drive, "V")},
            limit=figure(FLASHES.value * wave.dc, "V"), source=PRACTICE.text,
            excess=peak / (FLASHES.value * wave.dc), cites=(PRACTICE,),
        )  # fmt: skip

    def _swing(self, tube: OutputTube, driven: Driven) -> float:
        """Peak volts that a plate moves."""
        stage = _stage(tube, driven)
        return 0.0 if stage is None else abs(stage.plate) * self._peak(tube, driven)

    def _peak(self, tube: OutputTube, driven: Driven) -> float:
        """Peak volts at the source: a grid is driven no further than to its cathode."""
        stage = _stage(tube, driven)
        limits = () if stage is None else stage.limits
        ends = [x.source_peak for x in limits if x.cause == GRID_CURRENT]
        return min(self.peaks[driven.source], *ends, inf)

    def _across(self, output: OutputTransformer, tube: OutputTube, driven: Driven) -> float:
        """The highest peak volts between two leads of the primary."""
        ends = {n for _, b in output.primary_parts for n in (b.a, b.b)}
        at = driven.place
        shares = [complex(driven.response[n][at]) if n in driven.response else 0j for n in ends]
        most = max(abs(one - other) for one in shares for other in shares)
        return most * self._peak(tube, driven)


def _stage(tube: OutputTube, driven: Driven) -> Stage | None:
    return next((s for s in driven.stages if s.section == tube.section.name), None)


def _first_limit(driven: Driven) -> float:
    return min((s.limits[0].source_peak for s in driven.stages if s.limits), default=inf)


def unloaded(circuit: Circuit, fault: Fault) -> tuple[OutputTransformer, ...]:
    """The outputs of pentodes that a fault leaves without the load they have in the drawing."""
    if fault.kind not in TAKES_A_LOAD or not circuit.outputs:
        return ()
    pentodes = {t.output.name for t in output_tubes(circuit) if not t.triode}
    outputs = (o for name, o in circuit.outputs.items() if name in pentodes)
    return tuple(o for o in outputs if _loses(circuit, o, fault))


def _loses(circuit: Circuit, output: OutputTransformer, fault: Fault) -> bool:
    if not has_load(circuit, output):
        return False
    return _winding(output, fault) or not has_load(_faulty(circuit, fault), output)


def _winding(output: OutputTransformer, fault: Fault) -> bool:
    """Whether the fault is an open secondary: what is then on it loads nothing."""
    return fault.kind == f.OPEN and fault.part in _secondary_parts(output)


def open_secondary(output: OutputTransformer) -> str:
    """The part of a secondary that, open, takes its load."""
    return _secondary_parts(output)[0]


def _secondary_parts(output: OutputTransformer) -> list[str]:
    return [b.name for _, b in output.secondary_parts]


def _faulty(circuit: Circuit, fault: Fault) -> Circuit:
    if fault.kind == f.THROWN:
        return thrown_circuit(circuit, frozenset({fault.part}))
    return altered(circuit, (fault,))


def _without_load(circuit: Circuit, output: OutputTransformer, fault: Fault) -> Circuit:
    """The circuit as the fault leaves it; of an open secondary, with all off that is on it instead.

    No current flows in either, and a transformer still lists a winding that is open. A switch is
    thrown by the state.
    """
    if fault.kind == f.THROWN:
        return circuit
    if not _winding(output, fault):
        return altered(circuit, (fault,))
    ends = {net for _, net, _ in output.secondary_leads} - {GROUND}
    own = {b.name for _, b in output.branches}
    on_it = [b.name for net in sorted(ends) for b in circuit.at(net) if b.name not in own]
    return altered(circuit, [Fault(f.OPEN, name) for name in dict.fromkeys(on_it)])
