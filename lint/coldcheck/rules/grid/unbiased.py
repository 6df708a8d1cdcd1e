"""A small tube whose cathode is on gnd, with a grid leak too small to make its own bias."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from coldcheck.anatomy.channels import behind
from coldcheck.anatomy.coupling import coupled, givers, still_nets
from coldcheck.anatomy.feedback_points import feet
from coldcheck.anatomy.grid_kinds import GRID_LEAK_OHMS, around, is_small
from coldcheck.anatomy.neighbourhood import ohms_between, own_text, reading, resistors_at
from coldcheck.anatomy.reach import passes, reach
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import listed, ohms, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

BIASED_V = Threshold("bias of a small tube that is some", -0.5, "V", PRACTICE)
AUDIO_F = Threshold(
    "coupling capacitor of an audio stage", 1e-9, "F",
    Citation("practice", "detectors, limiters and oscillators have picofarads there"),
)  # fmt: skip


TAPPED = Threshold(
    "times its bias resistor that the resistor below a tap is at least", 3.0, "",
    Citation("practice", "bias takes some volts, the load of a follower tens; nobody makes up a "
             "bias resistor of two so unequal"),
)  # fmt: skip

BIAS_OHMS = 10e3
"""A larger resistor from a small tube's cathode to gnd is a load, and not its bias."""


@rule(
    "grid.leak-makes-no-bias",
    title="Small tube without bias",
    level="notice",
    states="warm",
    needs="a solved warm state, and the values of the resistors at the grid",
    criterion="A small triode has its cathode on gnd and gets an audio signal at its grid, the way "
    f"from the grid to gnd is less than {ohms(GRID_LEAK_OHMS.value)} of plain resistance, and the "
    f"grid is less than {-BIASED_V.value:g} V below its cathode.",
    why="With its cathode on gnd such a tube lives on the volt or less that its own grid current "
    "makes in a leak of megohms. In a leak of a tenth of that it makes nothing: the grid conducts "
    "on every other half of the wave, which it cuts off, and loads what drives it.",
    source=PRACTICE,
    limits="Grid-leak detectors, limiters, multivibrators, oscillators and grids on a bias supply "
    "or AVC line are left alone, and pentodes, whose screens are judged for themselves.",
    thresholds=(BIASED_V, GRID_LEAK_OHMS, AUDIO_F),
)
def leak_makes_no_bias(case: Case) -> Iterator[Outcome]:
    """Look at grid, leak and cathode of every small triode on gnd."""
    circuit, warm = case.circuit, case.solutions.get("warm")
    if warm is None or not warm.converged:
        return
    for tube, section in working(circuit):
        found = reading(warm, section)
        if found is None or not is_small(tube, section) or not _on_gnd(section):
            continue
        grid = section.electrodes["grid"]
        leak, bias = ohms_between(around(circuit, grid), grid), found.grid_v or 0.0
        small = leak is not None and leak < GRID_LEAK_OHMS.value
        conducts = abs(bias) < -BIASED_V.value and found.conducts
        if leak is not None and small and conducts and _hears(circuit, section):
            yield _finding(case, section, leak, bias)


def _on_gnd(section: Section) -> bool:
    """Whether a triode's cathode is on gnd, and its grid not."""
    triode = section.kind is SectionKind.TRIODE and section.cathode_nets == (GROUND,)
    return triode and section.net("grid") not in (None, GROUND)


def _hears(circuit: Circuit, section: Section) -> bool:
    """Whether an audio signal from elsewhere comes to the grid, and none of its own."""
    grid, still = section.electrodes["grid"], still_nets(circuit)
    nets = coupled(circuit, [grid], still)
    before = behind(circuit, section)
    return _audio(circuit, nets) and bool(before) and section.name not in before


def _finding(case: Case, section: Section, leak: float, bias: float) -> Finding:
    grid, name = section.electrodes["grid"], section.name
    still = still_nets(case.circuit)
    at = tuple(b.name for b in resistors_at(case.circuit, grid) if b.other(grid) in still)
    return leak_makes_no_bias.finding(
        case,
        (*at, name),
        f"{name}: its cathode is on gnd, and {ohms(leak)} from its grid to gnd make no bias: the "
        f"grid is at {volts(bias)} and conducts on every other half of the wave",
        f"Use a leak of 10 Mohm behind a coupling capacitor, or fit a cathode resistor at {name}",
        state="warm",
        evidence={"leak": figure(leak, "ohm"), "bias": figure(bias, "V")},
        limit=GRID_LEAK_OHMS.figure,
        excess=GRID_LEAK_OHMS.value / leak,
    )


