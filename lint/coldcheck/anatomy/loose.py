"""What hangs on the points of a drawing: the wires that end nowhere."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.reach import reach
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import Chain, Expect, JackLine

if TYPE_CHECKING:
    from coldcheck.circuit.model import Circuit


def wired_points(circuit: Circuit) -> dict[str, str]:
    """Net -> the first name the wiring statements give it."""
    found: dict[str, str] = {}
    for statement in circuit.drawing.statements:
        points = statement.points if isinstance(statement, Chain) else ()
        for point in points:
            if point is not None and point.text in circuit.points:
                found.setdefault(circuit.points[point.text], point.text)
    return found


def attachments(circuit: Circuit, net: str) -> list[str]:
    """What is on a net: branch ends, electrodes, and the marks that stand for the outside."""
    found = [n for b in circuit.at(net) for n in [b.name] * ((b.a == net) + (b.b == net))]
    found += [f"{s.name}.{e}" for s, e in circuit.electrodes_at(net)]
    found += [m for m in LANDMARKS if circuit.points.get(m) == net]
    for statement in circuit.drawing.statements:
        if isinstance(statement, JackLine):
            leads = (f"{statement.name}.{x}" for x in ("tip", "sleeve", "ring"))
            found += [lead for lead in leads if circuit.points.get(lead) == net]
        elif isinstance(statement, Expect) and _measurable(circuit, net):
            found += ["expect"] * (circuit.points.get(statement.point.text) == net)
    return found


def _measurable(circuit: Circuit, net: str) -> bool:
    """Whether more than one capacitor is on a net; what hangs on that alone has no voltage."""
    at = circuit.at(net)
    return len(at) != 1 or at[0].kind is not PartKind.CAPACITOR or bool(circuit.electrodes_at(net))


def in_the_air(circuit: Circuit, key: str) -> bool:
    """Whether nothing is wired to a lead; the windings it belongs to end there anyway."""
    net = circuit.points.get(key)
    if net is None or len(circuit.names.get(net, ())) > 1 or len(circuit.electrodes_at(net)) > 1:
        return False
    owner = key.partition(".")[0]
    return all(b.owner.partition(".")[0] == owner for b in circuit.at(net))


def free_end(circuit: Circuit, net: str) -> str | None:
    """The centre tap or the end of a pot without a wire, of those that feed a net."""
    near = set(reach(circuit, [net]))
    taps = [f"{c.name}.ct" for c in circuit.coils() if set(c.nets) & near]
    pots = {b.owner for n in near for b in circuit.at(n) if b.kind is PartKind.POT}
    taps += [f"{pot}.{end}" for pot in sorted(pots) for end in ("bottom", "top")]
    free = [tap for tap in taps if in_the_air(circuit, tap)]
    return free[0] if len(free) == 1 or (free and free[0].endswith(".ct")) else None
