"""The difference of two reviews: parts, connections, voltages, findings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.compare.nets import paired
from coldcheck.compare.specs import ends, part_specs
from coldcheck.judge.finding import LEVELS
from coldcheck.records import dataclass
from coldcheck.verdict.ruling import undecided

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.circuit.model import Circuit
    from coldcheck.judge.finding import Finding, NotJudged
    from coldcheck.solve.solution import Solution, Wave
    from coldcheck.verdict.review import Review
    from coldcheck.verdict.ruling import Gate

MOVED_VOLTS, MOVED_SHARE = 0.5, 0.02
"""A point has moved when it did by more than both: half a volt and two percent."""

WORSE = 0.05
"""A finding is worse (or better) when its figure moved by five percent of the limit or more."""


@dataclass(frozen=True, slots=True)
class PartChange:
    """One part: ``how`` is added, removed, changed, rewired or renamed."""

    how: str
    name: str
    old: str
    new: str


@dataclass(frozen=True, slots=True)
class Moved:
    """A point's voltage to gnd before and after; ``None`` where there is no number."""

    point: str
    was: str
    old_dc: float | None
    new_dc: float | None
    old_ac: float | None
    new_ac: float | None

    @property
    def by(self) -> float:
        """How far, volts: the larger of the DC and the AC step; a number come or gone is most."""
        pairs = ((self.old_dc, self.new_dc), (self.old_ac, self.new_ac))
        steps = [abs(b - a) for a, b in pairs if a is not None and b is not None]
        return max(steps) if len(steps) == 2 else float("inf")


@dataclass(frozen=True, slots=True)
class FindingChange:
    """A finding in one revision or both: ``how`` is new, gone, worse or better."""

    how: str
    old: Finding | None
    new: Finding | None

    @property
    def finding(self) -> Finding:
        """The finding as it is now, or as it was."""
        found = self.new or self.old
        assert found is not None
        return found


@dataclass(frozen=True, slots=True)
class Comparison:
    """All that changed from one review to the other, in one state."""

    old: Review
    new: Review
    state: str
    parts: tuple[PartChange, ...]
    points: tuple[Moved, ...]
    findings: tuple[FindingChange, ...]

    @property
    def same_circuit(self) -> bool:
        """Whether nothing changed but names."""
        return all(p.how == "renamed" for p in self.parts)

    def at(self, gate: Gate) -> JudgedComparison:
        """The comparison with a gate applied to it."""
        floor = LEVELS.index(gate.level)
        stopping = tuple(
            c
            for c in self.findings
            if c.how in ("new", "worse")
            and c.finding.accepted is None
            and LEVELS.index(c.finding.level) >= floor
        )
        return JudgedComparison(self, gate, stopping, undecided(self.new))


@dataclass(frozen=True, slots=True)
class JudgedComparison:
    """A comparison and what of it does not get through the gate.

    stopping
        The findings that are new or worse, unaccepted, and as grave as the gate.
    undecided
        What of the new revision could not be judged and leaves it undecided.
    """

    comparison: Comparison
    gate: Gate
    stopping: tuple[FindingChange, ...]
    undecided: tuple[NotJudged, ...]

    @property
    def stops(self) -> bool:
        """Whether the change does not get through."""
        return bool(self.stopping) or (bool(self.undecided) and self.gate.holds_undecided)


def compare(old: Review, new: Review, state: str = "warm") -> Comparison:
    """Compare two reviews of readable drawings; raises ValueError for one that is not."""
    if old.circuit is None or new.circuit is None or not (old.readable and new.readable):
        raise ValueError("only drawings that can be read can be compared")
    nets = paired(old.circuit, new.circuit)
    return Comparison(
        old,
        new,
        state,
        tuple(_parts(old.circuit, new.circuit, nets)),
        tuple(sorted(_moved(old, new, nets, state), key=lambda m: (-m.by, m.point))),
        tuple(_findings(old, new)),
    )


