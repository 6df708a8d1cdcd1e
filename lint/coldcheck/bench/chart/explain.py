"""All there is to say about one point, or about two: what is there and how to measure it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.bench.chart.sources import HOW
from coldcheck.bench.instruments.against_earth import against_earth, high_line, turned_waves
from coldcheck.bench.instruments.clip import clip_on
from coldcheck.bench.instruments.clipped import ClipSolver
from coldcheck.bench.instruments.instruments import GENERIC, MEAN, meters, scopes
from coldcheck.bench.instruments.measure import Source, show
from coldcheck.bench.instruments.scope import advise
from coldcheck.bench.instruments.slips import slips_at
from coldcheck.circuit.model import GROUND
from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import mains_frequency, plain
from coldcheck.solve.solution import Wave

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.bench.chart.chart import Bench
    from coldcheck.bench.chart.expected import Voltages
    from coldcheck.bench.chart.ohmmeter import Ohms
    from coldcheck.bench.chart.rows import Note
    from coldcheck.bench.instruments.against_earth import AgainstEarth
    from coldcheck.bench.instruments.clip import Clip
    from coldcheck.bench.instruments.instruments import Instrument
    from coldcheck.bench.instruments.measure import Shown
    from coldcheck.bench.instruments.scope import ScopeAdvice
    from coldcheck.bench.instruments.slips import Slips
    from coldcheck.circuit.model import Circuit


LOADS = 0.02
"""Share of a voltage from which on what a meter takes is judged in the circuit."""

HIGHEST_MAINS = 277.0
"""Volts rms to earth that an outlet may have where a drawing names no mains (memory)."""


@dataclass(frozen=True, slots=True)
class Explanation:
    """One measurement: ``point`` measured from ``other``.

    names
        Other names of the same wire.
    wave, volts, reason
        The voltage and its ranges; ``None``, with the reason, where there is no number.
    source, how
        Source resistance, and how it was got or why it is not known.
    loose
        Whether nothing holds one of the points.
    highest_to_gnd
        The worst instant of either point to gnd, at work or just switched on, volts: what leads
        and probes have to stand.
    earth
        What a point on the mains stands at against earth; ``None`` where none is, or no number.
    switch_on_known
        Whether what stands there before the tubes draw could be worked out.
    scopes, channels
        How to set a scope for the voltage itself; and, where the clip may not go to ``other``,
        for the taller of the two points to gnd, each on a channel of its own. None on the mains,
        where no scope is to be used.
    clips
        What a scope's ground clip would do at ``other`` and at ``point``.
    clip_there
        Whether the clip may go to ``other``: else two probes, or a differential one.
    clip_on_gnd
        Whether it may go to gnd.
    mains
        Whether one of the points is joined to the mains, or gnd is.
    live
        Whether gnd is.
    slips
        What a tip that slips from ``point`` does.
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
    loose: bool
    highest_to_gnd: float | None
    earth: AgainstEarth | None
    switch_on_known: bool
    scopes: tuple[ScopeAdvice, ...]
    channels: tuple[ScopeAdvice, ...]
    clips: tuple[Clip, Clip]
    clip_on_gnd: bool
    mains: bool
    live: bool
    slips: Slips

    @property
    def clip_there(self) -> bool:
        """Whether the ground clip may go to the point one measures from."""
        return self.clips[0].allowed and not self.mains


