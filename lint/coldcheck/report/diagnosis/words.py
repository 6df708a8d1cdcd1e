"""The words of a diagnosis: verdicts, what would decide, cautions."""

from __future__ import annotations

from math import inf, isfinite
from typing import TYPE_CHECKING

from coldcheck.bench.diagnosis.judged import UNKNOWN, WITHIN
from coldcheck.bench.diagnosis.readings import AMP, FREQUENCY, OHM, WHAT
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.units import engineering
from coldcheck.report.shared.plain import listed
from coldcheck.solve.off.discharge import TOUCH_V

if TYPE_CHECKING:
    from collections.abc import Sequence

    from coldcheck.bench.diagnosis.account import Account, Leading
    from coldcheck.bench.diagnosis.judged import Judged
    from coldcheck.bench.diagnosis.ranked import Next, Ranked, Weighed
    from coldcheck.bench.diagnosis.suspects import Suspect

CAUTION = (
    "Tube equipment holds lethal voltages, also after it is switched off. Live readings: one hand "
    "in a pocket, clip the black lead to gnd with the power off, touch one point at a time, never "
    "alone. Before any part is lifted or any resistance is read: pull the plug, discharge the "
    "capacitors and verify with a meter that they are empty. A fault can put any point, and the "
    "chassis, at a voltage that this report does not predict. Local codes and a qualified "
    "person decide."
)
LIVE = (
    "WARNING: gnd is joined to the mains in this drawing. Everything may be at the full mains "
    "against earth: measure only behind an isolating transformer, with nothing earthed connected."
)
LIMITS = (
    "The shares are of the faults simulated here, weighted by how common each is, two at once only "
    "where no single one fits; a fault that is not among them (three at once, a dry joint at a "
    "tube socket, a wire in the wrong place "
    "that is not named, an electrolytic the wrong way round, shorted turns, oscillation, an "
    "intermittent) has none. Readings are taken as DC and true rms AC, warm, without a signal but "
    "where that is said. A fuse is not blown in the simulation: where one has blown, measure with "
    "it replaced only behind a current-limiting lamp."
)
NOTHING_SHOWN = (
    "These readings do not differ from those of a sound circuit by more than tolerances, tubes, "
    "mains and the meter may make of them. That does not show that the circuit is sound."
)
NEARLY = (
    "Some readings are outside their usual ranges, but all together no further from a sound "
    "circuit than tolerances, tubes, mains and the meter take one now and then. That does not show "
    "that the circuit is sound."
)
UNEXPLAINED = (
    "Outside what is known here: no fault considered, nor two of them together, explains all "
    "readings. Look for a misread meter or range first, then for wiring that differs from the "
    "drawing. What is named below comes nearest."
)
SO_FAR = (
    "No single fault considered here explains all readings so far. Look for a misread meter or "
    "range first; 'done' tries two faults at once."
)

NO_MORE = (
    "No further reading to gnd would separate the suspects noticeably: make the checks named above."
)
ENOUGH = (
    "No further reading to gnd would separate the suspects noticeably: 'done' says what stands "
    "and which check settles it; or type any other reading."
)

POWER_ON_LIVE = " Gnd is joined to the mains here: only behind an isolating transformer."
SETTLED = 5
"""Times the mean time of its rise after which a reading stands still to one in a hundred."""

POWER_OFF = (
    "POWER OFF for this one: pull the plug, discharge the capacitors and verify with the meter "
    "that they are empty; then the ohmmeter, its + lead on the point."
)
POWER_ON = (
    "POWER ON from here: meter to volts and black lead clipped to gnd before the plug goes in, "
    "then one hand, one point at a time."
)
LEAST_TOLD = {"V": 5e-5, "A": 5e-7}
"""Below this a figure is written as nothing."""

WHOLE = {"V": 0.1, "A": 1.0}
"""Below this it is written in thousandths."""

FITTING = 5
"""Readings that are told for what explains them."""

CHECKS = 3
"""Checks that are told for a group."""

