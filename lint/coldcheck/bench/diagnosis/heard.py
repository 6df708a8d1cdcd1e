"""What a meter shows with the drawing's signal on, where open coupling capacitors show at last.

The circuit made linear about each case's own working point, driven by the source as the drawing
states it; the meter takes signal and ripple together. It is a small-signal estimate: amplification
goes with tubes and controls, so a reading is known to a third only. Of leads elsewhere nothing is
worked out here, and a reading then says next to nothing of them.
"""

from __future__ import annotations

from dataclasses import replace
from math import exp, hypot, log
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.bench.diagnosis.channels import SIGNAL_FLOOR, log_volts
from coldcheck.bench.diagnosis.library import with_apart
from coldcheck.bench.diagnosis.models import UNHEARD_SPREAD
from coldcheck.bench.diagnosis.readings import AC, DC, SIGNAL
from coldcheck.bench.diagnosis.rewired import Rewound, rewired
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import Unsolvable, plain
from coldcheck.solve.faults import fault as f
from coldcheck.solve.faults.fault import altered
from coldcheck.solve.faults.solver import FaultSolver
from coldcheck.solve.signal.linearised import Linearised
from coldcheck.solve.signal.small_signal import frequency_of
from coldcheck.solve.solution import Wave

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from coldcheck.bench.diagnosis.channels import Channel
    from coldcheck.bench.diagnosis.library import Library, Solved
    from coldcheck.bench.diagnosis.suspects import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.solve.faults.spread import Shown
    from coldcheck.solve.solution import Solution

    Array = NDArray[np.float64]
    Complex = NDArray[np.complex128]

SPREAD, SPREAD_EACH = 0.12, 0.1
"""Deviations of the logarithm of signals by tubes, loads and the control, of all of them and of
each by itself (common practice)."""

TIRED = frozenset((f.WEAK, f.DEAD, f.PULLED))
"""Faults of a tube that leave it a share of its emission, or none."""


MOVED, LEAST_VOLTS = 0.8, 5.0
"""Deviation of the logarithm where a stage's DC has moved by all of it: it may be driven into its
limits, which a small signal says nothing of. Volts below which DC is none."""

STAGE = ("plate", "grid", "cathode")
"""Electrodes at which a signal says how a stage does."""


@dataclass(frozen=True, slots=True)
class Heard:
    """Volts of the signal at every net, complex, and of the ripple: one case of one suspect.

    ``moved`` is how far the DC of stages is from the sound circuit's, as a share.
    """

    place: int
    size: float
    nets: Mapping[str, complex]
    shown: Shown
    moved: float = 0.0

    def volts(self, channel: Channel) -> float | None:
        """What a meter between the tips of a channel shows; ``None`` where it is not known."""
        signal = _between(self.nets, channel.net, channel.other)
        return None if signal is None else hypot(signal, _ripple(self.shown, channel))


def _between(nets: Mapping[str, complex], net: str, other: str) -> float | None:
    """Volts of the signal between two nets; ``None`` where one is not known."""
    one, two = (0j if n == GROUND else nets.get(n) for n in (net, other))
    return None if one is None or two is None else abs(one - two)


def _ripple(shown: Shown, channel: Channel) -> float:
    place = {net: k for k, net in enumerate(shown.nets)}
    ends = [shown.waves[place[n]] for n in (channel.net, channel.other) if n != GROUND]
    return float((ends[0] - (ends[1] if len(ends) > 1 else 0.0)).std())


def signal_volts(solution: Solution, net: str, other: str = GROUND) -> float | None:
    """Volts rms between two nets with the drawing's signal on; ``None`` where there is none."""
    signal = _between(_response(solution.circuit, solution), net, other)
    wave = solution.between(net, other)
    return None if signal is None or wave is None else hypot(signal, wave.ac_rms)


def _response(
    circuit: Circuit, solution: Solution, emission: Mapping[str, float] = MappingProxyType({})
) -> dict[str, complex]:
    """Net -> volts rms by the drawing's sources all together, at the frequency of the first.

    Each drives its point to its stated volts, as :mod:`coldcheck.solve.signal.small_signal` says.
    """
    sources = [b for b in circuit.branches.values() if b.kind is PartKind.SIGNAL and b.closed]
    try:
        linear = Linearised(circuit, solution, emission)
        hertz = {b.name: frequency_of(circuit, b) for b in sources}
        first = next(iter(hertz.values()), 0.0)
        driven = [_driven(linear, b, first) for b in sources if hertz[b.name] == first]
    except (Unsolvable, np.linalg.LinAlgError):
        return {}
    rows, volts = linear.network.nets, sum(driven, start=np.zeros(linear.network.size))
    return {net: complex(volts[row]) for net, row in rows.items()} if driven else {}


def _driven(linear: Linearised, source: Branch, hertz: float) -> Complex:
    """All unknowns (m,) with a source alone at its volts."""
    found = linear.solve(hertz, linear.column({source.a: 1.0})[:, None])[:, 0]
    own = linear.network.at(source.a)
    return np.asarray(
        found * (0.0 if own is None else plain(source.value, "volt", 0.0) / found[own])
    )


