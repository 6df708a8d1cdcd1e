"""Relays whose coils do not get what they are made for, or nothing at all."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from coldcheck.anatomy.energised import energised
from coldcheck.anatomy.neighbourhood import net_text, resistors_at
from coldcheck.anatomy.roads import wired_to
from coldcheck.anatomy.supplies import held_up
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes, listed, ohms, volts
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.ranges import BARELY, certainty
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.judge.use import most, over
from coldcheck.solve.relays import PULLS_IN, coil_share
from coldcheck.solve.solution import LOW, STANDBY, WARM
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Relay
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.solution import Solution

CLASS_1 = Citation("iec-61810-1", "operative range of class 1, 80 to 110 % of the rated voltage")
PULLS = Threshold("share of its volts at which a relay surely pulls in", PULLS_IN, "", CLASS_1)
SHUNTS_A = 0.5e-3
"""A diode that conducts carries more, one that blocks microamperes (common practice)."""

STANDS = Threshold("share of its volts that a relay's coil stands", 1.1, "", CLASS_1)


@rule(
    "supply.relay-not-as-drawn",
    title="Relay that is not at work as the drawing has it",
    level="notice",
    states="warm and low line",
    needs="the volts of the coil, both its leads wired, and a solved state",
    criterion=(
        f"The rms voltage across the coil is less than {PULLS.value:g} times its volts, and the "
        f"drawing does not say `released`; or it is that or more, and the drawing says so."
    ),
    why="A relay that does not pull in leaves its contacts where they rest: a supply that never "
    "comes, a bleeder that stays on, a mute that is never lifted. One that hovers burns them.",
    source=CLASS_1,
    limits="All relays are taken as class 1. Makers' own figures for pull-in are lower when the "
    "coil is cold. Between pull-in and release a relay stays as the drawing has it. Of a relay for "
    "AC on DC, or the other way, the rms counts alike.",
    thresholds=(PULLS,),
)
def relay_not_as_drawn(case: Case) -> Iterator[Outcome]:
    """Compare the voltage of each coil with what pulls it in."""
    reason = unsolved(case)
    for relay in case.circuit.relays.values():
        share = None if reason is not None else coil_share(relay, case.warm)
        if share is None:
            why = reason or f"the voltage across its coil has no number: {_rest(relay)}"
            yield relay_not_as_drawn.not_judged((relay.name,), why)
        elif relay.released:
            yield from _pulled(case, relay, share)
        else:
            yield from _not_pulled(case, relay)


def _rest(relay: Relay) -> str:
    return f"its contacts are taken as {'at rest' if relay.released else 'pulled in'} throughout"


def _pulled(case: Case, relay: Relay, share: float) -> Iterator[Finding]:
    if share * BARELY < PULLS.value:
        return
    got = share * _made_for(relay)
    closed = _before(case.circuit, relay, closed=True)
    others = dict.fromkeys(b.owner for b in closed)
    by = f" by way of {listed(b.name for b in closed)}, closed at work" if closed else ""
    yield relay_not_as_drawn.finding(
        case,
        (relay.name, *others, *(b.name for b in closed)),
        f"{relay.name} is drawn released at work, and its coil gets {volts(got)} of "
        f"{volts(_made_for(relay))}{by}: it pulls in",
        f"If {relay.name} is to be released at work, feed it from the contact of {listed(others)} "
        "that is open then; if not, leave the word released out"
        if closed
        else f"Find what feeds {relay.coil.name}; leave the word released out only if "
        f"{relay.name} is to be pulled in at work",
        state=WARM,
        evidence={"coil": figure(got, "V")},
        limit=figure(PULLS.value * _made_for(relay), "V"),
        certainty=certainty(share / PULLS.value),
        excess=share / PULLS.value,
    )


def _not_pulled(case: Case, relay: Relay) -> Iterator[Finding]:
    for solution in case.solved(WARM, LOW):
        share = coil_share(relay, solution)
        if share is None or share >= PULLS.value * BARELY:
            continue
        got, state = share * _made_for(relay), solution.state
        opened = _before(case.circuit, relay, closed=False)
        others = dict.fromkeys(b.owner for b in opened)
        yield relay_not_as_drawn.finding(
            case,
            (relay.name, *others, *(b.name for b in opened)),
            f"{relay.name} is drawn pulled in at work, and its coil gets {volts(got)} of "
            f"{volts(_made_for(relay))}: that is not sure to pull it in",
            f"{listed(others)} leaves {listed(b.name for b in opened)} open at work: feed "
            f"{relay.name} from the contact that is closed then"
            if opened
            else f"Use a coil for {volts(got)}, or feed it from where there is more",
            state=state.name,
            level=None if state.kind == WARM else "advice",
            evidence={"coil": figure(got, "V")},
            limit=figure(PULLS.value * _made_for(relay), "V"),
            certainty=certainty(PULLS.value / max(share, 1e-3)),
            excess=PULLS.value / max(share, 1e-3),
        )


def _before(circuit: Circuit, relay: Relay, *, closed: bool) -> tuple[Branch, ...]:
    """The contacts of other relays right before a coil that are closed, or open, as drawn."""
    nets = wired_to(circuit, relay.coil.a) | wired_to(circuit, relay.coil.b)
    near = {b.name: b for n in nets - set(LANDMARKS) for b in circuit.at(n)}
    return tuple(
        b for b in near.values()
        if b.owner in circuit.relays and b.owner != relay.name and b.traits.opens
        and b.closed is closed
    )  # fmt: skip


def _made_for(relay: Relay) -> float:
    return si(relay.volts, "volt") or 1.0


TRIES = Threshold("share of its volts a relay gets from what should pull it in", 0.1, "", PRACTICE)
RISES = Threshold("times what it gets at rest", 2.0, "", PRACTICE)


@rule(
    "supply.relay-never-pulls",
    title="Relay that what works it does not pull in",
    level="notice",
    states="every solved state, against warm",
    needs="a relay drawn released, the volts of its coil, and solved states",
    criterion=(
        f"In some state the coil gets more than {TRIES.value:g} times its volts, and more than "
        f"{RISES.value:g} times what it gets when warm, and in no state {PULLS.value:g} times."
    ),
    why="What is to work the relay, a switch, light or the tube in its lead, does raise its "
    "current, and not by enough: the contacts stay where they are.",
    source=(CLASS_1, PRACTICE),
    limits="One thing is changed at a time; a relay that takes two at once is not seen to pull in.",
    thresholds=(PULLS, RISES, TRIES),
)
def relay_never_pulls(case: Case) -> Iterator[Outcome]:
    """Look for the state in which each released relay gets most."""
    if unsolved(case) is not None:
        return
    for relay in (r for r in case.circuit.relays.values() if r.released):
        rest = coil_share(relay, case.warm)
        shares = [(share, s) for s in case.solutions.values() if s.converged
                  and (share := coil_share(relay, s)) is not None]  # fmt: skip
        best, solution = max(shares, key=lambda found: found[0], default=(0.0, case.warm))
        tried = rest is not None and best > max(TRIES.value, RISES.value * rest)
        if tried and best * BARELY < PULLS.value:
            yield _never(case, relay, best, solution)


def _never(case: Case, relay: Relay, share: float, solution: Solution) -> Finding:
    got, held = share * _made_for(relay), _cathodes_of(case.circuit, relay)
    by = f", with {listed(f'{b.name} ({ohms(v)})' for b, v in held)} below the tube" if held else ""
    return relay_never_pulls.finding(
        case,
        (relay.name, *(b.name for b, _ in held)),
        f"{relay.name} gets {volts(got)} of {volts(_made_for(relay))} at most, with "
        f"{solution.state.name}: it never pulls in{by}",
        f"Let more through {relay.coil.name}"
        + (f": a smaller {listed(b.name for b, _ in held)}" if held else ""),
        state=solution.state.name,
        evidence={"coil": figure(got, "V")},
        limit=figure(PULLS.value * _made_for(relay), "V"),
        certainty="likely",
        excess=PULLS.value / max(share, 1e-3),
        blame=Blame.SLIP if held else Blame.EFFECT,
    )


def _cathodes_of(circuit: Circuit, relay: Relay) -> list[tuple[Branch, float]]:
    """The cathode resistors of the tubes in a coil's lead, and their ohms."""
    nets = {relay.coil.a, relay.coil.b} - set(LANDMARKS)
    driving = (s for s in circuit.sections() if s.net("plate") in nets)
    at = (b for s in driving for n in s.cathode_nets for b in resistors_at(circuit, n))
    return [(b, value) for b in at if (value := b.ohms)]