def _parts(old: Circuit, new: Circuit, nets: Mapping[str, str]) -> Iterator[PartChange]:
    was, now = part_specs(old), part_specs(new)
    gone = [name for name in was if name not in now]
    come = [name for name in now if name not in was]
    for name in list(gone):
        twin = next(
            (n for n in come if was[name] == now[n] and _alike(old, new, name, n, nets)), ""
        )
        if twin:
            gone.remove(name)
            come.remove(twin)
            yield PartChange("renamed", twin, name, twin)
    for name in was:
        if name in now and was[name] != now[name]:
            yield PartChange("changed", name, was[name], now[name])
        if name in now and not _alike(old, new, name, name, nets):
            yield PartChange("rewired", name, _wired(old, name), _wired(new, name))
    for name in gone:
        yield PartChange("removed", name, was[name], "")
    for name in come:
        yield PartChange("added", name, "", now[name])


def _alike(old: Circuit, new: Circuit, a: str, b: str, nets: Mapping[str, str]) -> bool:
    """Whether a part's leads go to corresponding nets."""
    before = sorted((nets.get(net, f"?{net}"), mark) for net, mark in _leads(old, a))
    return before == sorted(_leads(new, b))


def _leads(circuit: Circuit, name: str) -> list[tuple[str, str]]:
    """The nets of a part, each with the mark of its lead."""
    if name in circuit.tubes:
        tube = circuit.tubes[name]
        letters = {s.name: s.name.removeprefix(tube.name) for s in tube.sections}
        leads = [(n, f"{letters[s.name]}.{e}") for s in tube.sections for e, n in
                 s.electrodes.items()]  # fmt: skip
        heater = tube.heater.branches if tube.heater else ()
        return leads + [(net, "heater") for b in heater for net in (b.a, b.b)]
    branch = circuit.branches.get(name)
    return [] if branch is None else list(ends(branch))


def _wired(circuit: Circuit, name: str) -> str:
    leads = _leads(circuit, name)
    if name in circuit.tubes:
        return ", ".join(f"{mark.lstrip('.')} {net}" for net, mark in leads)
    return " to ".join(net for net, _ in leads)


def _moved(old: Review, new: Review, nets: Mapping[str, str], state: str) -> Iterator[Moved]:
    before, after = old.solutions.get(state), new.solutions.get(state)
    if before is None or after is None:
        return
    for a, b in nets.items():
        moved = _step(before, after, a, b)
        if moved is not None:
            yield moved


def _step(before: Solution, after: Solution, a: str, b: str) -> Moved | None:
    one, two = before.waves.get(a), after.waves.get(b)
    if one is None and two is None:
        return None
    moved = Moved(b, a, *(_dc(w) for w in (one, two)), *(_ac(w) for w in (one, two)))
    largest = max(abs(_dc(w) or 0.0) + (_ac(w) or 0.0) for w in (one, two))
    return moved if moved.by > max(MOVED_VOLTS, MOVED_SHARE * largest) else None


def _dc(wave: Wave | None) -> float | None:
    return None if wave is None else wave.dc


def _ac(wave: Wave | None) -> float | None:
    return None if wave is None else wave.ac_rms


def _findings(old: Review, new: Review) -> Iterator[FindingChange]:
    """Findings by fingerprint; those in both are told when they moved."""
    left = list(old.findings)
    for finding in new.findings:
        twin = next((f for f in left if f.fingerprint == finding.fingerprint), None)
        if twin is None:
            yield FindingChange("new", None, finding)
            continue
        left.remove(twin)
        how = _how(twin, finding)
        if how:
            yield FindingChange(how, twin, finding)
    for finding in left:
        yield FindingChange("gone", finding, None)


def _how(old: Finding, new: Finding) -> str:
    step = LEVELS.index(new.level) - LEVELS.index(old.level)
    if not step and abs(new.excess - old.excess) >= WORSE:
        step = 1 if new.excess > old.excess else -1
    return "" if not step else "worse" if step > 0 else "better"
