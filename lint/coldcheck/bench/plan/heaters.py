"""The heaters by themselves, before any high tension is on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.bench.instruments.clip import mains_side
from coldcheck.bench.plan.model import AC, Check, Step
from coldcheck.bench.plan.power import Power, Stage, is_rectifier
from coldcheck.bench.plan.rails import METER
from coldcheck.bench.plan.windings import winding_checks
from coldcheck.circuit.problems import listed
from coldcheck.drawing.kinds import PartKind
from coldcheck.solve.faults.fault import OPEN, Fault, altered
from coldcheck.solve.off.discharge import TOUCH_V

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Tube
    from coldcheck.solve.solution import Solution

KEY, TITLE = "heaters", "Power on: the heaters alone, no high tension"
FED = ("plate", "screen")
STRING_OFF = 0.10
"""Share by which heaters of a string share their volts unequally (data sheets' 10 %, memory)."""


def heaters_step(power: Power, warm: Solution, *, string: bool) -> Step | None:
    """How to have them alone, and their volts; ``None`` where the drawing gives no way.

    ``string`` says that no tube can be out without others going cold.
    """
    if not power.mains:
        return None
    if string:
        tubes = [t for t in power.circuit.tubes.values() if _in_string(t)]
        return _string(power, warm, tubes)
    return _without_rectifiers(power) or _without_fuse(power)


def _in_string(tube: Tube) -> bool:
    return tube.heater is not None and tube.heater.winding is None and bool(tube.heater.branches)


def _string(power: Power, warm: Solution, tubes: list[Tube]) -> Step:
    """Of a string all tubes have to be in: the rectifier's plate is taken off instead."""
    circuit = power.circuit
    plates = [
        f"{s.name}.{e}" for t in circuit.tubes if is_rectifier(circuit, t)
        for s in circuit.tubes[t].sections for e in s.electrodes if e in s.plates
    ]  # fmt: skip
    diodes = [b.name for b in circuit.branches.values() if b.traits.one_way and b.part is not None]
    lifted = plates or diodes
    way = (
        f"Lift the wire to {listed(lifted)} and insulate its end: the heaters are then on and the "
        "rectifier gives nothing."
        if lifted
        else "Open the high tension before the first capacitor."
    )
    do = (
        f"With the plug out, put every tube in: {listed([t.name for t in tubes])} hang on one "
        f"another. {way}",
        "Turn the mains up slowly. All heaters come up together within half a minute; one that is "
        "brighter than the others for longer is the wrong type or has another's current.",
        "Switch off and pull the plug, wait and measure as in the last step of this plan, then "
        "join the wire again. The tubes stay in.",
    )
    return Step(KEY, TITLE, True, (), do, tuple(_volts(power, warm, tubes)))


def _volts(power: Power, warm: Solution, tubes: list[Tube]) -> Iterator[Check]:
    for tube in tubes:
        assert tube.heater is not None
        a, b = tube.heater.nets[0], tube.heater.nets[-1]
        wave = warm.between(a, b)
        if wave is None or a == b:
            continue
        volts, off = wave.rms, (STRING_OFF + METER) * wave.rms
        why = "another heater in the string is open, shorted or of another current"
        leads = ("f1", "f2") if tube.directly_heated else ("h1", "h2")
        yield Check(
            f"{tube.name}.{leads[0]}", f"{tube.name}.{leads[1]}", AC, volts, volts - off,
            volts + off, volts - off, volts + off, why, mains=power.volts,
        )  # fmt: skip


def _without_rectifiers(power: Power) -> Step | None:
    """All tubes but the rectifiers, where those are tubes and nothing else feeds a rail."""
    circuit = power.circuit
    out = tuple(t for t in circuit.tubes if is_rectifier(circuit, t))
    others = tuple(t for t in circuit.tubes if t not in out)
    if not out or not others:
        return None
    checks = _alone(power, frozenset(out))
    if not checks:
        return None
    do = (
        f"Switch off and pull the plug, then put in all tubes but {listed(out)}: there is no high "
        "tension without it.",
        *_glowing(others),
    )
    return Step(KEY, TITLE, True, (), do, checks)


def _without_fuse(power: Power) -> Step | None:
    """All tubes, with the fuse out that the high tension goes through."""
    circuit = power.circuit
    for fuse in (b for b in circuit.branches.values() if b.kind is PartKind.FUSE):
        if fuse.a in mains_side(circuit) or fuse.b in mains_side(circuit):
            continue
        checks = _alone(Power(altered(circuit, (Fault(OPEN, fuse.name),))), frozenset())
        if checks:
            do = (
                f"Switch off and pull the plug, take {fuse.name} out and put all tubes in: high "
                "tension reaches that fuse and no further.",
                *_glowing(tuple(circuit.tubes)),
                f"Only then put {fuse.name} back.",
            )
            return Step(KEY, TITLE, True, (), do, checks)
    return None


def _alone(power: Power, out: frozenset[str]) -> tuple[Check, ...]:
    """The heaters' windings with these tubes out; none where high tension is left."""
    circuit = power.circuit
    stage = Stage(KEY, "the heaters alone", (), out)
    rung = power.rung(stage, 1.0)
    if not rung.solved or any(volts > TOUCH_V for volts in _fed(rung.full)):
        return ()
    heaters = (circuit.tubes[t].heater for t in circuit.tubes if t not in out)
    used = {h.winding for h in heaters if h is not None}
    found = winding_checks(power, rung, heaters=True)
    return tuple(c for c in found if c.point.rpartition(".")[0] in used and (c.expected or 0) > 1)


def _glowing(tubes: tuple[str, ...]) -> tuple[str, ...]:
    return (
        f"All heaters glow within a minute: {listed(tubes)}. One that stays dark: its heater is "
        "open, or its pins have no contact.",
        "Switch off, pull the plug, and take these tubes out again when they are cool.",
    )


def _fed(solution: Solution) -> Iterator[float]:
    """The volts of plates and screens, and of rails that a capacitor is on."""
    circuit = solution.circuit
    nets = {n for s in circuit.sections() for e, n in s.electrodes.items() if e in FED}
    nets |= {n for b in circuit.branches.values() if b.plus for n in (b.a, b.b)}
    for net in nets:
        wave = solution.waves.get(net)
        if wave is not None:
            yield wave.dc
