"""Parts that need a voltage and have none in any state."""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_never

from coldcheck.anatomy.case import unsolved_reason
from coldcheck.anatomy.coupling import coupled, still_nets
from coldcheck.anatomy.neighbourhood import net_text
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule

NONE_V = Threshold(
    "voltage across a part that nothing feeds", 0.02, "V",
    Citation("practice", "no photocell, zener, lamp or relay works on millivolts"),
)  # fmt: skip


@rule(
    "supply.part-unfed",
    title="Part that gets no voltage in any state",
    level="notice",
    states="every solved state",
    needs="a solved state, and a supply that is at work",
    criterion="Across a photocell, zener, light-emitting diode, lamp, neon, relay's coil or "
    f"transistor there is less than {1e3 * NONE_V.value:g} mV, DC and rms, in every solved state.",
    why="Such parts do something only with a voltage across them. One that has none in any "
    "position of any switch, warm or cold, has a wire missing, or both ends on one side.",
    source=PRACTICE,
    limits="Lamps and photocells that lead to a tube's electrode or to a coil for signals may work "
    "on a signal alone. What has a lead that floats has no voltage that could be looked at.",
    thresholds=(NONE_V,),
)
def part_unfed(case: Case) -> Iterator[Outcome]:
    """Look at the largest voltage across each."""
    parts = [b for b in case.circuit.branches.values() if _needs(b.kind) and b.a != b.b]
    reason = unsolved_reason(case)
    if reason is not None:
        if parts:
            yield part_unfed.not_judged(tuple(b.owner for b in parts), reason)
        return
    for branch in parts:
        most = _most(case, branch)
        if most is not None and most < NONE_V.value and not _steers(case.circuit, branch):
            ends = listed(net_text(case.circuit, n) for n in (branch.a, branch.b))
            yield part_unfed.finding(
                case,
                (branch.owner,),
                f"{branch.owner} has {volts(most)} across it at most, in any state: nothing feeds "
                f"it between {ends}",
                f"Follow both wires of {branch.owner} back to where its voltage comes from",
                state="warm",
                evidence={"most": figure(most, "V")},
                limit=NONE_V.figure,
                certainty="certain",
            )


def _most(case: Case, branch: Branch) -> float | None:
    """The largest voltage across a part, volts; ``None`` where a state has no number for it."""
    waves = [s.between(branch.a, branch.b) for s in case.solved()]
    known = [w for w in waves if w is not None]
    return max((max(abs(w.low), abs(w.high)) for w in known), default=None)


def _steers(circuit: Circuit, branch: Branch) -> bool:
    """Whether a lamp or photocell works on a signal: an electrode or a coil is what it leads to."""
    still = still_nets(circuit)
    ends = {branch.a, branch.b} - still
    nets = coupled(circuit, ends, still, without=(branch.owner,))
    signal = branch.kind in (PartKind.LAMP, PartKind.PHOTOCELL)
    coils = {b.name for c in circuit.coils() for _, b in c.parts}
    wound = any(b.name in coils for n in ends for b in circuit.at(n))
    return signal and (wound or any(circuit.electrodes_at(n) for n in nets))


def _needs(kind: PartKind) -> bool:
    """Whether a part does nothing without a voltage of the supply across it."""
    match kind:
        case PartKind.PHOTOCELL | PartKind.ZENER | PartKind.LED | PartKind.LAMP:
            return True
        case PartKind.RELAY | PartKind.CHANNEL | PartKind.BARRETTER:
            return True
        case (
            PartKind.RESISTOR | PartKind.CAPACITOR | PartKind.INDUCTOR | PartKind.DIODE
            | PartKind.THERMISTOR | PartKind.FUSE | PartKind.SWITCH | PartKind.CONTACT
            | PartKind.SPEAKER | PartKind.JACK | PartKind.JACK_CONTACT | PartKind.SOURCE
            | PartKind.HEATER | PartKind.WINDING | PartKind.POT | PartKind.SIGNAL
            | PartKind.METER | PartKind.ARRESTER | PartKind.CRYSTAL | PartKind.GATE
            | PartKind.BASE | PartKind.TRIGGER | PartKind.VIBRATOR | PartKind.PLUG
            | PartKind.THYRISTOR
        ):  # fmt: skip
            return False
        case _:
            assert_never(kind)


RULES: tuple[Rule, ...] = (part_unfed,)