@rule(
    "supply.relay-overload",
    title="Coil of a relay with more volts than it is made for",
    level="notice",
    states="warm and standby, nominal mains",
    needs="the volts of the coil, and a solved state",
    criterion=f"The rms voltage across the coil is more than {STANDS.value:g} times its volts.",
    why="A coil is wound for its heat: at half as much again it takes twice the watts, and the "
    "lacquer of its wire goes. What heats a relay that is late makes it early as well.",
    source=CLASS_1,
    limits="All relays are taken as class 1. Of a coil for AC on DC the rms counts alike, though "
    "it takes several times the current there.",
    thresholds=(STANDS,),
)
def relay_overload(case: Case) -> Iterator[Outcome]:
    """Compare the voltage of each coil with what it stands."""
    reason = unsolved(case)
    for relay in case.circuit.relays.values():
        if reason is not None:
            yield relay_overload.not_judged((relay.name,), reason)
            continue
        use, limit = most(case, (WARM, STANDBY), partial(_across, relay)), _made_for(relay)
        if use is not None and use.beyond(STANDS.value * limit):
            got = volts(use.figure.value)
            yield over(
                relay_overload, case, (relay.name,), use, STANDS.value * limit,
                (f"the coil of {relay.name} gets {got}; it is made for {volts(limit)}",
                 f"Use a coil for {got}, or put a resistor in series with it"),
            )  # fmt: skip


