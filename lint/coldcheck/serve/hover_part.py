"""What an editor shows of a part: its value, what is across and through it, and its margin."""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_never

from coldcheck.compare.specs import block_specs, branch_spec, shown
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering, si
from coldcheck.report.shared.markdown import escaped
from coldcheck.rules.capacitor.over_voltage import line_factor
from coldcheck.rules.resistor.ratings import LASTING, dissipation
from coldcheck.serve import told

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from coldcheck.circuit.model import Branch, Circuit, Winding
    from coldcheck.drawing.units import Quantity
    from coldcheck.solve.solution import Solution
    from coldcheck.verdict.review import Review


def part(review: Review, circuit: Circuit, name: str) -> str:
    """The page of a part that has branches of its own: a two-lead part, a pot, a switch."""
    branches = [b for b in circuit.branches.values() if name in (b.owner, *_box(circuit, b))]
    title = _title(circuit, name, branches)
    blocks = [_branch(review, circuit, b, alone=len(branches) == 1) for b in branches]
    return told.page(
        f"**{escaped(name)}** {escaped(title)}",
        *blocks,
        "\n".join(told.findings_at(review, lambda at: at == name or at.startswith(f"{name}."))),
    )


def _box(circuit: Circuit, branch: Branch) -> tuple[str, ...]:
    """The part in whose case it is, where there are several in one."""
    case = branch.owner.rpartition(".")[0]
    boxes = (circuit.couplers, circuit.thyristors, circuit.vibrators)
    return (case,) if any(case in known for known in boxes) else ()


def _title(circuit: Circuit, name: str, branches: list[Branch]) -> str:
    if name in circuit.transistors:
        kind = circuit.transistors[name].type
        return f"{kind.name}: {kind.family.value}, {kind.case}"
    boxes = {
        "optocoupler": circuit.couplers, "thyristor or triac": circuit.thyristors,
        "vibrator": circuit.vibrators,
    }  # fmt: skip
    for word, known in boxes.items():
        if name in known:
            return word
    if name in circuit.plugs:
        return f"plug; {circuit.plugs[name]} is a state of its own"
    if name in circuit.bridges:
        return dict(block_specs(circuit))[name]
    return _pot(branches) if branches[0].kind is PartKind.POT else _spec(branches[0])


def _spec(branch: Branch) -> str:
    """Kind and value; that a value is not given is said."""
    text = branch_spec(branch)
    unknown = branch.part is not None and "value" in branch.part.unknown
    return f"{text}, value not known" if unknown else text


def _pot(track: list[Branch]) -> str:
    """The whole track and where the wiper is on it; ``track`` has its parts from the top down."""
    ohms = [b.ohms for b in track]
    known = [o for o in ohms if o is not None]
    if len(known) < len(ohms) or not sum(known):
        return "pot, value not known"
    wiper = next(n for n, b in enumerate(track) if b.name.startswith(f"{b.owner}.wiper-"))
    return f"pot {engineering(sum(known), 'ohm')} at {100 * sum(known[wiper:]) / sum(known):.0f} %"


def _branch(review: Review, circuit: Circuit, branch: Branch, *, alone: bool) -> str:
    warm = told.warm_of(review)
    label = "" if alone else f"{escaped(branch.name)}: "
    if warm is None:
        return told.why_no_warm(review)
    lines = [label + _standing(circuit, warm, branch)]
    judge = _judge(branch.kind)
    if judge is not None:
        lines += judge(review, branch)
    return "  \n".join(line for line in lines if line)


def _standing(circuit: Circuit, warm: Solution, branch: Branch) -> str:
    """Voltage across and current through it, warm."""
    wave, current = warm.between(branch.a, branch.b), warm.current(branch.name)
    ends = f"{_end(circuit, branch.a)} to {_end(circuit, branch.b)}"
    if wave is None:
        return f"Warm: no voltage can be given across it, {ends}."
    flowing = "" if current is None else f", {told.through(current)} through it"
    return f"Warm: {told.across(wave)} across it ({ends}){flowing}."


