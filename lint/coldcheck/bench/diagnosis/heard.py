"""What a meter shows with the drawing's signal on, where open coupling capacitors show at last.

The circuit made linear about each case's own working point, driven by the source as the drawing
states it; the meter takes signal and ripple together. It is a small-signal estimate: amplification
goes with tubes and controls, so a reading is known to a third only. Of faults within a tube and of
leads elsewhere nothing is worked out here, and a reading then says next to nothing of them.
"""

from __future__ import annotations

from dataclasses import replace
from math import exp, hypot, log
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.bench.diagnosis.channels import SIGNAL_FLOOR, log_volts
from coldcheck.bench.diagnosis.models import UNHEARD_SPREAD
from coldcheck.circuit.model import GROUND
from coldcheck.records import dataclass
from coldcheck.solve.engine import Solver
from coldcheck.solve.faults import fault as f
from coldcheck.solve.faults.fault import altered
from coldcheck.solve.signal.small_signal import small_signal
from coldcheck.solve.solution import WARM, State, Wave

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from coldcheck.bench.diagnosis.channels import Channel
    from coldcheck.bench.diagnosis.library import Library, Solved
    from coldcheck.bench.diagnosis.suspects import Case
    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.faults.spread import Shown
    from coldcheck.solve.signal.results import Driven
    from coldcheck.solve.solution import Solution

    Array = NDArray[np.float64]

SPREAD = 0.15
"""Deviation of the logarithm of a signal by tubes, loads and the control (common practice)."""

WITHIN_TUBES = frozenset((f.WEAK, f.DEAD, f.GASSY, f.THROWN))
"""Faults that are not in a circuit's parts."""


@dataclass(frozen=True, slots=True)
class Heard:
    """Volts of the signal at every net, complex, and of the ripple: one case of one suspect."""

    place: int
    size: float
    nets: Mapping[str, complex]
    shown: Shown

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


def _response(circuit: Circuit, solution: Solution) -> dict[str, complex]:
    """Net -> volts rms by the first source of the drawing, at its own frequency."""
    found = small_signal(circuit, solution, (1000.0,))
    if found is None or not found.sources:
        return {}
    driven: Driven = next(iter(found.sources.values()))
    at = driven.place
    return {net: complex(share[at]) * driven.volts for net, share in driven.response.items()}


def heard(circuit: Circuit, solved: Solved) -> tuple[Heard, ...]:
    """Every case that can be worked out; some hundredths of a second each."""
    good = Solver(circuit).solve(State(WARM, WARM))
    return tuple(_heard(circuit, good, solved))


def _heard(circuit: Circuit, good: Solution, solved: Solved) -> Iterator[Heard]:
    for place, _, cases in solved.cases:
        for case, shown in cases:
            nets = _of_case(circuit, good, case, shown)
            if nets:
                yield Heard(place, case.size, nets, shown)


def _of_case(circuit: Circuit, good: Solution, case: Case, shown: Shown) -> dict[str, complex]:
    """The response in a case; empty where nothing is known of it."""
    if case.wiring is not None or any(x.kind in WITHIN_TUBES for x in case.faults):
        return {}
    faulty = altered(circuit, case.faults)
    held = [k for k, volts in enumerate(shown.volts) if not np.isnan(volts)]
    waves = {shown.nets[k]: Wave(shown.waves[k].astype(float)) for k in held}
    return _response(faulty, replace(good, circuit=faulty, waves={**waves}))


def columns(
    library: Library, every: Sequence[Heard], channels: Sequence[Channel]
) -> tuple[Array, Array]:
    """Mean and variance (H, n) of the logarithm of what the channels show in each model."""
    means, variances = [], []
    for channel in channels:
        table: dict[int, list[tuple[float, float]]] = {}
        for one in every:
            if (volts := one.volts(channel)) is not None:
                table.setdefault(one.place, []).append((one.size, log_volts(volts)))
        usual = table.get(0, [(0.0, log_volts(0.0))])[0][1]
        known = [
            _at(table.get(int(o)), s) for o, s in zip(library.owner, library.size, strict=True)
        ]
        means.append([usual if k is None else k for k in known])
        variances.append([UNHEARD_SPREAD**2 if k is None else _variance(k) for k in known])
    return np.array(means).T, np.array(variances).T


def _variance(mean: float) -> float:
    """Of the logarithm: by what amplifies, and near nothing by what else of AC is about."""
    return SPREAD**2 + (SIGNAL_FLOOR * exp(-mean)) ** 2


def _at(cases: list[tuple[float, float]] | None, size: float) -> float | None:
    """The logarithm at a size, between those that were worked out."""
    if not cases:
        return None
    if size <= 0.0 or len(cases) == 1:
        return cases[0][1]
    sizes, logs = zip(*sorted(cases), strict=True)
    return float(np.interp(log(size), np.log(sizes), logs))