def _across(relay: Relay, solution: Solution) -> Figure | None:
    share = coil_share(relay, solution)
    return None if share is None else figure(share * _made_for(relay), "V")


@rule(
    "supply.relay-behind-itself",
    title="Relay whose coil is fed from behind its own contact",
    level="notice",
    blame=Blame.WIRING,
    states="the drawing alone",
    needs="a coil with both its leads wired, and a make contact of the same relay",
    criterion="With the make contacts of a relay open, no position of the switches and no other "
    "relay closes a loop through its coil and a supply; with them closed there is one.",
    why="At rest the contact is open and the coil on its dead side: no current comes to close it, "
    "and what hangs on that contact stays off for good. A relay that holds itself needs a push "
    "button, or another contact, across its own to begin with.",
    source=PRACTICE,
    limits="Whatever is across the contact counts as a way, a neon lamp or a capacitor that "
    "quenches sparks too, though neither pulls a relay in. Two relays that wait for one another "
    "are not seen. A jack is taken to bring current.",
)
def relay_behind_itself(case: Case) -> Iterator[Outcome]:
    """Look for a way to each coil that does not lead through its own contacts."""
    for relay in case.circuit.relays.values():
        makes = [c for c in relay.contacts if not _closed_at_rest(relay, c)]
        names = frozenset(c.name for c in makes)
        coil, ever = relay.coil.name, energised(case.circuit, ())
        if coil not in ever or coil in energised(case.circuit, names):
            continue
        holds = [c for c in makes if coil in energised(case.circuit, names - {c.name})]
        yield _behind(case, relay, (holds or makes)[0])


def _closed_at_rest(relay: Relay, contact: Branch) -> bool:
    return contact.closed_with(frozenset() if relay.released else frozenset({relay.name}))


def _behind(case: Case, relay: Relay, contact: Branch) -> Finding:
    lead = _lead_on(case.circuit, relay, contact)
    far = net_text(case.circuit, contact.other(case.circuit.points[lead])) if lead else ""
    where = f"Join {lead} to {far}" if lead else "Feed the coil from a point"
    return relay_behind_itself.finding(
        case,
        (relay.name, contact.name, *([lead] if lead else [])),
        f"the coil of {relay.name} is fed from behind its own contact {contact.name} and by no "
        "other way: it gets nothing until the relay has pulled in, and so it never does",
        f"{where}, ahead of the contact, or put a push button across the contact",
        certainty="certain",
    )


def _lead_on(circuit: Circuit, relay: Relay, contact: Branch) -> str | None:
    """The lead of the coil that is on its contact, if one is."""
    leads = (f"{relay.name}.coil.1", f"{relay.name}.coil.2")
    return next((n for n in leads if circuit.points.get(n) in (contact.a, contact.b)), None)


@rule(
    "supply.coil-diode-turned",
    title="Diode across a relay's coil the wrong way round",
    level="notice",
    blame=Blame.SLIP,
    states="every solved state",
    needs="a diode right across a coil for DC, and a solved state",
    criterion="A diode lies across a relay's coil for DC, and its anode is on what holds a supply; "
    f"or it carries more than {1e3 * SHUNTS_A:g} mA in a solved state, on the mean.",
    why="The diode takes up what the coil gives when its current is cut off. The wrong way round "
    "it takes the supply's current in place of the coil: the relay never pulls in, and what "
    "switches it, or the diode, burns.",
    source=PRACTICE,
    limits="A diode behind a resistor of its own is not looked at.",
)
def coil_diode_turned(case: Case) -> Iterator[Outcome]:
    """Look at the diodes on both leads of each coil."""
    for relay in case.circuit.relays.values():
        coil = relay.coil
        across = (b for b in case.circuit.at(coil.a) if b.other(coil.a) == coil.b)
        for diode in (b for b in across if b.kind in (PartKind.DIODE, PartKind.LED)):
            most = max((_mean(s, diode) for s in case.solved()), default=0.0)
            on_plus = held_up(case.circuit, diode.a) and not held_up(case.circuit, diode.b)
            if (most > SHUNTS_A or (on_plus and diode.a not in LANDMARKS)) and not relay.ac:
                yield coil_diode_turned.finding(
                    case,
                    (diode.name, relay.name),
                    f"{diode.name} "
                    + (f"carries {amperes(most)}" if most > SHUNTS_A else "conducts")
                    + f" past the coil of {relay.name}, where the coil is to work",
                    f"Turn {diode.name} round: its cathode at the end of the coil that is on +",
                    evidence={"past_the_coil": figure(most, "A")},
                    certainty="certain",
                    excess=max(most / SHUNTS_A, 1.0),
                )


def _mean(solution: Solution, branch: Branch) -> float:
    amps = solution.current(branch.name)
    return 0.0 if amps is None else amps.dc


RULES: tuple[Rule, ...] = (
    relay_not_as_drawn,
    relay_never_pulls,
    relay_overload,
    relay_behind_itself,
    coil_diode_turned,
)