def _end(circuit: Circuit, net: str) -> str:
    names = circuit.names.get(net, (net,))
    return escaped(net if net in names else names[0])


def _resistor(review: Review, branch: Branch) -> Iterator[str]:
    """The power in the worst of the states that last."""
    worst: tuple[float, str] | None = None
    for solution in review.solutions.values():
        if solution.converged and solution.state.kind in LASTING:
            power = dissipation(solution, branch)
            if power is not None and (worst is None or power > worst[0]):
                worst = (power, solution.state.name)
    if worst is not None:
        rated = si(branch.part.power if branch.part else None, "watt")
        shown_ = told.of_rating(worst[0], rated, "W", "rated power")
        yield f"Power at most {shown_} ({_in(worst[1])})."


def _capacitor(review: Review, branch: Branch) -> Iterator[str]:
    """The highest instant across it in any state, unloaded ones with the mains at its highest."""
    case = review.worked.case if review.worked is not None else None
    worst: tuple[float, str] | None = None
    for solution in review.solutions.values():
        wave = solution.between(branch.a, branch.b) if solution.converged else None
        if wave is not None and case is not None:
            peak = wave.peak * line_factor(case, solution)
            if worst is None or peak > worst[0]:
                worst = (peak, solution.state.name)
    if worst is None:
        return
    held = branch.part
    rated = si(held.voltage if held else None, "volt")
    if held is not None and (held.voltage_is_ac or held.safety_class):
        yield f"Highest instant across it {told.volts(worst[0])} ({_in(worst[1])}); rated for AC."
        return
    shown_ = told.of_rating(worst[0], rated, "V", "working voltage")
    yield f"Highest instant across it {shown_} ({_in(worst[1])})."


def _by_current(review: Review, branch: Branch) -> Iterator[str]:
    """The largest rms current of the states that last against the rating."""
    worst = _most_amperes(review, branch.name)
    rated = si(branch.value if branch.kind is PartKind.FUSE else _current(branch), "ampere")
    if worst is not None and (rated is not None or branch.kind is PartKind.FUSE):
        shown_ = told.of_rating(worst[0], rated, "A", "rated current")
        yield f"Current at most {shown_} ({_in(worst[1])})."


def _inductor(review: Review, branch: Branch) -> Iterator[str]:
    yield from _by_current(review, branch)
    warm = told.warm_of(review)
    wave = None if warm is None else warm.current(branch.name)
    ohms = si(branch.resistance, "ohm")
    if wave is not None and ohms:
        yield f"Its {engineering(ohms, 'ohm')} take {engineering(wave.rms**2 * ohms, 'W')}."


def _diode(review: Review, branch: Branch) -> Iterator[str]:
    """The largest reverse voltage of any state."""
    worst: tuple[float, str] | None = None
    for solution in review.solutions.values():
        wave = solution.between(branch.a, branch.b) if solution.converged else None
        if wave is not None and (worst is None or -wave.low > worst[0]):
            worst = (-wave.low, solution.state.name)
    if worst is not None and worst[0] > 0:
        rated = si(branch.part.voltage if branch.part else None, "volt")
        shown_ = told.of_rating(worst[0], rated, "V", "rated inverse voltage")
        yield f"Reverse voltage at most {shown_} ({_in(worst[1])})."
    yield from _by_current(review, branch)


def _judge(kind: PartKind) -> Callable[[Review, Branch], Iterator[str]] | None:
    """What is said of a kind besides its volts and amperes."""
    match kind:
        case PartKind.RESISTOR:
            return _resistor
        case PartKind.CAPACITOR:
            return _capacitor
        case PartKind.INDUCTOR:
            return _inductor
        case PartKind.DIODE:
            return _diode
        case PartKind.FUSE | PartKind.SWITCH | PartKind.CONTACT | PartKind.LAMP:
            return _by_current
        case (
            PartKind.LED | PartKind.ZENER | PartKind.THERMISTOR | PartKind.BARRETTER
            | PartKind.PHOTOCELL | PartKind.SPEAKER | PartKind.JACK
            | PartKind.SOURCE | PartKind.HEATER | PartKind.WINDING | PartKind.POT
            | PartKind.JACK_CONTACT
            | PartKind.PLUG | PartKind.SIGNAL | PartKind.RELAY | PartKind.METER
            | PartKind.ARRESTER | PartKind.THYRISTOR | PartKind.TRIGGER
            | PartKind.VIBRATOR | PartKind.CRYSTAL
            | PartKind.CHANNEL | PartKind.GATE | PartKind.BASE
        ):  # fmt: skip
            return None
        case _:
            assert_never(kind)


