"""Leads in the air of things that need every lead: coils, and switches turned through there."""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_never

from coldcheck.anatomy.coupling import still_nets
from coldcheck.anatomy.jacks import jacks
from coldcheck.anatomy.loose import attachments, in_the_air, wired_points
from coldcheck.anatomy.neighbourhood import is_own
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import SwitchLine
from coldcheck.drawing.wording import listed
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule

TAPPED = 3
"""Leads of a coil with a tap in its middle."""

THROWS = 4
"""Positions from which one left open between others is a slip: off is at an end of the travel."""


@rule(
    "drawing.coil-end-open",
    title="Coil or winding with one end wired",
    level="notice",
    states="the drawing alone",
    needs="the wiring",
    criterion="Of a winding (not the primary) or of a coil of a can only one lead is wired; of "
    "the winding not its tap, of the coil not one on a point that holds still. Or of a coil with "
    "a tap in the middle the tap and one end are wired, and the other end is not.",
    why="No current gets through a coil that ends in the air. A tuned circuit does not tune, "
    "a winding gives nothing, what hangs on the one lead floats.",
    source=PRACTICE,
    limits="A coil with two other leads wired is taken for used in part. One without any is left "
    "over. A coil whose cold end alone is wired takes an aerial, or a stage that is not drawn. "
    "Primaries are mains.no-return, output transformers tube.no-plate-supply and "
    "output.open-secondary.",
)
def coil_end_open(case: Case) -> Iterator[Outcome]:
    """Look at the leads of everything wound."""
    for name, leads, may in _wound(case.circuit):
        used = [x for x in leads if not in_the_air(case.circuit, f"{name}.{x}")]
        halved = (
            len(leads) == TAPPED and len(used) == TAPPED - 1 and "ct" in used and "ct" not in may
        )
        if (len(used) == 1 and used[0] not in may) or halved:
            free = [f"{name}.{x}" for x in leads if x not in used]
            yield coil_end_open.finding(
                case,
                (name, *free),
                f"{name}: only {listed(f'{name}.{x}' for x in used)} {'are' if halved else 'is'} "
                f"wired, nothing is at {listed(free)}: "
                + ("one half does nothing" if halved else "no current gets through"),
                f"Wire {listed(free)} to where the other end belongs",
                evidence={"wired": listed(f"{name}.{x}" for x in used)},
                certainty="certain",
            )


def _wound(circuit: Circuit) -> Iterator[tuple[str, list[str], list[str]]]:
    """Secondaries and coils with their leads, and those that may be the only one wired."""
    for winding in (w for w in circuit.windings() if not w.primary):
        yield winding.name, [lead for lead, _ in winding.leads], ["ct"]
    still = still_nets(circuit)
    for coil in circuit.coils():
        yield coil.name, [x for x, _ in coil.leads], [x for x, net in coil.leads if net in still]


@rule(
    "drawing.throw-open",
    title="Switch with one position between others left open",
    level="notice",
    states="the drawing alone",
    needs="the wiring",
    criterion=f"Of a pole of {THROWS} positions or more exactly one is wired to nothing, "
    "and it is neither the first nor the last.",
    why="Turned there, the switch leaves what hangs on its common in the air. An off position is "
    "at an end of the travel; between others a wire was forgotten.",
    source=PRACTICE,
    limits="Two open positions or more are taken for unused.",
)
def throw_open(case: Case) -> Iterator[Outcome]:
    """Look at the throws of each pole."""
    circuit = case.circuit
    lines = [s for s in circuit.drawing.statements if isinstance(s, SwitchLine)]
    for line in (s for s in lines if s.throws >= THROWS):
        for pole in line.poles:
            keys = [f"{line.name}.{pole}{n}" for n in range(1, line.throws + 1)]
            free = [k for k in keys if in_the_air(circuit, k)]
            if len(free) == 1 and free[0] in keys[1:-1]:
                spare = _unused(circuit)
                to = f"{spare[0]}, which nothing else uses" if spare else "what belongs there"
                yield throw_open.finding(
                    case,
                    (line.name, free[0], *spare),
                    f"{line.name}: nothing is at {free[0]}, a position between others",
                    f"Wire {free[0]} to {to}",
                    evidence={"open": free[0]},
                    certainty="certain",
                )


def _unused(circuit: Circuit) -> tuple[str, ...]:
    """The point between two parts that the drawing names and nothing takes, if it is the one."""
    found = [
        name
        for net, name in wired_points(circuit).items()
        if "." not in name and net not in LANDMARKS and len(attachments(circuit, net)) == 2
    ]
    return tuple(found) if len(found) == 1 else ()


