"""What makes a finding the same finding after an edit, and another one after another.

A fingerprint does not know lines, columns, values, states, the file's name or the order of the
statements. It knows the rule, and of each place of the finding what stands there: the type of a
tube and, for its heater, the winding; the kind of a part and the points it is on. So it stays
when something unrelated is added, moved or renamed, and changes with another tube in the socket,
another kind of part under the name, or the part on another point. Where one slip explains several
findings it knows those as well: a ledger that knows the slip does not know what it brings later.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import partial
from hashlib import sha256
from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import is_own
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.judge.finding import CHANGE, EXPLAINS, QUANTITY
from coldcheck.verdict.shapes import shapes_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from coldcheck.circuit.model import Branch, Circuit, Tube
    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.shapes import Shapes


def marked(circuit: Circuit | None, findings: Iterable[Finding]) -> list[Finding]:
    """The findings with their fingerprints on.

    Where two of them would have the same (two leads of one point), they are numbered.
    """
    shapes = None if circuit is None else shapes_of(circuit)
    found = [
        replace(f, fingerprint=fingerprint(circuit, f), shape=_shape(shapes, f)) for f in findings
    ]
    seen: Counter[str] = Counter()
    for place in sorted(range(len(found)), key=lambda i: (found[i].at, found[i].span)):
        mark = found[place].fingerprint
        if seen[mark]:
            again = _hashed([mark, str(seen[mark])])
            found[place] = replace(found[place], fingerprint=again)
        seen[mark] += 1
    return found


def fingerprint(circuit: Circuit | None, finding: Finding) -> str:
    """16 hex digits for a finding of a circuit."""
    return _made(finding, partial(_place, circuit))


def _shape(shapes: Shapes | None, finding: Finding) -> str:
    """16 hex digits that no name is part of, but where a place has no other shape."""
    return _made(finding, lambda place, _: place if shapes is None else shapes.of(place))


def _made(finding: Finding, place_of: Callable[[str, str], str]) -> str:
    """The hash of a finding; ``place_of`` tells what stands at a place, for a family of rules."""
    family = finding.family
    told = sorted(place_of(place, family) for place in finding.at)
    if not finding.at and "found" in finding.evidence:
        told.append(str(finding.evidence["found"]))
    if QUANTITY in finding.evidence:
        told.append(str(finding.evidence[QUANTITY]))
    if CHANGE in finding.evidence:  # a slip that comes to explain more is not what was known
        told.extend(sorted(_explained(place_of, str(finding.evidence.get(EXPLAINS, "")))))
    return _hashed([finding.rule, *told])


def _explained(place_of: Callable[[str, str], str], explains: str) -> Iterator[str]:
    """What a slip explains, each with what stands at its places."""
    for entry in filter(None, explains.split("; ")):
        rule, _, places = entry.partition(" at ")
        family = rule.partition(".")[0]
        stands = sorted(place_of(place, family) for place in places.split(", "))
        yield " ".join((rule, *stands))


def _hashed(lines: Iterable[str]) -> str:
    return sha256("\n".join(lines).encode("utf-8", "backslashreplace")).hexdigest()[:16]


def _place(circuit: Circuit | None, place: str, family: str) -> str:
    """What stands at a place, in a text that is the same however the drawing is ordered."""
    if circuit is None:
        return f"{place}="
    branch = circuit.branches.get(place)
    if branch is not None:
        return f"{place}={branch.kind.value} {_ends(circuit, branch)}"
    tube = _tube(circuit, place)
    if tube is not None:
        fed = _heater(circuit, tube) if family == "heater" else ""
        return f"{place}={tube.type.name}{fed}"
    net = circuit.points.get(place)
    known = place if net is None else label(circuit, net)
    tube = _tube(circuit, known.partition(".")[0])
    return f"{known}={'' if tube is None else tube.type.name}"


def _tube(circuit: Circuit, owner: str) -> Tube | None:
    """The tube of that name, or with a section of that name."""
    if owner in circuit.tubes:
        return circuit.tubes[owner]
    return next((circuit.tubes[s.tube] for s in circuit.sections() if s.name == owner), None)


def _heater(circuit: Circuit, tube: Tube) -> str:
    """What a heater hangs on: the winding it is declared on, else the points."""
    if tube.heater is None:
        return ""
    if tube.heater.winding is not None:
        return f" {tube.heater.winding}"
    return " " + " ".join(sorted(label(circuit, net) for net in tube.heater.nets))


def _ends(circuit: Circuit, branch: Branch) -> str:
    """The points a part is on; in order where it has a direction."""
    nets = (branch.a, branch.b) if branch.plus != branch.b else (branch.b, branch.a)
    ends = [label(circuit, net) for net in nets]
    directed = branch.traits.one_way or branch.kind is PartKind.SOURCE or branch.plus is not None
    return " ".join(ends if directed else sorted(ends))


def label(circuit: Circuit, net: str) -> str:
    """A name of a net that does not depend on the order of the drawing.

    A landmark, else a name the drawing gives it, else the first of its leads by the alphabet; a
    point without a name is known by the parts beside it and what they lead to.
    """
    keys = circuit.names.get(net, ())
    landmarks = [key for key in keys if key in LANDMARKS]
    own = sorted((k for k in keys if is_own(k)), key=_outer)
    if landmarks or own or keys:
        return min(landmarks) if landmarks else own[0] if own else min(keys, key=_outer)
    return f"({', '.join(sorted(_beside(circuit, net)))})"


def _beside(circuit: Circuit, net: str) -> Iterator[str]:
    for branch in circuit.at(net):
        far = branch.other(net)
        end = label(circuit, far) if circuit.names.get(far) else "no name"
        yield f"{branch.kind.value} to {end}"


def _outer(key: str) -> tuple[int, str]:
    """The drawing's own names before those of its sheets."""
    return key.count("/"), key
