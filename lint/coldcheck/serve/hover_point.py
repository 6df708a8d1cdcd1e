"""What an editor shows of a point: its voltage, the range, what it is referenced to."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.circuit.leads import pin_key
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.paths import islands, references
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering
from coldcheck.report.shared.markdown import escaped
from coldcheck.report.shared.numbers import volts as figure
from coldcheck.report.shared.plain import counted, listed
from coldcheck.serve import told

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Circuit
    from coldcheck.circuit.paths import DcPath
    from coldcheck.solve.solution import Solution, Wave
    from coldcheck.verdict.review import Review

MOST_STATES = 6
MOST_NAMES = 8
MOST_PATHS = 8
_FIRST = ("warm", "cold", "high line", "low line")


def point(review: Review, circuit: Circuit, name: str) -> str:
    """The page of a point, lead or pin that the circuit has, as it spells it."""
    net = circuit.points[name]
    names = set(circuit.names.get(net, ())) | {name}
    return told.page(
        _head(circuit, name, net),
        _warm(review, net),
        _states(review, net),
        _references(circuit, net),
        "\n".join(told.findings_at(review, names.__contains__)),
    )


def _head(circuit: Circuit, name: str, net: str) -> str:
    others = [n for n in circuit.names.get(net, ()) if n != name]
    shown = listed(map(escaped, others[:MOST_NAMES]))
    if len(others) > MOST_NAMES:
        shown = (
            f"{', '.join(map(escaped, others[:MOST_NAMES]))} and {len(others) - MOST_NAMES} more"
        )
    same = f", the same wire as {shown}" if others else ""
    on = [escaped(text) for text in _hung(circuit, net)]
    parts = f"  \nOn it: {listed(on)}." if 0 < len(on) <= 2 * MOST_NAMES else ""
    return f"**{escaped(name)}**{same}.{parts}"


def _hung(circuit: Circuit, net: str) -> Iterator[str]:
    """Parts and electrodes on a net."""
    yield from dict.fromkeys(
        b.owner for b in circuit.at(net) if b.kind not in (PartKind.HEATER, PartKind.SIGNAL)
    )
    for section, electrode in circuit.electrodes_at(net):
        tube = circuit.tubes[section.tube]
        lead = f"{section.name}.{electrode}"
        numbered = tube.type.pins if tube.type.pins_known else ()
        pins = [p for p in numbered if pin_key(tube.name, tube.type, p) == lead]
        yield f"{lead} (pin {listed(pins)})" if pins else lead


def _warm(review: Review, net: str) -> str:
    if net == GROUND:
        return "The 0 V all voltages are measured from."
    warm = told.warm_of(review)
    if warm is None:
        return told.why_no_warm(review)
    wave = warm.waves.get(net)
    if wave is None:
        reason = warm.why_lost(net) or "it could not be worked out"
        return f"No voltage can be given: {escaped(reason)}."
    return f"Warm, to gnd: **{figure(wave.dc)} V DC**{_spread(warm, net)}{_moving(wave)}."


def _spread(warm: Solution, net: str) -> str:
    """The range the DC may be in with the usual spread of parts, tubes and mains."""
    spread = warm.spread()
    off = None if spread is None else spread.volts(net)
    if off is None or off < told.SMALL_AC:
        return ""
    dc = warm.waves[net].dc
    return f", usually between {figure(dc - off)} and {told.volts(dc + off)}"


def _moving(wave: Wave) -> str:
    if wave.ac_rms < told.SMALL_AC:
        return ", no AC to speak of"
    return (
        f"; AC {told.volts(wave.ac_rms)} rms, from {figure(wave.low)} to {told.volts(wave.high)} "
        "over a mains cycle"
    )


def _states(review: Review, net: str) -> str:
    """The states, the usual ones first, then those in which the point is furthest from warm."""
    if net == GROUND:
        return ""
    waves = {n: s.waves[net] for n, s in review.solutions.items() if s.converged and net in s.waves}
    if len(waves) < 2 or all(w.peak < told.SMALL_AC for w in waves.values()):
        return ""
    usual = [n for n in _FIRST if n in waves]
    base = waves[usual[0]].dc if usual else 0.0
    rest = [n for n in waves if n not in usual]
    rest.sort(key=lambda n: -abs(waves[n].dc - base))
    shown = (usual + rest)[:MOST_STATES]
    rows = (
        (n, *map(figure, (waves[n].dc, waves[n].ac_rms, waves[n].low, waves[n].high)))
        for n in shown
    )
    made = told.table(("state", "DC V", "AC V rms", "lowest V", "highest V"), rows)
    left = len(waves) - len(shown)
    return made + (f"\n\n{counted(left, 'state')} more, nearer to warm." if left else "")


def _references(circuit: Circuit, net: str) -> str:
    """What holds the point: the DC paths to gnd, else to another landmark, else its island."""
    if net == GROUND or net not in circuit.graph:
        return ""
    for targets in ((GROUND,), LANDMARKS):
        paths = references(circuit, net, targets=targets, limit=MOST_PATHS)
        if paths and paths[0].branches:
            return _held(paths)
        if paths:
            return f"{escaped(net)} is itself one of the references."
    island = next((i for i in islands(circuit) if net in i), frozenset())
    names = sorted(circuit.names.get(n, (n,))[0] for n in island)
    around = f" Joined with it: {listed(map(escaped, names[:MOST_NAMES]))}." if names[1:] else ""
    return (
        f"Referenced to nothing: only tubes, semiconductors or capacitors join it to gnd.{around}"
    )


def _held(paths: tuple[DcPath, ...]) -> str:
    first = paths[0]
    ohms = "a value on it is unknown" if first.ohms is None else engineering(first.ohms, "ohm")
    through = listed(dict.fromkeys(escaped(b.owner) for b in first.branches))
    more = "" if len(paths) == 1 else f"; {_count(len(paths) - 1)} more"
    end = escaped(first.nets[-1])
    return f"Referenced to {end} through {through} ({ohms}){more}."


def _count(number: int) -> str:
    most = "at least " if number == MOST_PATHS - 1 else ""
    return f"{most}{counted(number, 'DC path')}"