def explain(
    bench: Bench,
    point: str,
    other: str = GROUND,
    instruments: tuple[Instrument, ...] = GENERIC,
) -> Explanation:
    """Explain a point against another. Raises KeyError for a point the circuit does not have."""
    circuit, expected = bench.circuit, bench.expected
    a, b = (_net(bench, name) for name in (point, other))
    wave, mains = expected.wave_between(a, b), bool({a, b, GROUND} & bench.mains)
    source, stands = _source(bench, a, b), tuple(_stands(bench, a, b))
    row = bench.row_of(point, a) if b == GROUND else None
    solver = ClipSolver(circuit, expected.state.name)
    clips, volts = _clips(bench, solver, b, a), _mains_volts(circuit) if mains else None
    taller = _taller(bench, a, b)
    apart = not (clips[0].allowed or mains)
    return Explanation(
        file=circuit.drawing.file,
        title=circuit.drawing.title or "",
        state=expected.state.name,
        point=point,
        other=other,
        names=tuple(n for n in circuit.names.get(a, ()) if n != point),
        frequency=mains_frequency(circuit),
        wave=wave,
        volts=_volts(bench, a, b),
        reason="" if wave is not None else expected.reason(a) or expected.reason(b),
        ohms=bench.meter.read(a, b),
        through=row.through if row else (),
        notes=row.notes if row else (),
        source=source,
        how=HOW if source.dc is not None else bench.sources.reason,
        shown=()
        if wave is None
        else tuple(
            _judged(bench, solver, a, b, show(i, wave, source, stands, volts))
            for i in meters(instruments)
        ),
        loose=not all(bench.meter.nominal.joined(net, GROUND) for net in (a, b)),
        highest_to_gnd=None if taller is None else _peak(*taller),
        earth=against_earth(expected, (a, b)) if mains else None,
        switch_on_known=wave is None or expected.at_switch_on(a, b) is not None,
        scopes=() if mains else _advice(wave, stands, instruments),
        channels=_advice(*taller, instruments) if apart and taller is not None else (),
        clips=clips[:2],
        clip_on_gnd=clips[2].allowed,
        mains=mains,
        live=GROUND in bench.mains,
        slips=slips_at(circuit, point, other, expected.solution, solver),
    )


def _mains_volts(circuit: Circuit) -> float:
    """Where the drawing does not say: the highest that an outlet has."""
    return HIGHEST_MAINS if circuit.mains is None else plain(circuit.mains.voltage, "volt", 0.0)


def _judged(bench: Bench, solver: ClipSolver, a: str, b: str, shown: Shown) -> Shown:
    """A meter that loads a point much, as a needle does a grid's bias, judged with it on."""
    direct = b == GROUND != a and a not in bench.mains and shown.instrument.response == MEAN
    if not direct or shown.loading < LOADS or not shown.ohms:
        return shown
    harm = solver.on(a, shown.ohms).findings
    if not harm:
        return shown
    return replace(shown, over=(*shown.over, "loading"), range=None, harm=harm)


def _clips(bench: Bench, solver: ClipSolver, *nets: str) -> tuple[Clip, Clip, Clip]:
    """On two nets, and on gnd."""
    solution = bench.expected.solution
    first, second, ground = (
        clip_on(bench.circuit, net, solution, bench.meter, solver) for net in (*nets, GROUND)
    )
    return first, second, ground


def _volts(bench: Bench, a: str, b: str) -> Voltages | None:
    return bench.expected.between(a, b) if b != GROUND else bench.expected.voltages(a)


def _advice(
    wave: Wave | None, stands: tuple[Wave, ...], instruments: tuple[Instrument, ...]
) -> tuple[ScopeAdvice, ...]:
    return () if wave is None else tuple(advise(i, wave, stands) for i in scopes(instruments))


def _stands(bench: Bench, a: str, b: str) -> Iterator[Wave]:
    """What an instrument between two nets has to stand besides the voltage as it is predicted.

    The upper end of its spread, what stands there before the tubes draw, and on the mains what
    stands there with the plug the other way round; the mains at their upper end.
    """
    expected = bench.expected
    wave, volts = expected.wave_between(a, b), _volts(bench, a, b)
    if wave is not None and volts is not None and wave.peak > 0:
        more = (volts.dc.off or 0.0) + (volts.pp.off or 0.0) / 2
        yield Wave(wave.samples * (1 + more / wave.peak))
    others = [expected.at_switch_on(a, b), *turned_waves(expected, a, b, bench.mains)]
    for other in others:
        if other is not None:
            yield Wave(other.samples * high_line(expected))


def _taller(bench: Bench, a: str, b: str) -> tuple[Wave, tuple[Wave, ...]] | None:
    """Of whichever net goes further from gnd its wave, and what else it may stand at.

    ``None`` unless both are known.
    """
    found = []
    for net in (a, b):
        wave = bench.expected.wave_between(net)
        if wave is None:
            return None
        found.append((wave, tuple(_stands(bench, net, GROUND))))
    return max(found, key=lambda each: _peak(*each))


def _peak(wave: Wave, stands: tuple[Wave, ...]) -> float:
    return max(w.peak for w in (wave, *stands))


def _net(bench: Bench, name: str) -> str:
    circuit = bench.circuit
    net = circuit.points.get(name, name)
    if net not in circuit.graph:
        raise KeyError(name)
    return net


def _source(bench: Bench, a: str, b: str) -> Source:
    frequency = mains_frequency(bench.circuit)
    return Source(bench.sources.ohms(a, b), bench.sources.impedance(a, b, frequency))