def transformer(review: Review, circuit: Circuit, name: str) -> str:
    """The page of a mains or output transformer: its windings and what they carry."""
    if name in circuit.transformers:
        rows = [_winding_row(review, w) for w in circuit.transformers[name].windings]
        head = ("winding", "volts rms", "carries warm, rms", "rated")
        body = told.table(head, rows)
        title = "mains transformer"
    elif name in circuit.coil_sets:
        parts = circuit.coil_sets[name].branches
        title = "transformer for signals" if len(circuit.coil_sets[name].coils) > 1 else "coil"
        title = "spring tank" if circuit.coil_sets[name].springs else title
        body = told.table(("winding", "carries warm"), _halves(review, parts))
    else:
        output = circuit.outputs[name]
        taps = " ".join(shown(z) for z in (*output.steps, output.secondary))
        title = f"output transformer {shown(output.primary)} : {taps}"
        body = told.table(("winding", "carries warm"), _halves(review, output.branches))
    about = "\n".join(told.findings_at(review, lambda at: at.split(".")[0] == name))
    return told.page(f"**{escaped(name)}** {escaped(title)}", body, about)


def _halves(review: Review, parts: tuple[tuple[float, Branch], ...]) -> Iterator[tuple[str, str]]:
    warm = told.warm_of(review)
    for _, branch in parts:
        wave = None if warm is None else warm.current(branch.name)
        yield branch.name, "–" if wave is None else told.through(wave)


def winding(review: Review, circuit: Circuit, name: str) -> str:
    """The page of one winding, ``T1.ht``; empty where the circuit has none of that name."""
    found = next((w for w in circuit.windings() if w.name == name), None)
    if found is None:
        return ""
    kind = "primary" if found.primary else "winding"
    leads = ", ".join(escaped(f"{name}.{end}") for end, _ in found.leads)
    amperes = _winding_amperes(review, found)
    carries = "What it carries was not worked out."
    if amperes is not None:
        rated = si(found.current, "ampere")
        carries = f"Warm: carries {told.of_rating(amperes, rated, 'A', 'rated current')}, rms."
    about = told.findings_at(review, lambda at: at == name or at.startswith(f"{name}."))
    head = f"**{escaped(name)}** {kind} {escaped(_winding_volts(found))}; leads {leads}"
    return told.page(head, carries, "\n".join(about))


def _winding_volts(found: Winding) -> str:
    said = shown(found.volts) or "volts not known"
    return f"{said}, taken" if found.taken else said


def _winding_row(review: Review, found: Winding) -> tuple[str, ...]:
    amperes = _winding_amperes(review, found)
    carried = "–" if amperes is None else engineering(amperes, "A")
    return found.name, _winding_volts(found), carried, shown(found.current) or "not given"


def _winding_amperes(review: Review, found: Winding) -> float | None:
    """The rms current of the busier half, warm: what a winding's rating is meant for."""
    warm = told.warm_of(review)
    waves = [warm.current(b.name) for b in found.branches] if warm is not None else []
    return max((w.rms for w in waves if w is not None), default=None)


def _most_amperes(review: Review, branch: str) -> tuple[float, str] | None:
    """The largest rms current of the states that last, and its state."""
    found = [
        (wave.rms, s.state.name)
        for s in review.solutions.values()
        if s.converged and s.state.kind in LASTING and (wave := s.current(branch)) is not None
    ]
    return max(found, default=None)


def _current(branch: Branch) -> Quantity | None:
    if branch.rating is not None:
        return branch.rating.current
    return branch.part.current if branch.part is not None else None


def _in(state: str) -> str:
    return escaped(state)
