"""Two channels that hear each other through a resistor they share."""

from __future__ import annotations

import math
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.anatomy.case import unsolved_reason
from coldcheck.anatomy.channels import at_coils, inputs, outputs
from coldcheck.anatomy.coupling import still_nets
from coldcheck.anatomy.neighbourhood import net_text, resistors_at
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.preferred import preferred
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import listed, ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.solve.cycle.network import Unsolvable
from coldcheck.solve.signal.linearised import Linearised
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

CROSSES = Threshold(
    "share of one channel's signal in the other", 0.03, "",
    Citation("practice", "30 dB between channels is the least that still sounds like two"),
)  # fmt: skip
PAIR = Threshold(
    "share from which two stages are one pair", 0.7, "",
    Citation("arithmetic", "a long tail hands over 1 - 1 / (gm R) of the signal"),
)  # fmt: skip
SHARED = ("cathode", "screen")
MID_HZ = 1e3


@rule(
    "signal.channels-share-resistor",
    title="Two channels on one resistor without a capacitor",
    level="notice",
    states="the nominal state, at 1 kHz",
    needs="a solved nominal state, and for each channel an input (a `signal` line or a jack) and "
    "an output of its own",
    criterion="Two sections with inputs and outputs of their own share a cathode or screen net "
    "that no capacitor holds still, or the only resistor of one's cathode leads to the other's, "
    "and driven at one grid the other's plate moves by more than "
    f"{100 * CROSSES.value:g} % and less than {100 * PAIR.value:g} % of the first one's.",
    why="What one tube does to a common resistor drives the other one's cathode: each channel is "
    "heard in the other, in opposite phase. At rest every voltage is right.",
    source=(PRACTICE, Citation("arithmetic", "the linear network about the operating point")),
    limits="From there on the two are taken for the halves of a long-tailed pair. A balanced line "
    "stage drawn with two inputs and two outputs has such a resistor on purpose. Stages with coils "
    "or transformers at grid or plate, other than the output's, are left alone. One point gnd for "
    "both is no crossing here: the resistance of wires is not drawn.",
    thresholds=(CROSSES, PAIR),
)  # fmt: skip
def channels_share_resistor(case: Case) -> Iterator[Outcome]:
    """Drive one of two sections that share a net, and look at the other's plate."""
    for one, other, net, hung in _shared(case.circuit):
        reason = unsolved_reason(case)
        try:
            share = None if reason else _share(Linearised(case.circuit, case.warm), one, other)
        except (Unsolvable, np.linalg.LinAlgError) as problem:
            share, reason = None, f"the crossing could not be worked out: {problem}"
        if share is None:
            names = (one.name, other.name)
            yield channels_share_resistor.not_judged(names, reason or "the stage gives nothing")
        elif CROSSES.value < share < PAIR.value:
            yield _finding(case, (one, other), net, share, hung)


def _shared(circuit: Circuit) -> Iterator[tuple[Section, Section, str, Branch | None]]:
    """Pairs of audio sections of two channels, the net they share, and what hangs one on it."""
    still = {*still_nets(circuit), *LANDMARKS}
    for one, other in combinations(_audio(circuit), 2):
        nets = [one.net(e) for e in SHARED if one.net(e) == other.net(e)]
        net = next((n for n in nets if n is not None and n not in still), None)
        if net is not None and _apart(circuit, one, other):
            yield one, other, net, None
        for upper, lower in ((one, other), (other, one)):
            hung = _hung(circuit, upper, lower)
            if net is None and hung is not None and _apart(circuit, one, other):
                yield lower, upper, lower.cathode_nets[0], hung


def _hung(circuit: Circuit, upper: Section, lower: Section) -> Branch | None:
    """The one resistor of a cathode that leads to another section's and not to gnd."""
    cathode, below = upper.net("cathode"), lower.net("cathode")
    if cathode is None or below is None or {cathode, below} & {*still_nets(circuit), *LANDMARKS}:
        return None
    own = [b for b in circuit.at(cathode) if b.traits.steady]
    return own[0] if len(own) == 1 and own[0].other(cathode) == below != cathode else None


def _audio(circuit: Circuit) -> list[Section]:
    return [s for _, s in working(circuit) if not at_coils(circuit, s)]


def _apart(circuit: Circuit, one: Section, other: Section) -> bool:
    """Whether each has inputs and outputs, none of them the other's."""
    sets = [(look(circuit, one), look(circuit, other)) for look in (inputs, outputs)]
    return all(a and b and not a & b for a, b in sets)


def _share(linear: Linearised, one: Section, other: Section) -> float | None:
    """Volts at the other's plate over volts at the driven one's, at 1 kHz."""
    grid, plates = one.net("grid"), (one.net("plate"), other.net("plate"))
    rows = [linear.network.at(p) for p in plates if p is not None]
    if grid is None or len(rows) < len(plates) or None in rows:
        return None
    volts = linear.solve(MID_HZ, linear.column({grid: 1.0})[:, None])[:, 0]
    own, crossed = (abs(volts[row]) for row in rows if row is not None)
    return float(crossed / own) if own else None


def _finding(
    case: Case, pair: tuple[Section, Section], net: str, share: float, hung: Branch | None
) -> Finding:
    circuit, names = case.circuit, tuple(s.name for s in pair)
    still = {*still_nets(circuit), *LANDMARKS}
    held = [b for b in resistors_at(circuit, net) if b.other(net) in still]
    parts = tuple(b.owner for b in ([] if hung is None else [hung]) + held)
    through = listed(parts) if parts else net_text(circuit, net)
    below = f"{-20 * math.log10(share):.3g} dB"
    return channels_share_resistor.finding(
        case,
        (*parts, *names),
        f"{listed(names)} have inputs and outputs of their own, but share {through} without a "
        f"capacitor: driven at one grid, the other's plate gives the same only {below} below",
        _remedy(circuit, names, net, held)
        if hung is None
        else f"Take {hung.owner} to gnd in place of the cathode of {names[0]}",
        state="warm",
        evidence={"crossing": figure(share, "")},
        limit=CROSSES.figure,
        blame=None if hung is None else Blame.SLIP,
        excess=share / CROSSES.value,
    )


def _remedy(circuit: Circuit, names: tuple[str, ...], net: str, held: list[Branch]) -> str:
    """A resistor for each cathode that takes the same current; a capacitor at shared screens."""
    at = [s.name for s, e in circuit.electrodes_at(net) if e == "cathode"]
    value = si(held[0].value, "ohm") if len(held) == 1 else None
    if not at:
        return f"Put a capacitor from {net_text(circuit, net)} to gnd, or feed each screen apart"
    own = f" ({ohms(preferred(len(at) * value))} each)" if value else ""
    return f"Give {listed(names)} a cathode resistor each{own}"


RULES: tuple[Rule, ...] = (channels_share_resistor,)