@rule(
    "drawing.dead-end",
    title="Parts that lead nowhere",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the wiring",
    criterion="A part, or several one after the other, ends at a lead to which nothing else is "
    "wired: no current, direct or alternating, gets through. Of a control both ends and the wiper "
    "are one part.",
    why="The last wire was forgotten: the resistor of a network, the foot of a control. What it "
    "was to hold, load or time is as if it were not there, and every other figure is right.",
    source=PRACTICE,
    limits="Ends that the drawing gives a name of their own are drawing.single-connection. Open "
    "contacts, coils, windings and heaters are judged by others.",
)
def dead_end(case: Case) -> Iterator[Outcome]:
    """Take away what hangs on one end only, until nothing does."""
    circuit, held = case.circuit, _held(case.circuit)
    left = {n: b for n, b in circuit.branches.items() if b.a != b.b}
    gone: list[Branch] = []
    while leaves := [b for b in left.values() if _hangs(circuit, left, b, held)]:
        gone += leaves
        left = {n: b for n, b in left.items() if b not in leaves}
    kept = {b.owner for b in left.values()}
    touching = {b.owner for b in gone for n in (b.a, b.b) if _beside(circuit, n, b.owner)}
    parts = [b for b in gone if b.owner in touching - kept and _carries(b.kind)]
    if parts:
        names, ends = tuple(dict.fromkeys(b.owner for b in parts)), _bare(circuit, gone)
        free = listed(ends)
        yield dead_end.finding(
            case,
            (*names, *ends),
            f"{listed(names)} {'lead' if len(names) > 1 else 'leads'} nowhere: nothing else is "
            f"wired to {free}",
            f"Wire {free} to where it belongs",
            evidence={"free": free},
            certainty="certain",
        )


def _beside(circuit: Circuit, net: str, owner: str) -> bool:
    """Whether something else is on a net; what has nothing on any lead is only declared."""
    at = circuit.at(net)
    return net in LANDMARKS or bool(circuit.electrodes_at(net)) or any(b.owner != owner for b in at)


def _held(circuit: Circuit) -> frozenset[str]:
    """The nets that something stands for besides parts: electrodes, jacks, plugs, own names."""
    named = {n for n, names in circuit.names.items() if any(map(is_own, names))}
    electrodes = {n for s in circuit.sections() for n in s.electrodes.values()}
    leads = {n for j in jacks(circuit) for n in (j.tip, j.ring, j.sleeve, j.switch) if n}
    plugs = (b for b in circuit.branches.values() if b.kind is PartKind.PLUG)
    ways = {n for b in plugs for n in (b.a, b.b)}
    return frozenset({*LANDMARKS, *named, *electrodes, *leads, *ways})


def _hangs(
    circuit: Circuit, left: Mapping[str, Branch], branch: Branch, held: Collection[str]
) -> bool:
    """Whether a branch is the last one left on a net that nothing else stands for."""
    ends = {branch.a, branch.b} - set(held)
    return any(sum(b.name in left for b in circuit.at(n)) == 1 for n in ends)


def _bare(circuit: Circuit, gone: Collection[Branch]) -> list[str]:
    """The leads where parts that hang in the air end, or else what they are on ends."""
    parts = [b for b in gone if _carries(b.kind)]
    return _ends_of(circuit, parts) or _ends_of(circuit, gone)


def _ends_of(circuit: Circuit, branches: Collection[Branch]) -> list[str]:
    """The leads of some branches that have nothing else on them."""
    nets = [n for b in branches for n in (b.a, b.b)]
    ends = [n for n in dict.fromkeys(nets) if len([b for b in circuit.at(n) if b.a != b.b]) == 1]
    return [circuit.names[n][0] for n in ends if circuit.names.get(n)]


def _carries(kind: PartKind) -> bool:
    """Whether a part is one that the rule is about: no contact, winding or heater."""
    match kind:
        case PartKind.RESISTOR | PartKind.POT | PartKind.CAPACITOR | PartKind.DIODE:
            return True
        case PartKind.ZENER | PartKind.LED | PartKind.THERMISTOR | PartKind.PHOTOCELL:
            return True
        case PartKind.LAMP | PartKind.SPEAKER | PartKind.FUSE | PartKind.BARRETTER:
            return True
        case PartKind.RELAY | PartKind.METER | PartKind.ARRESTER | PartKind.CRYSTAL:
            return True
        case (
            PartKind.INDUCTOR | PartKind.SWITCH | PartKind.CONTACT | PartKind.JACK
            | PartKind.JACK_CONTACT | PartKind.SOURCE | PartKind.HEATER | PartKind.WINDING
            | PartKind.SIGNAL | PartKind.CHANNEL | PartKind.GATE | PartKind.BASE
            | PartKind.THYRISTOR | PartKind.TRIGGER | PartKind.VIBRATOR | PartKind.PLUG
        ):  # fmt: skip
            return False
        case _:
            assert_never(kind)


RULES: tuple[Rule, ...] = (coil_end_open, throw_open, dead_end)
