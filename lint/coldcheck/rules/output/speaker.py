"""Speakers against the watts written on them, and what feeds them through a capacitor."""

from __future__ import annotations

import math
from itertools import combinations
from typing import TYPE_CHECKING

from coldcheck.anatomy.coupling import coupled, givers, still_nets
from coldcheck.anatomy.neighbourhood import own_text
from coldcheck.circuit.preferred import preferred_above
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering, si
from coldcheck.drawing.wording import listed, ohms, watts
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.judge.use import Use, over
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.signal.results import Driven

CUT_HZ = Threshold("corner above which a speaker has no bass", 150.0, "Hz", PRACTICE)
PLUGS = (PartKind.JACK, PartKind.JACK_CONTACT)
LOW_HZ = 30.0
"""What a capacitor to a speaker is made for (common practice); it only words the remedy."""

FULL = Threshold("share of its rated watts a speaker may get", 1.25, "", PRACTICE)


@rule(
    "output.speaker-overload",
    title="Speaker with more watts than it stands",
    level="notice",
    states="warm, at the stated signal",
    needs="the watts and ohms written on the speaker; a `signal` for what the amplifier gives",
    criterion="DC and hum in the speaker, and what the stated signal makes of it with every stage "
    f"followed to where it first clips, come to more than {FULL.value:g} times the watts written.",
    why="A voice coil is wire on paper: beyond its watts the glue lets go, and DC holds it at one "
    "end of its travel besides.",
    source=Citation("drawing", "the rating written"),
    limits="Overdriven, a stage gives up to twice as much. A signal that is not stated is not "
    "reckoned, so a drawing without a `signal` is judged "
    "for DC and hum alone. Music has a fraction of a sine's power.",
    thresholds=(FULL,),
)
def speaker_overload(case: Case) -> Iterator[Outcome]:
    """Add up what each rated speaker gets."""
    reason = unsolved(case)
    for speaker in (b for b in case.circuit.branches.values() if b.kind is PartKind.SPEAKER):
        limit = si(speaker.part.power, "watt") if speaker.part else None
        ohm = speaker.ohms
        if not limit or not ohm:
            continue
        if reason is not None:
            yield speaker_overload.not_judged((speaker.name,), reason)
            continue
        power = speaker_watts(case, speaker, ohm)
        use = Use(figure(power, "W"), "warm")
        if use.beyond(FULL.value * limit):
            yield over(
                speaker_overload, case, (speaker.name,), use, FULL.value * limit,
                (f"{speaker.name} gets {watts(power)}; it is made for {watts(limit)}",
                 f"Use one made for {watts(1.25 * power)} or more, or a smaller output stage"),
            )  # fmt: skip


def speaker_watts(case: Case, speaker: Branch, ohm: float) -> float:
    """At rest, and what the stated signals make of it."""
    return _at_rest(case, speaker, ohm) + _driven(case, speaker)


def _at_rest(case: Case, speaker: Branch, ohm: float) -> float:
    warm = case.solutions.get("warm")
    wave = warm.between(speaker.a, speaker.b) if warm is not None and warm.converged else None
    return 0.0 if wave is None else wave.rms**2 / ohm


def _driven(case: Case, speaker: Branch) -> float:
    """What the stated signals make of it, watts, all sources together."""
    signal = case.signal
    if signal is None or not signal.solved:
        return 0.0
    return sum(_of(driven, speaker) for driven in signal.sources.values())


def _of(driven: Driven, speaker: Branch) -> float:
    found = next((o for o in driven.outputs if o.name == speaker.name), None)
    if found is None or found.watts is None:
        return 0.0
    stated = max((s.source_peak for s in driven.stages), default=0.0)
    ends = [s.limits[0].source_peak for s in driven.stages if s.limits]
    share = min([1.0, *(end / stated for end in ends)]) if stated else 1.0
    return found.watts * share**2


@rule(
    "output.bass-cut",
    title="Capacitor to a speaker or phones that leaves no bass",
    level="notice",
    states="the drawing alone",
    needs="the ohms of the speaker and the value of the capacitor",
    criterion=(
        "All that leads to a speaker or phones is a capacitor, and with the load's ohms it cuts "
        f"off above {CUT_HZ.value:g} Hz."
    ),
    why=(
        "A capacitor and a load make a filter: f = 1 / (2 pi R C). What couples grids, a tenth of "
        "a microfarad into a megohm, leaves a speaker of some hundred ohms with treble alone."
    ),
    source=(Citation("arithmetic", "1 / (2 pi R C)"), PRACTICE),
    limits="The resistance of the source in series is left out, as are other parts on the way. "
    "A tweeter with its capacitor looks the same: accept it with that reason.",
    thresholds=(CUT_HZ,),
)
def bass_cut(case: Case) -> Iterator[Outcome]:
    """Look at what leads to each speaker."""
    for speaker in (b for b in case.circuit.branches.values() if b.kind is PartKind.SPEAKER):
        ohm = speaker.ohms
        feed = _only_capacitor(case, speaker)
        farads = None if feed is None else feed.farads
        if feed is None or not farads or not ohm:
            continue
        hertz = 1 / (2 * math.pi * farads * ohm)
        if hertz > CUT_HZ.value:
            yield _cut(case, speaker, feed, hertz, ohm)