@rule(
    "grid.leak-on-own-cathode",
    title="Grid leak on the cathode itself",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the values of the resistors at the grid",
    criterion="The grid of a small tube, or the grids of several on one cathode point, straight or "
    "behind stoppers, hang on a resistor of "
    f"less than {ohms(GRID_LEAK_OHMS.value)} to its own cathode and on nothing else that direct "
    "current passes; a resistor leads on from the cathode, and an audio signal comes to the grid "
    "or a capacitor holds it at gnd.",
    why="With the grid at its cathode's own voltage there is no bias, however large the resistor "
    "below the cathode: the tube draws a multiple of its current, and the grid conducts on every "
    "other half of the wave. The leak belongs below the bias resistor.",
    source=PRACTICE,
    limits="Leaks of megohms, which make a little bias of their own, unless there is a tap below "
    f"the cathode's resistor that nothing uses, the resistor below it {TAPPED.value:g} times as "
    "large; oscillators, and stages with coils at the grid are left alone.",
    thresholds=(GRID_LEAK_OHMS, AUDIO_F, TAPPED),
)
def leak_on_own_cathode(case: Case) -> Iterator[Outcome]:
    """Look at what each small tube's grid hangs on."""
    circuit = case.circuit
    told: set[str] = set()
    for tube, section in working(circuit):
        if section.net("grid") is None or not is_small(tube, section):
            continue
        leak = _to_cathode(circuit, section)
        value = (leak.ohms if leak is not None else None) or 0.0
        if leak is None or leak.name in told or value <= 0:
            continue
        if value >= GRID_LEAK_OHMS.value and _tapped(circuit, section) is None:
            continue
        if _given_audio(circuit, section) or _held(circuit, section) is not None:
            told.add(leak.name)
            yield _on_cathode(case, section, leak, value)


def _given_audio(circuit: Circuit, section: Section) -> bool:
    """Whether an audio signal that is none of its own comes to a grid, its cathode left out."""
    still = {*still_nets(circuit), *section.cathode_nets}
    nets = coupled(circuit, [section.electrodes["grid"]], still)
    names = {n for n, _ in givers(circuit, nets)}
    itself = any(s.name in names and section.name in behind(circuit, s) for s in circuit.sections())
    return bool(names) and not itself and _audio(circuit, nets)


def _held(circuit: Circuit, section: Section) -> Branch | None:
    """The capacitor that holds a grid at gnd for a signal: its leak belongs there too."""
    at = circuit.at(section.electrodes["grid"])
    large = (b for b in at if (b.farads or 0.0) >= AUDIO_F.value)
    return next((b for b in large if b.kind is PartKind.CAPACITOR and GROUND in (b.a, b.b)), None)


def _audio(circuit: Circuit, nets: frozenset[str]) -> bool:
    """Whether neither coils nor small coupling capacitors are on these nets."""
    near = [b for n in nets for b in circuit.at(n)]
    couplers = [b for b in near if b.kind is PartKind.CAPACITOR and {b.a, b.b} <= nets]
    return not any(b.traits.coil for b in near) and all(
        (b.farads or 0.0) >= AUDIO_F.value for b in couplers
    )


def _to_cathode(circuit: Circuit, section: Section) -> Branch | None:
    """The resistor to the cathode that alone holds a grid, the cathode on resistors of its own."""
    grid, cathode = section.electrodes["grid"], section.cathode_nets[0]
    nets = set(reach(circuit, [grid], (cathode,))) - {cathode}
    at = [b for n in nets for b in resistors_at(circuit, n) if cathode in (b.a, b.b)]
    others = [e for n in nets for s, e in circuit.electrodes_at(n)
              if e != "grid" or s.cathode_nets != section.cathode_nets]  # fmt: skip
    on = [b for b in resistors_at(circuit, cathode) if b not in at] if len(at) == 1 else []
    free = nets.isdisjoint(LANDMARKS) and cathode not in LANDMARKS and grid != cathode
    return at[0] if free and on and not others and len(section.cathode_nets) == 1 else None


def _led_elsewhere(circuit: Circuit, section: Section, leak: Branch) -> str:
    """The foot of the cathode's resistor; gnd, where that one is there for the bias alone."""
    cathode, held = section.cathode_nets[0], _held(circuit, section)
    below = feet(circuit, cathode)
    if held is not None and not below:
        return f"Take {leak.name} to gnd, where {held.name} holds the grid for the signal"
    if below:
        return f"Take {leak.name} to {own_text(circuit, below[0])}, below the cathode's resistor"
    for own in resistors_at(circuit, cathode):
        if own.other(cathode) == GROUND and (own.ohms or inf) <= BIAS_OHMS:
            return f"Take {leak.name} to gnd: {own.name} makes the bias"
    whole = f"{section.name}.cathode"
    return f"Put a resistor for the bias below {whole}, and take {leak.name} to its foot"


def _on_cathode(case: Case, section: Section, leak: Branch, value: float) -> Finding:
    circuit, name = case.circuit, section.name
    below = _tapped(circuit, section) or ()
    return leak_on_own_cathode.finding(
        case,
        (leak.name, name, *(b.name for b in below)),
        f"{leak.name} ({ohms(value)}) leads from the grid of {name} to its own cathode: there is "
        "no bias between the two",
        _led_elsewhere(circuit, section, leak),
        evidence={"leak": figure(value, "ohm")},
        limit=GRID_LEAK_OHMS.figure,
        certainty="likely",
        excess=GRID_LEAK_OHMS.value / value,
    )


