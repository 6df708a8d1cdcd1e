"""All there is to say about one point, or about two: what is there and how to measure it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from coldcheck.bench.chart.sources import HOW
from coldcheck.bench.instruments.clip import clip_on
from coldcheck.bench.instruments.instruments import GENERIC, meters, scopes
from coldcheck.bench.instruments.measure import Source, show
from coldcheck.bench.instruments.scope import advise
from coldcheck.circuit.model import GROUND
from coldcheck.solve.cycle.network import mains_frequency

if TYPE_CHECKING:
    from coldcheck.bench.chart.chart import Bench
    from coldcheck.bench.chart.expected import Voltages
    from coldcheck.bench.chart.ohmmeter import Ohms
    from coldcheck.bench.chart.rows import Note
    from coldcheck.bench.instruments.clip import Clip
    from coldcheck.bench.instruments.instruments import Instrument
    from coldcheck.bench.instruments.measure import Shown
    from coldcheck.bench.instruments.scope import ScopeAdvice
    from coldcheck.solve.solution import Wave


@dataclass(frozen=True, slots=True)
class Explanation:
    """One measurement: ``point`` measured from ``other``.

    names
        Other names of the same wire.
    wave, volts, reason
        The voltage and its ranges; ``None``, with the reason, where there is no number.
    source, how
        Source resistance, and how it was got or why it is not known.
    highest_to_gnd
        The worst instant of either point to gnd, volts: what leads and probes have to stand.
    scopes, channels
        How to set a scope for the voltage itself; and, where the clip may not go to ``other``,
        for the taller of the two points to gnd, each on a channel of its own.
    clips
        What a scope's ground clip would do at ``other`` and at ``point``.
    clip_there
        Whether the clip may go to ``other``: else two probes, or a differential one.
    mains
        Whether one of the points is joined to the mains.
    """

    file: str
    title: str
    state: str
    point: str
    other: str
    names: tuple[str, ...]
    frequency: float
    wave: Wave | None
    volts: Voltages | None
    reason: str
    ohms: Ohms
    through: tuple[str, ...]
    notes: tuple[Note, ...]
    source: Source
    how: str
    shown: tuple[Shown, ...]
    highest_to_gnd: float | None
    scopes: tuple[ScopeAdvice, ...]
    channels: tuple[ScopeAdvice, ...]
    clips: tuple[Clip, Clip]
    mains: bool

    @property
    def clip_there(self) -> bool:
        """Whether the ground clip may go to the point one measures from."""
        return self.clips[0].allowed


def explain(
    bench: Bench,
    point: str,
    other: str = GROUND,
    instruments: tuple[Instrument, ...] = GENERIC,
) -> Explanation:
    """Explain a point against another. Raises KeyError for a point the circuit does not have."""
    circuit, expected = bench.circuit, bench.expected
    a, b = (_net(bench, name) for name in (point, other))
    wave, taller = expected.wave_between(a, b), _taller(bench, a, b)
    source = _source(bench, a, b)
    row = bench.row_of(point, a) if b == GROUND else None
    clips = tuple(clip_on(circuit, net, bench.sources, bench.meter) for net in (b, a))
    return Explanation(
        file=circuit.drawing.file,
        title=circuit.drawing.title or "",
        state=expected.state.name,
        point=point,
        other=other,
        names=tuple(n for n in circuit.names.get(a, ()) if n != point),
        frequency=mains_frequency(circuit),
        wave=wave,
        volts=expected.between(a, b) if b != GROUND else expected.voltages(a),
        reason="" if wave is not None else expected.reason(a) or expected.reason(b),
        ohms=bench.meter.read(a, b),
        through=row.through if row else (),
        notes=row.notes if row else (),
        source=source,
        how=HOW if source.dc is not None else bench.sources.reason,
        shown=() if wave is None else tuple(show(i, wave, source) for i in meters(instruments)),
        highest_to_gnd=None if taller is None else taller.peak,
        scopes=_advice(wave, instruments),
        channels=() if clips[0].allowed else _advice(taller, instruments),
        clips=(clips[0], clips[1]),
        mains=bool({a, b} & bench.mains),
    )


def _advice(wave: Wave | None, instruments: tuple[Instrument, ...]) -> tuple[ScopeAdvice, ...]:
    return () if wave is None else tuple(advise(i, wave) for i in scopes(instruments))


def _taller(bench: Bench, a: str, b: str) -> Wave | None:
    """The wave to gnd of whichever net goes further from it; ``None`` unless both are known."""
    waves = [bench.expected.wave_between(net) for net in (a, b)]
    known = [wave for wave in waves if wave is not None]
    return max(known, key=lambda wave: wave.peak) if len(known) == len(waves) else None


def _net(bench: Bench, name: str) -> str:
    circuit = bench.circuit
    net = circuit.points.get(name, name)
    if net not in circuit.graph:
        raise KeyError(name)
    return net


def _source(bench: Bench, a: str, b: str) -> Source:
    frequency = mains_frequency(bench.circuit)
    return Source(bench.sources.ohms(a, b), bench.sources.impedance(a, b, frequency))