OFF = "plug pulled and capacitors empty"
_CHECKS = {
    "open": "{off}, measure {0} from end to end, one end lifted",
    "short": "{off}, lift one end of {0} and measure across it",
    "high": "{off}, lift one end of {0} and measure its resistance",
    "leak": "{off}, lift the end of {0} away from the higher voltage and clip the meter from that "
    "free end, which can be at all of it, to gnd; plug in again: a DC voltage that stays is its "
    "leakage",
    "capacity": "{off}, lift one end of {0} and measure its capacity, or clip a good one of its "
    "value and voltage across it, plug in and read again",
    "weak": "{off}, try a tube known to be good in place of {0}",
    "dead": "look whether {0} glows; {off}, measure its heater; try a tube known to be good",
    "gassy": "{off}, change the tube of {0}: gas goes with the tube, a leaky capacitor stays",
    "heater-cathode": "{off}, pull the tube of {0} and measure from its heater to its cathode",
    "touch": "{off}, pull the tube of {0} and measure between those pins; tap it gently",
    "contact": "{off}, measure across the contact of {0} in both positions",
    "wiper": "{off}, measure from the wiper of {0} to both ends",
    "swap": "{off}, read the colour codes of {0} and {1} and measure both, one end lifted",
    "backwards": "{off}, look at the ring on {0}: the current leaves at that end",
    "lead": "{off}, measure from {0} at the transformer to where its wire goes: no ohms",
    "exchanged": "{off}, follow the wires of {0} by colour and pin number against the drawing",
    "resistance": "{off}, measure across {0}: no ohms; wiggle it while you do",
    "silicon": "{off}, take {0} out and go over its leads two by two with the diode range, against "
    "a good one of its type; look at its leads' order and at what insulates it from the metal",
    "turns": "{off}, unload the winding of {0} and measure its voltage with the power on again, "
    "against the other half where it has one",
    "insulation": "{off}, pull the tube of {0} and measure from that pin to gnd; look along its "
    "wire",
    "good": "",
}
_CHECKS["low"] = _CHECKS["high"]
_CHECKS["two"] = "{off}, look at {0} first, then at the other"


def check(suspect: Suspect) -> str:
    """What settles whether it is this one; empty where there is nothing to check."""
    return _CHECKS[suspect.kind].format(*suspect.parts, off=OFF)


def number(kind: str, value: float | None) -> str:
    """A reading's figure with its unit."""
    if value is None:
        return "–"
    if kind == OHM:
        return "no path" if value == inf else engineering(value, "ohm")
    if kind == FREQUENCY:
        return engineering(value, "Hz")
    unit = "A" if kind == AMP else "V"
    if abs(value) < LEAST_TOLD[unit]:
        return f"0 {unit}"
    if abs(value) < WHOLE[unit]:
        return f"{value * 1e3:.3g} m{unit}"
    return f"{value:.0f} {unit}" if abs(value) >= 1000 else f"{value:.3g} {unit}"


def span(judged: Judged) -> str:
    """The range a reading should be in."""
    if judged.low is None or judged.high is None:
        return "–"
    kind = judged.reading.kind
    if judged.low == judged.high:
        return number(kind, judged.low)
    return f"{number(kind, judged.low)} to {number(kind, judged.high)}"


def verdict(judged: Judged) -> str:
    """The verdict on a reading in words; a verdict never rests on colour."""
    if judged.verdict == WITHIN:
        return "within"
    if judged.verdict == UNKNOWN:
        return "not predicted"
    return "TOO LOW" if judged.verdict == "low" else "TOO HIGH"


def times(factor: float) -> str:
    """How a figure stands to another: ``10 times``, ``a thousandth of``."""
    parts = {0.1: "a tenth of", 0.01: "a hundredth of", 0.001: "a thousandth of"}
    near = next((said for part, said in parts.items() if abs(factor / part - 1) < 0.01), "")
    return near or f"{factor:.0f} times"


def misread(judged: Judged) -> str:
    """What a reading looks like where a range, a prefix or the tips were perhaps misread."""
    kind, value, meant = judged.reading.kind, judged.reading.value, judged.meant
    if meant is None:
        return ""
    where, other = f"{judged.reading.point} {kind}", number(kind, meant)
    if meant == -value:
        return f"{where}: {other} would be about right; were the tips the other way round?"
    return f"{where}: that is {times(value / meant)} {other}, which would be about right; misread?"


def percent(share: float) -> str:
    """A share of belief; never 0 or 100 %."""
    if share > 0.99:
        return "above 99 %"
    return f"{100 * share:.0f} %" if share >= 0.01 else "below 1 %"


def standing(members: Sequence[Ranked], *, explained: bool = True) -> str:
    """The share of a group; none where the readings speak against it, or nothing explains them."""
    if all(r.refuted for r in members):
        return "refuted"
    return percent(sum(r.share for r in members)) if explained else "no share"


def working(share: float) -> str:
    """How far the library of suspects is."""
    return f"suspects are still being worked out: {100 * share:.0f} % done"