@rule(
    "grid.bias-tap-unused",
    title="Tap below a bias resistor that no grid leak goes to",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the values of the two resistors below the cathode",
    criterion="From the cathode of one tube or more two resistors lead to gnd one after the other, "
    f"the lower {TAPPED.value:g} times the upper or more, with nothing else on the point between "
    "them but a capacitor to the cathode; the grids hang on a resistor to gnd and on nothing else "
    "that direct current passes.",
    why="The small resistor makes the bias and the large one is the load, if the grid leak goes to "
    "the point between them. Taken to gnd, both together are bias: the tube draws a fraction of "
    "its current, and the output clips at a fraction of its swing.",
    source=(Citation("arithmetic", "bias = current times all that is below the leak's foot"),
            PRACTICE),
    limits="Grids on a volume control, on a plate or behind coils are left alone, and taps with a "
    "bypass or feedback on them.",
    thresholds=(TAPPED,),
)  # fmt: skip
def bias_tap_unused(case: Case) -> Iterator[Outcome]:
    """Look below the cathodes of the tubes whose leaks are on gnd."""
    found: dict[str, tuple[Section, tuple[Branch, Branch], list[str]]] = {}
    for _, section in working(case.circuit):
        leak, pair = _to_gnd(case.circuit, section), _tapped(case.circuit, section)
        if leak is not None and pair is not None:
            _, _, leaks = found.setdefault(pair[0].name, (section, pair, []))
            leaks += [leak.name] if leak.name not in leaks else []
    for section, pair, leaks in found.values():
        yield _tap_told(case, section, leaks, pair)


def _tapped(circuit: Circuit, section: Section) -> tuple[Branch, Branch] | None:
    """A small and a large resistor one after the other below a cathode, the tap not used."""
    cathode = section.cathode_nets[0]
    for upper in resistors_at(circuit, cathode) if cathode not in LANDMARKS else ():
        tap = upper.other(cathode)
        rest = [b for b in circuit.at(tap) if b is not upper and not _bypasses(b, tap, cathode)]
        alone = len(rest) == 1 and not circuit.electrodes_at(tap) and tap not in LANDMARKS
        if alone and rest[0].kind is PartKind.RESISTOR and rest[0].other(tap) == GROUND:
            small, large = upper.ohms, si(rest[0].value, "ohm")
            if small and large and large >= TAPPED.value * small:
                return upper, rest[0]
    return None


def _bypasses(branch: Branch, tap: str, cathode: str) -> bool:
    return branch.kind is PartKind.CAPACITOR and branch.other(tap) == cathode


def _to_gnd(circuit: Circuit, section: Section) -> Branch | None:
    """The resistor to gnd that alone holds a grid, and those of others on the same cathode."""
    grid = section.net("grid")
    nets = set(reach(circuit, [grid], LANDMARKS)) - set(LANDMARKS) if grid else set()
    at = [b for n in nets for b in circuit.at(n) if GROUND in (b.a, b.b) and passes(b)]
    others = [e for n in nets for s, e in circuit.electrodes_at(n)
              if e != "grid" or s.cathode_nets != section.cathode_nets]  # fmt: skip
    parts = [b for n in nets for b in circuit.at(n) if b.kind in (PartKind.POT, PartKind.SIGNAL)
             or b.traits.coil]  # fmt: skip
    plain = len(at) == 1 and at[0].kind is PartKind.RESISTOR
    return at[0] if plain and not others and not parts else None


def _tap_told(
    case: Case, section: Section, leaks: list[str], pair: tuple[Branch, Branch]
) -> Finding:
    circuit, (upper, lower) = case.circuit, pair
    tap = own_text(circuit, upper.other(section.cathode_nets[0]))
    small, large = upper.ohms or 0.0, lower.ohms or 0.0
    led = "lead from the grids" if len(leaks) > 1 else "leads from the grid"
    return bias_tap_unused.finding(
        case,
        (*leaks, section.name, upper.name, lower.name),
        f"{listed(leaks)} {led} at {section.name} to gnd, so "
        f"{upper.name} and {lower.name} together ({ohms(small + large)}) are the bias; nothing "
        "uses the tap between them",
        f"Take {listed(leaks)} from gnd to {tap}, between {upper.name} and {lower.name}",
        evidence={"together": figure(small + large, "ohm"), "ratio": figure(large / small, "")},
        limit=TAPPED.figure,
        certainty="likely",
        excess=large / small / TAPPED.value,
    )


RULES: tuple[Rule, ...] = (leak_makes_no_bias, leak_on_own_cathode, bias_tap_unused)