def heard(circuit: Circuit, solved: Solved) -> tuple[Heard, ...]:
    """Every case that can be worked out; some hundredths of a second each."""
    good = FaultSolver(circuit).good()
    return tuple(_heard(circuit, good, solved)) if good.converged else ()


def _heard(circuit: Circuit, good: Solution, solved: Solved) -> Iterator[Heard]:
    for place, _, cases in solved.cases:
        for case, shown in cases:
            nets = _of_case(circuit, good, case, shown)
            if nets:
                yield Heard(place, case.size, nets, shown, _moved(circuit, good, shown))


def _moved(circuit: Circuit, good: Solution, shown: Shown) -> float:
    """The largest share by which a case moves the DC of a stage's electrode."""
    volts = dict(zip(shown.nets, np.nan_to_num(shown.volts).tolist(), strict=True))
    shares = [0.0]
    for net in stage_nets(circuit) & set(volts) & set(good.waves):
        usual = good.waves[net].dc
        shares.append(abs(volts[net] - usual) / max(abs(usual), abs(volts[net]), LEAST_VOLTS))
    return max(shares)


def stage_nets(circuit: Circuit) -> set[str]:
    """The nets of all stages' plates, grids and cathodes."""
    return {
        s.electrodes[e] for s in circuit.sections() if s.kind is not SectionKind.RECTIFIER
        for e in STAGE if s.electrodes.get(e, GROUND) != GROUND
    }  # fmt: skip


def _of_case(circuit: Circuit, good: Solution, case: Case, shown: Shown) -> dict[str, complex]:
    """The response in a case; empty where nothing is known of it."""
    wound = case.wiring is None or isinstance(case.wiring, Rewound)
    if not wound or any(x.kind == f.THROWN for x in case.faults):
        return {}
    faulty = altered(rewired(circuit, case.wiring) if case.wiring else circuit, case.faults)
    weak = {
        x.part: x.magnitude if x.kind == f.WEAK else 0.0 for x in case.faults if x.kind in TIRED
    }
    held = [k for k, volts in enumerate(shown.volts) if not np.isnan(volts)]
    waves = {shown.nets[k]: Wave(shown.waves[k].astype(float)) for k in held}
    return _response(faulty, replace(good, circuit=faulty, waves={**waves}), weak)


def with_hearing(
    library: Library,
    circuit: Circuit,
    channels: Sequence[Channel] | None = None,
    every: Sequence[Heard] | None = None,
) -> Library:
    """The library with channels of the drawing's signal; those of :func:`hearing` if not said."""
    assert library.solved is not None
    every = heard(circuit, library.solved) if every is None else every
    wanted = hearing(circuit, library, every) if channels is None else channels
    if not wanted or not any(h.place == 0 for h in every):
        return library
    return with_apart(library, wanted, *columns(library, every, wanted), together=SPREAD)


def hearing(circuit: Circuit, library: Library, every: Sequence[Heard]) -> tuple[Channel, ...]:
    """Where a signal is read: stages' plates, grids and cathodes, and what is driven by them.

    At those points that DC or AC is read at, and speakers; none where the drawing has no signal.
    """
    if not every:
        return ()
    known = {(c.net, c.other): c for c in library.channels if c.kind in (DC, AC)}
    speakers = [b for b in circuit.branches.values() if b.kind is PartKind.SPEAKER]
    stages = stage_nets(circuit) | {n for b in speakers for n in (b.a, b.b)}
    return tuple(
        replace(c, kind=SIGNAL) for (net, other), c in known.items()
        if other == GROUND and net in stages
    )  # fmt: skip


def columns(
    library: Library, every: Sequence[Heard], channels: Sequence[Channel]
) -> tuple[Array, Array]:
    """Mean and variance (H, n) of the logarithm of what the channels show in each model."""
    means, variances = [], []
    moved: dict[int, list[tuple[float, float]]] = {}
    for one in every:
        moved.setdefault(one.place, []).append((one.size, one.moved))
    for channel in channels:
        table: dict[int, list[tuple[float, float]]] = {}
        for one in every:
            if (volts := one.volts(channel)) is not None:
                table.setdefault(one.place, []).append((one.size, log_volts(volts)))
        usual = table.get(0, [(0.0, log_volts(0.0))])[0][1]
        sizes = list(zip(library.owner.tolist(), library.size.tolist(), strict=True))
        known = [_at(table.get(o), s) for o, s in sizes]
        off = [_at(moved.get(o), s) or 0.0 for o, s in sizes]
        means.append([usual if k is None else k for k in known])
        variances.append(
            [
                UNHEARD_SPREAD**2 if k is None else _variance(k) + (MOVED * m) ** 2
                for k, m in zip(known, off, strict=True)
            ]
        )
    return np.array(means).T, np.array(variances).T


def _variance(mean: float) -> float:
    """Of the logarithm: by what amplifies, and near nothing by what else of AC is about."""
    return SPREAD_EACH**2 + (SIGNAL_FLOOR * exp(-mean)) ** 2


def _at(cases: list[tuple[float, float]] | None, size: float) -> float | None:
    """The logarithm at a size, between those that were worked out."""
    if not cases:
        return None
    if size <= 0.0 or len(cases) == 1:
        return cases[0][1]
    sizes, logs = zip(*sorted(cases), strict=True)
    return float(np.interp(log(size), np.log(sizes), logs))
