"""The predicted figure behind an ``expect`` line, or the reason why there is none."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.anatomy.neighbourhood import drawn
from coldcheck.anatomy.worked import switched_off
from coldcheck.circuit.leads import spelled
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering
from coldcheck.drawing.wording import listed, volts
from coldcheck.records import dataclass
from coldcheck.solve.off.off_state import OFF
from coldcheck.solve.signal.small_signal import small_signal
from coldcheck.solve.signal.sweep import Sweep

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Section
    from coldcheck.drawing.model import Expect
    from coldcheck.judge.figure import Symbol
    from coldcheck.solve.off.off_state import Position
    from coldcheck.solve.signal.results import Driven, Stage
    from coldcheck.solve.solution import Solution, TubeReading

WARM = "warm"

SILENT = 1e-6
"""A gain below this is no gain: rounding, or what leaks through the solver's own leaks."""


class NoFigure(Exception):  # noqa: N818 - says why there is no number, caught by the rule
    """There is no number to hold against an expectation; the text says why."""


@dataclass(frozen=True, slots=True)
class Predicted:
    """A predicted number in SI units; ``said`` is it in words, ``key`` its name in evidence.

    ``state`` is the state it was read in. A drain that takes more than a day is infinite.
    """

    value: float
    state: str
    subject: str
    said: str
    key: str
    unit: Symbol


def predicted(case: Case, expect: Expect) -> Predicted:
    """The figure an expectation is about; raises NoFigure where there is none."""
    if expect.quantity == "drain":
        return _drain(case, expect)
    state = expect.state or WARM
    solution = case.solutions.get(state)
    if solution is None:
        raise NoFigure(f"there is no state called {state}; there are {', '.join(case.solutions)}")
    if not solution.converged:
        raise NoFigure(f"state {state} not solved: {solution.reason}")
    return _IN_A_STATE[expect.quantity](case, expect, solution)


def _voltage(case: Case, expect: Expect, solution: Solution) -> Predicted:
    value = _volts(case, solution, expect.point.text)
    if expect.other is not None:
        value -= _volts(case, solution, expect.other.text)
    name = solution.state.name
    return Predicted(value, name, expect.what, volts(value), "predicted_dc", "V")


def _volts(case: Case, solution: Solution, point: str) -> float:
    wave = solution.wave(point)
    if wave is None:
        net = case.circuit.points.get(point, point)
        raise NoFigure(solution.why_lost(net) or "this point has no number")
    return wave.dc


def _ripple(case: Case, expect: Expect, solution: Solution) -> Predicted:
    point = expect.point.text
    _volts(case, solution, point)
    wave = solution.wave(point)
    value = 0.0 if wave is None else wave.ac_rms
    said = f"{_small(value, 'V')} rms"
    subject = f"the ripple at {point}"
    return Predicted(value, solution.state.name, subject, said, "predicted_rms", "V")


def _small(value: float, symbol: str) -> str:
    return engineering(value if abs(value) >= 1e-9 else 0.0, symbol)


# -- currents and dissipations -------------------------------------------------------------


def _current(case: Case, expect: Expect, solution: Solution) -> Predicted:
    name = expect.point.text
    readings = _readings(case, name, solution)
    kind = ""
    if readings is not None:
        value = abs(sum(_milliamperes(r, electrode) for r, electrode in readings)) / 1e3
    else:
        value, kind = max(_amperes(b, solution) for b in _branches(case, name))
    said = f"{_small(value, 'A')}{kind}"
    subject = f"the current through {name}"
    return Predicted(value, solution.state.name, subject, said, "predicted", "A")


def _amperes(branch: Branch, solution: Solution) -> tuple[float, str]:
    wave = solution.current(branch.name)
    if wave is None:
        raise NoFigure(f"no current through {branch.name} was worked out")
    return (wave.rms, " rms") if branch.traits.by_rms else (abs(wave.dc), "")


