"""Feedback round an output stage that takes nearly all of the gain: a value out of place."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from numpy.linalg import LinAlgError

from coldcheck.anatomy.case import unsolved_reason
from coldcheck.anatomy.feedback_loops import return_ratio, secondary, ways_back
from coldcheck.anatomy.feedback_points import cathode_of, feet, grounded
from coldcheck.anatomy.neighbourhood import net_text, resistors_at
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import Unsolvable
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.feedback_loops import Back
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.drawing.units import Quantity
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

STRONG = Threshold(
    "loop gain round an output transformer that is much", 6.0, "",
    Citation("practice", "10 to 20 dB are usual"),
)  # fmt: skip
SHARE = Threshold(
    "share of a loudspeaker's voltage fed back that is too large", 0.35, "",
    Citation("practice", "a twentieth to a fifth is usual"),
)  # fmt: skip
USUAL_SHARE, USUAL_LOOP, MOST_LOOP = 0.2, 0.2, 9.0
DECADE = 10.0


@dataclass(frozen=True, slots=True)
class _Divider:
    """The resistor from the secondary, the one across which it feeds back, a cathode's above it."""

    top: Branch
    foot: Branch
    above: Branch | None

    @property
    def share(self) -> float:
        """Of the secondary's voltage, what comes back."""
        return _share(_ohm(self.foot), _ohm(self.top))


@rule(
    "signal.feedback-too-strong",
    title="Feedback that takes nearly all of an amplifier's gain",
    level="notice",
    blame=Blame.SLIP,
    states="the nominal state, at 1 kHz",
    needs="a solved nominal state, and the values of the resistors that feed back",
    criterion="From a secondary with a loudspeaker a resistor leads to a cathode, or to a point "
    f"below it, that has one resistor to gnd, more than {SHARE.value:g} of the loudspeaker's "
    f"voltage come back, the loop gain is more than {STRONG.value:g}; and with the resistor of the "
    "cathode exchanged with the one below it, or the feedback resistor ten times as large, both "
    "are usual.",
    why="An output stage gives its volts for a volt or so at the input, of which a tenth is fed "
    "back. With half fed back the gain is two: the input clips, or the source has not enough, long "
    "before the output tubes are driven. So much feedback round a transformer oscillates as well.",
    source=(
        Citation("bode-1945", "return ratio of a part"),
        Citation("arithmetic", "the divider of the feedback"),
        PRACTICE,
    ),
    limits="The loop gain is that of the middle of the band, with the tubes as published. Feedback "
    "to a grid is not looked at.",
    thresholds=(SHARE, STRONG),
)
def feedback_too_strong(case: Case) -> Iterator[Outcome]:
    """Look at the divider of every feedback from a loudspeaker."""
    if unsolved_reason(case) is not None:
        return
    for back in ways_back(case.circuit):
        divider = _divider(case.circuit, back)
        if divider is None or divider.share <= SHARE.value or not _speaks(case.circuit, back):
            continue
        loop = _loop(case, back)
        cure = None if loop is None or -loop <= STRONG.value else _cure(case, back, divider)
        if loop is not None and cure is not None:
            yield _finding(case, divider, -loop, cure)


def _ohm(branch: Branch) -> float:
    return branch.ohms or 0.0


def _speaks(circuit: Circuit, back: Back) -> bool:
    """Whether a loudspeaker is on the secondary."""
    nets = secondary(circuit, back.output) if back.output is not None else ()
    return any(b.kind is PartKind.SPEAKER for n in nets for b in circuit.at(n))


def _divider(circuit: Circuit, back: Back) -> _Divider | None:
    """The resistors of a feedback to a cathode or to a point below one, all of known value."""
    top = [b for b in back.parts if b.kind is PartKind.RESISTOR]
    foot = grounded(circuit, back.near)
    if len(top) != 1 or len(foot) != 1 or not _ohm(top[0]) or not _ohm(foot[0]):
        return None
    if cathode_of(circuit, back.near) is not None:
        return _Divider(top[0], foot[0], None)
    for branch in resistors_at(circuit, back.near):
        cathode = branch.other(back.near)
        below = back.near in feet(circuit, cathode)
        if below and cathode_of(circuit, cathode) is not None and _ohm(branch):
            return _Divider(top[0], foot[0], branch)
    return None


def _loop(case: Case, back: Back, circuit: Circuit | None = None) -> float | None:
    try:
        found = return_ratio(circuit or case.circuit, case.warm, back)
    except (Unsolvable, LinAlgError):
        return None
    return None if found is None else found.real


def _cure(case: Case, back: Back, divider: _Divider) -> tuple[Branch, ...] | None:
    """The two resistors to exchange, or the one that is a decade small; ``None`` for neither."""
    above, foot, top = divider.above, divider.foot, divider.top
    if above is not None and _ohm(above) < _ohm(foot):
        changed = {above.name: foot.value, foot.name: above.value}
        if _share(_ohm(above), _ohm(top)) <= USUAL_SHARE and _usual(case, back, changed):
            return (above, foot)
    larger = {top.name: None if top.value is None else top.value * DECADE}
    fits = _share(_ohm(foot), DECADE * _ohm(top)) <= USUAL_SHARE
    return (top,) if fits and _usual(case, back, larger) else None


def _share(foot: float, top: float) -> float:
    return foot / (foot + top)


def _usual(case: Case, back: Back, values: Mapping[str, Quantity | None]) -> bool:
    """Whether the loop gain is usual with other values, the tubes where they are."""
    branches = {n: replace(b, value=values[n]) if n in values else b
                for n, b in case.circuit.branches.items()}  # fmt: skip
    parts = tuple(branches[b.name] for b in back.parts)
    loop = _loop(case, replace(back, parts=parts), replace(case.circuit, branches=branches))
    return loop is not None and USUAL_LOOP <= -loop <= MOST_LOOP


def _finding(case: Case, divider: _Divider, loop: float, cure: tuple[Branch, ...]) -> Finding:
    foot, top, gain = divider.foot, divider.top, loop / (1 + loop) / divider.share
    looks = f"{top.name} looks a decade small"
    remedy = f"Look at {top.name}: {ohms(DECADE * _ohm(top))} fits"
    if len(cure) > 1:
        one, two = cure
        looks = f"{one.name} ({ohms(_ohm(one))}) and {two.name} look exchanged"
        remedy = f"Exchange {one.name} and {two.name}"
    rest = [b for b in (foot, top) if b not in cure]
    return feedback_too_strong.finding(
        case,
        (*(b.name for b in cure), *(b.name for b in rest)),
        f"{top.name} ({ohms(_ohm(top))}) brings {100 * divider.share:.0f} % of the loudspeaker's "
        f"voltage back across {foot.name} ({ohms(_ohm(foot))}), with a loop gain of {loop:.3g}: "
        f"the gain from that stage's grid to {net_text(case.circuit, top.a)} is held at "
        f"{gain:.2g}, and {looks}",
        remedy,
        state="warm",
        evidence={"share": figure(divider.share, ""), "loop_gain": figure(loop, "")},
        limit=SHARE.figure,
        certainty="likely",
        excess=divider.share / SHARE.value,
    )


RULES: tuple[Rule, ...] = (feedback_too_strong,)