def _only_capacitor(case: Case, speaker: Branch) -> Branch | None:
    """The one capacitor that leads to a speaker, beside resistors to what holds still."""
    still = still_nets(case.circuit)
    for net in {speaker.a, speaker.b} - still:
        at = [b for b in case.circuit.at(net) if b is not speaker and b.kind not in PLUGS]
        held = [b for b in at if b.kind is PartKind.CAPACITOR and b.other(net) not in still]
        rest = [b for b in at if b not in held]
        loads = all(b.kind is PartKind.RESISTOR and b.other(net) in still for b in rest)
        if len(held) == 1 and loads and not case.circuit.electrodes_at(net):
            return held[0]
    return None


def _cut(case: Case, speaker: Branch, feed: Branch, hertz: float, ohm: float) -> Outcome:
    wanted = 1 / (2 * math.pi * LOW_HZ * ohm)
    return bass_cut.finding(
        case,
        (feed.name, speaker.name),
        f"{feed.name} ({engineering(si(feed.value, 'farad') or 0.0, 'F')}) into {ohms(ohm)} of "
        f"{speaker.name} lets through what is above {engineering(hertz, 'Hz')}",
        f"Use {engineering(preferred_above(wanted), 'F')} or more for {LOW_HZ:g} Hz",
        evidence={"corner": figure(hertz, "Hz")},
        limit=CUT_HZ.figure,
        certainty="certain",
        excess=hertz / CUT_HZ.value,
    )


@rule(
    "output.speaker-undriven",
    title="Speaker or phone that nothing drives",
    level="notice",
    blame=Blame.WIRING,
    states="the drawing alone",
    needs="two speakers or phones",
    criterion="No tube, transformer or `signal` gives anything to a speaker or phone, by whatever "
    "parts, while another one is driven.",
    why="The lead that was to bring it ends one strip short, or on the other channel's point. One "
    "side is silent; where two secondaries then lie in parallel, each output tube also works into "
    "the other's transformer.",
    source=PRACTICE,
    limits="A switch counts as drawn: a speaker behind an open contact is left alone.",
)
def speaker_undriven(case: Case) -> Iterator[Outcome]:
    """Look for what gives each speaker its signal."""
    circuit = case.circuit
    speakers = [b for b in circuit.branches.values() if b.kind is PartKind.SPEAKER]
    silent = [b for b in speakers if not _given(circuit, b)]
    if len(silent) == len(speakers):
        return
    for speaker in silent:
        if not _switched(circuit, speaker):
            yield _undriven(case, speaker, _joined(circuit))


def _given(circuit: Circuit, speaker: Branch) -> bool:
    """Whether something brings a signal to either end of a speaker."""
    still = still_nets(circuit)
    nets = coupled(circuit, [speaker.a, speaker.b], still, without=(speaker.owner,))
    near = (b for n in nets for b in circuit.at(n) if b.owner != speaker.owner)
    return any(e != "tip" for _, e in givers(circuit, nets)) or any(map(_brings, near))


def _brings(branch: Branch) -> bool:
    """What may bring a speaker its signal besides tubes and transformers: another in series."""
    own = branch.kind in (PartKind.SPEAKER, PartKind.CHANNEL)
    return own or branch.traits.coil or branch.traits.supplies


def _switched(circuit: Circuit, speaker: Branch) -> bool:
    """Whether a contact that is open as drawn leads to a speaker."""
    nets = coupled(circuit, [speaker.a, speaker.b], still_nets(circuit), without=(speaker.owner,))
    return any(not b.closed for n in (*nets, speaker.a, speaker.b) for b in circuit.at(n))


def _joined(circuit: Circuit) -> tuple[str, ...]:
    """The live leads of the secondaries of two output transformers that are one point."""
    still = still_nets(circuit)
    leads = [(o.name, lead, net) for o in circuit.outputs.values()
             for lead, net, _ in o.secondary_leads if net not in still]  # fmt: skip
    pairs = ((a, b) for a, b in combinations(leads, 2) if a[0] != b[0] and a[2] == b[2])
    return next((tuple(f"{o}.{lead}" for o, lead, _ in p) for p in pairs), ())


def _undriven(case: Case, speaker: Branch, joined: tuple[str, ...]) -> Finding:
    circuit, name = case.circuit, speaker.name
    end = next((n for n in (speaker.a, speaker.b) if n not in still_nets(circuit)), speaker.a)
    point = own_text(circuit, end)
    together = f"; {listed(joined)} are one point" if joined else ""
    leads = f"the one of {listed(joined)} that is of its channel" if joined else "what drives it"
    return speaker_undriven.finding(
        case,
        (name, *joined, point),
        f"nothing gives {name} a signal: neither a tube nor a transformer is coupled to "
        f"{point}{together}",
        f"Take {leads} to {point}",
        evidence={"point": point},
        certainty="certain",
    )


RULES: tuple[Rule, ...] = (speaker_overload, speaker_undriven, bass_cut)