def weighed_text(weighed: Weighed) -> str:
    """A reading against what the suspect would give."""
    read = f"{weighed.point} {weighed.kind} reads {number(weighed.kind, weighed.value)}"
    return f"{read}, it would give {number(weighed.kind, weighed.expected)}"


def supporting(leading: Leading) -> str:
    """The readings that speak for the first of a group, the loudest first; of many not all."""
    found = sorted((w for w in leading.weighed if w.supports), key=lambda w: -abs(w.off_if_good))
    more = f"; and {len(found) - FITTING} more" if len(found) > FITTING else ""
    return "; ".join(weighed_text(w) for w in found[:FITTING]) + more


def contradicting(leading: Leading) -> str:
    """The readings that speak against it."""
    return "; ".join(weighed_text(w) for w in leading.weighed if w.contradicts)


def lost(leading: Leading) -> str:
    """What the first of a group leaves hanging; empty where nothing is."""
    if not leading.lost:
        return ""
    return f"lost: nothing then holds {listed(leading.lost)}; only the meter does while it is on"


def group_text(members: Sequence[Ranked]) -> str:
    """A group in a line: its likeliest, and how many more there are."""
    more = len(members) - 1
    if any(r.suspect.kind == "good" and not r.refuted for r in members):
        return f"nothing that these readings show{_blind(more)}"
    if not more:
        return members[0].said
    one = "one other" if more == 1 else f"{more} others"
    return f"{members[0].said}, or {one} that these readings cannot tell from it"


def _blind(more: int) -> str:
    if not more:
        return ""
    one = "a fault" if more == 1 else f"one of {more} faults"
    return f": a sound circuit, or {one} they cannot tell from it"


def others(leading: Leading) -> str:
    """The members that cannot be told from the first; of many, the likeliest."""
    rest = leading.members if leading.sound else leading.members[1:]
    said = [r.said for r in rest if r.suspect.kind != "good"]
    more = f" and {len(said) - 6} more" if len(said) > 6 else ""
    return "; ".join(said[:6]) + more


def checks(leading: Leading) -> str:
    """What settles which of a group it is: a check for each of its first parts."""
    if leading.sound:
        return ""
    found: dict[str, str] = {}
    for ranked in leading.members:
        if text := check(ranked.suspect):
            found.setdefault(text, text)
    return "; or ".join(list(found)[:CHECKS])


def next_text(following: Next) -> str:
    """A point to measure and what the leading suspects would show there."""
    kind = following.channel.kind
    told = "; ".join(
        f"{suspect.key}: {_about(kind, mean, off)}" for suspect, mean, off in following.telling
    )
    return f"{measured(following)}: {told}"


def _about(kind: str, mean: float, off: float) -> str:
    if not isfinite(mean):
        return number(kind, mean)
    within = "any amount" if not isfinite(off) else number(kind, float(f"{off:.2g}"))
    return f"{number(kind, mean)} +/- {within}"


def measured(following: Next) -> str:
    """What to read there: ``volts DC to gnd``."""
    channel = following.channel
    to = " to gnd" if channel.other == GROUND else ""
    if channel.kind != OHM:
        return f"{WHAT[channel.kind]}{to}"
    waits = f", settling within about {SETTLED * channel.wait:.0f} s" if channel.wait > 1 else ""
    return f"ohms{to}, power off{waits}"


def asked(following: Next) -> str:
    """The question for a point, with what stands there on a sound circuit."""
    channel = following.channel
    if channel.peak < TOUCH_V:
        return f"{channel.point}, {measured(following)}"
    peak = f"{channel.peak:.0f} V are there on a sound circuit, a fault can make it more"
    return f"{channel.point}, {measured(following)} ({peak})"


def switching(following: Next, last: str | None, *, live: bool = False) -> str:
    """What to do before this reading where the power is to be switched; else empty."""
    if following.channel.kind == OHM:
        return "" if last == OHM else POWER_OFF
    if last not in (OHM, None):
        return ""
    return POWER_ON + (POWER_ON_LIVE if live else "")


def unseen_text(account: Account) -> str:
    """Which suspects these readings are blind to."""
    sound = bool(account.leading) and account.leading[0].sound
    head = "cannot tell a sound circuit from" if sound else "would not show, should there be more"
    names = [s.key for s in account.unseen]
    shown = listed(names[:8]) if len(names) <= 8 else ", ".join(names[:8])
    more = f" and {len(names) - 8} more" if len(names) > 8 else ""
    return f"These readings {head}: {shown}{more}."