def _milliamperes(reading: TubeReading, electrode: str) -> float:
    if electrode == "plate":
        return reading.plate_ma
    if electrode == "screen":
        return reading.screen_ma
    if electrode == "grid":
        return reading.grid_ma
    return reading.plate_ma + reading.screen_ma + reading.grid_ma


def _dissipation(case: Case, expect: Expect, solution: Solution) -> Predicted:
    name = expect.point.text
    readings = _readings(case, name, solution)
    if readings is not None:
        value = sum(r.screen_w if e == "screen" else r.plate_w for r, e in readings)
    else:
        value = sum(_watts(b, solution) for b in _branches(case, name))
    subject = f"the dissipation of {name}"
    return Predicted(value, solution.state.name, subject, _small(value, "W"), "predicted", "W")


def _watts(branch: Branch, solution: Solution) -> float:
    across, through = solution.between(branch.a, branch.b), solution.current(branch.name)
    if across is None or through is None:
        raise NoFigure(f"no current through {branch.name} was worked out")
    return abs(float(np.mean(across.samples * through.samples)))


def _branches(case: Case, name: str) -> list[Branch]:
    """A part, the halves of a winding, a pot, a heater, what a transistor is made of."""
    found = [
        b for b in case.circuit.branches.values()
        if (name in (b.name, b.owner)
            or (b.kind is PartKind.HEATER and b.name.startswith(f"{name}.")))
        and b.kind is not PartKind.GATE
    ]  # fmt: skip
    if not found:
        raise NoFigure(f"no current through {name} was worked out")
    return found


def _readings(case: Case, name: str, solution: Solution) -> list[tuple[TubeReading, str]] | None:
    """The readings of a tube, a section or an electrode (then named); ``None`` for a part."""
    sections = list(_sections(case, name))
    if not sections:
        return None
    found = []
    for section, electrode in sections:
        reading = solution.readings.get(section.name)
        if section.tube in solution.state.pulled or reading is None:
            raise NoFigure(f"{section.name} has no reading in state {solution.state.name}")
        found.append((reading, electrode))
    return found


def _sections(case: Case, name: str) -> Iterator[tuple[Section, str]]:
    """Section and electrode; the electrode is empty where a whole tube or section is meant."""
    owner, dot, lead = name.partition(".")
    for section in case.circuit.sections():
        if not dot and (owner == section.name or _half(case, section, owner)):
            yield section, ""
        elif dot and owner == section.name:
            electrode = spelled(section.electrodes).get(lead.casefold(), "")
            if electrode:
                yield section, electrode


def _half(case: Case, section: Section, tube: str) -> bool:
    """Whether a section counts for its whole tube: one that is not drawn takes no current."""
    return section.tube == tube and drawn(case.circuit, section)


# -- gain ----------------------------------------------------------------------------------


def _gain(case: Case, expect: Expect, solution: Solution) -> Predicted:
    warm = solution.state.name == WARM
    signal = case.signal if warm else small_signal(case.circuit, solution)
    if signal is None:
        raise NoFigure("the drawing has no signal: add a signal line")
    if not signal.solved:
        raise NoFigure(signal.reason)
    wanted = expect.other.text if expect.other is not None else ""
    if wanted in signal.unused:
        raise NoFigure(f"the signal {wanted} drives nothing: {signal.unused[wanted]}")
    name = expect.point.text
    section = next((s for s in case.circuit.sections() if s.name == name), None)
    every = list(signal.sources.values())
    if section is not None and not wanted:
        value, subject = _of_stage(every, section), f"the gain of {name}"
    else:
        driven = _source(case, every, wanted, name)
        place = name if section is None else f"{name}.{_stage(driven, section).output}"
        value = _to_place(case, driven, place) / _to_place(case, driven, wanted or driven.source)
        subject = f"the gain from {wanted or driven.source} to {name}"
    return Predicted(
        value, solution.state.name, subject,
        "nothing" if value < SILENT else f"{value:.3g}", "predicted", "",
    )  # fmt: skip


def _of_stage(sources: list[Driven], section: Section) -> float:
    """Of one section, from its input to where it is taken from."""
    for driven in sources:
        if any(stage.section == section.name for stage in driven.stages):
            return abs(driven.stage(section.name).gain.mid)
    raise NoFigure(f"no signal reaches {section.name}")


def _stage(driven: Driven, section: Section) -> Stage:
    try:
        return driven.stage(section.name)
    except KeyError:
        raise NoFigure(f"no signal reaches {section.name}") from None


def _source(case: Case, sources: list[Driven], wanted: str, name: str) -> Driven:
    """The signal to count by: the one at the point named, or the one that arrives there."""
    net = case.circuit.points.get(wanted)
    driven = [d for d in sources if d.net == net] or [
        d for d in sources if not wanted or _to_place(case, d, wanted) > SILENT
    ]
    if not driven:
        raise NoFigure(f"no signal reaches {wanted or name}")
    if len(driven) > 1:
        names = listed(f"gain {d.source} to {name}" for d in driven)
        raise NoFigure(f"there are several signals: say {names}")
    return driven[0]


def _to_place(case: Case, driven: Driven, name: str) -> float:
    """The voltage of a point, or across a part, per volt at the source."""
    branch = case.circuit.branches.get(name)
    if branch is not None and branch.kind is not PartKind.SIGNAL:
        ends = (branch.a, branch.b)
    else:
        ends = (case.circuit.points.get(name, name), GROUND)
    high, low = (_response(driven, net) for net in ends)
    return abs(Sweep(driven.frequencies, high - low).mid)


def _response(driven: Driven, net: str) -> np.ndarray[tuple[int, ...], np.dtype[np.complex128]]:
    if net == GROUND:
        return np.zeros(len(driven.frequencies), dtype=np.complex128)
    if net not in driven.response:
        raise NoFigure(f"no signal was worked out at {net}")
    return driven.response[net]


# -- the way down after switch-off ---------------------------------------------------------


def _drain(case: Case, expect: Expect) -> Predicted:
    name = expect.point.text
    _must_hold_a_number(case, name)
    off = switched_off(case)
    if off.unsolved:
        raise NoFigure(off.unsolved)
    if name in off.unvalued:
        raise NoFigure(f"the capacitance of {name} is not written")
    chosen = [p for p in off.positions if expect.state in (None, p.name)]
    if not chosen:
        names = ", ".join(p.name for p in off.positions) or OFF
        raise NoFigure(f"a drain time belongs to a state {OFF}: {names}")
    value, state = max((_seconds(case, p, name), p.name) for p in chosen)
    said = f"{value:.3g} s" if value < 1000 else f"{value / 60:.0f} minutes"
    said = said if isfinite(value) else "more than a day"
    return Predicted(value, state, f"the drain time of {name}", said, "predicted", "s")


def _must_hold_a_number(case: Case, name: str) -> None:
    branch = case.circuit.branches.get(name)
    warm = case.solutions.get(WARM)
    if warm is not None and warm.converged:
        for end in (branch.a, branch.b) if branch else (name,):
            _volts(case, warm, end)


def _seconds(case: Case, position: Position, name: str) -> float:
    """To the touch limit; 0 for what never holds as much (some 50 V, 0.1 uF)."""
    for decay in position.capacitors:
        if decay.capacitor.name == name:
            if decay.undrawn:
                others = listed(decay.undrawn)
                raise NoFigure(f"how much {others} drains from it is not known")
            return decay.seconds
    net = case.circuit.points.get(name, name)
    return next((n.seconds for n in position.nets if n.net == net), 0.0)


_IN_A_STATE: dict[str, Callable[[Case, Expect, Solution], Predicted]] = {
    "voltage": _voltage,
    "current": _current,
    "dissipation": _dissipation,
    "gain": _gain,
    "ripple": _ripple,
}
