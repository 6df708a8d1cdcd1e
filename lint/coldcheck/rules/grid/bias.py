"""Fixed bias: is there any, does it survive a worn trimmer, can it be set away, does it come soon.

The level is ``notice`` where a tube can be lost, ``advice`` where it is a matter of margin.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.anatomy import grid_kinds, supplies
from coldcheck.anatomy.bias_network import BiasNetwork, Edge, Track, bias_network
from coldcheck.anatomy.case import unsolved_reason
from coldcheck.anatomy.class_c import UNDRIVEN, driven
from coldcheck.anatomy.coupling import still_nets
from coldcheck.anatomy.grid_kinds import POWER_WATTS, SENSE_OHMS, bias_kind, is_power_tube
from coldcheck.anatomy.neighbourhood import past_a_resistor, reading, resistors_at
from coldcheck.anatomy.published import published_resistor
from coldcheck.anatomy.reach import reach
from coldcheck.anatomy.running import running
from coldcheck.anatomy.supplies import negative_lines, quick_supply
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.preferred import preferred
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes, listed, ohms, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.rules.grid.positive import FED_A, POSITIVE_V
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section, Tube
    from coldcheck.circuit.tubes import Sourced
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.solution import Solution, TubeReading

NO_BIAS_V = Threshold("least bias of a power tube", -1.0, "V", PRACTICE)
PLATE_V = Threshold("plate voltage from which a power tube needs bias", 100.0, "V", PRACTICE)
"""A power tube at more than this with less than a volt of bias is fully on (memory)."""

LEAST_BIAS_V = Threshold("least voltage of a fixed bias", -1.0, "V", PRACTICE)
"""Less negative than this at the supply end is not a fixed bias to be judged."""

SMALL_SHARE = Threshold("share of the published bias that is too small", 0.3, "", PRACTICE)
KEPT = Threshold("share of the bias left with the wiper lifted", 0.95, "", PRACTICE)
HALF = Threshold("share of the bias left at the end of the travel", 0.5, "", PRACTICE)
NONE = Threshold("share of the bias that is as good as none", 0.1, "", PRACTICE)
SLOW_S = Threshold("time in which a bias comes up", 1.0, "s", PRACTICE)
WIPER_FACTOR = 4.0
"""A resistor of four tracks from the wiper bends the setting little (common practice)."""

STEADY = ("warm", "high line", "low line")


@rule(
    "grid.no-bias",
    title="Output tube without bias",
    level="notice",
    states="warm, high line and low line",
    needs="a solved state, and a plate dissipation on file that tells a power tube",
    criterion=f"A tube rated {POWER_WATTS.value:g} W or more has its grid less than "
    f"{-NO_BIAS_V.value:g} V below its cathode, and more than {PLATE_V.value:g} V on its plate. A "
    "grid that "
    "something pulls above its cathode is a finding of its own.",
    why="Without bias an output tube draws several times its rated current. It happens where a "
    "bias supply was left out and the grid returns to gnd, or where the cathode resistor is "
    "shorted or is a measuring resistor of an ohm or so.",
    source=Citation("web-bias"),
    limits="Tubes made for zero bias (class B triodes) are not on file. A bias that is there but "
    "too small shows as plate dissipation. A stage that oscillates, and one for radio "
    "frequencies that another one drives over a leak, make their own. Small tubes are left out: "
    "with a plate resistor nothing happens to them.",
    thresholds=(FED_A, NO_BIAS_V, PLATE_V, POSITIVE_V, POWER_WATTS),
)
def no_bias(case: Case) -> Iterator[Outcome]:
    """Look at grid to cathode of every power tube at work."""
    by_drive = {d.section.name: f"of the drive of {d.driver}: {UNDRIVEN}"
                for d in driven(case.circuit)}  # fmt: skip
    by_drive |= {s.section.name: "as it oscillates: its figures are those at rest"
                 for s in running(case.circuit) if s.leak is not None}  # fmt: skip
    powers = [(t, s) for t, s in working(case.circuit)
              if is_power_tube(t, s) and s.net("grid") and s.name not in by_drive]  # fmt: skip
    resting = {s.name for t, s in working(case.circuit) if is_power_tube(t, s)}
    for name in (n for n in by_drive if n in resting):
        yield no_bias.not_judged((name,), f"it makes its bias {by_drive[name]}")
    reason = unsolved_reason(case)
    if reason is not None and powers:
        yield no_bias.not_judged(tuple(s.name for _, s in powers), reason)
        return
    for solution in case.solved(*STEADY):
        for tube, section in powers:
            found = reading(solution, section)
            if found is None or found.grid_v is None or (found.plate_v or 0.0) < PLATE_V.value:
                continue
            pulled = found.grid_v > POSITIVE_V.value or found.grid_ma > 1e3 * FED_A.value
            if found.grid_v > NO_BIAS_V.value and found.conducts and not pulled:
                yield _unbiased(case, solution, tube, section)


def _unbiased(case: Case, solution: Solution, tube: Tube, section: Section) -> Finding:
    found = solution.readings[section.name]
    return no_bias.finding(
        case,
        (section.name, *_to_gnd(case.circuit, section)),
        f"{section.name}: its grid is at {volts(found.grid_v or 0.0)} to its cathode with "
        f"{volts(found.plate_v or 0.0)} on its plate: no bias, and {amperes(found.plate_ma / 1e3)} "
        "of plate current",
        _bias_remedy(tube, section),
        state=solution.state.name,
        evidence={
            "grid": figure(found.grid_v or 0.0, "V"),
            "plate": figure(found.plate_v or 0.0, "V"),
            "plate_current": figure(found.plate_ma, "mA"),
        },
        limit=NO_BIAS_V.figure,
        excess=1 + (found.grid_v or 0.0) - NO_BIAS_V.value,
    )


def _to_gnd(circuit: Circuit, section: Section) -> tuple[str, ...]:
    """The leak that leads a grid to gnd, straight or behind its stopper."""
    nets = past_a_resistor(circuit, section.electrodes["grid"])
    leaks = (b for n in nets if n not in LANDMARKS for b in resistors_at(circuit, n))
    return tuple(dict.fromkeys(b.owner for b in leaks if {b.a, b.b} & set(LANDMARKS)))


def _bias_remedy(tube: Tube, section: Section) -> str:
    each = published_resistor(tube, section)
    what = f"of about {ohms(each)}" if each else f"at {section.name}.cathode"
    return f"Fit a cathode resistor {what}, or draw the bias supply"


@rule(
    "grid.bias-too-small",
    title="Output tube with a fraction of its bias",
    level="notice",
    states="warm",
    needs="a solved warm state, and published points of the type",
    criterion="An output tube with a resistor of its own in the cathode, or its grid's leak on "
    "one in the supply's negative lead, has less than "
    f"{SMALL_SHARE.value:g} times the bias of every published point, taken in proportion to the "
    f"voltage on its screen (a triode's plate), and less than {-NO_BIAS_V.value:g} V of it is no "
    "bias at all.",
    why="A resistor a decade small leaves a volt or two where ten belong. A weak supply may hold "
    "the current down, so that no rating is exceeded; but the grid draws current at the first "
    "loud passage, half of every wave is lost, and tube and supply work as hot as they can.",
    source=(Citation("type-sheet"), PRACTICE),
    limits="Bias goes with the voltage in proportion, which holds for the same kind of use. "
    "Shared cathode resistors, fixed bias, followers and pass tubes are left alone.",
    thresholds=(SMALL_SHARE, NO_BIAS_V, PLATE_V, POWER_WATTS, SENSE_OHMS),
)
def bias_too_small(case: Case) -> Iterator[Outcome]:
    """Compare the bias of each output tube with its sheet's."""
    if unsolved_reason(case) is not None:
        return
    for tube, section in working(case.circuit):
        last = is_power_tube(tube, section) or _on_an_output(case.circuit, section)
        own = _bias_resistor(case.circuit, section) if last else None
        found = reading(case.warm, section)
        if own is None or found is None or found.grid_v is None:
            continue
        usual = published_bias(tube, section, found)
        enough = usual is None or -found.grid_v >= SMALL_SHARE.value * usual
        least = PLATE_V.value if is_power_tube(tube, section) else BATTERY_PLATE_V
        if not enough and (found.plate_v or 0.0) > least and found.grid_v < NO_BIAS_V.value:
            yield _too_small(case, section, own, -found.grid_v, usual or 0.0)


BATTERY_PLATE_V = 40.0
"""Battery tubes work from 45 V (common practice)."""


def _on_an_output(circuit: Circuit, section: Section) -> bool:
    """Whether a plate is on an output transformer: battery tubes have few watts."""
    return any(section.net("plate") == net for o in circuit.outputs.values() for _, net in o.leads)


def _bias_resistor(circuit: Circuit, section: Section) -> Branch | None:
    """The resistor that makes a tube's bias: in its cathode, or in the supply's negative lead."""
    if not set(section.cathode_nets) & set(LANDMARKS):
        return _own_resistor(circuit, section)
    grid = section.net("grid")
    nets = set(reach(circuit, [grid], LANDMARKS)) if grid is not None else set()
    feet = [n for n in negative_lines(circuit) if n in nets and _is_a_supply_s_minus(circuit, n)]
    found = [b for n in feet for b in resistors_at(circuit, n) if b.other(n) == GROUND]
    return found[0] if len(found) == 1 else None


def _is_a_supply_s_minus(circuit: Circuit, net: str) -> bool:
    """Whether a battery's minus is on a net, or a winding's tap, whose plus feeds plates."""
    at = circuit.at(net)
    batteries = [b for b in at if b.kind is PartKind.SOURCE]
    own = any(b.b == net and b.a not in LANDMARKS for b in batteries)
    return own or (not batteries and any(b.kind is PartKind.WINDING for b in at))


def _own_resistor(circuit: Circuit, section: Section) -> Branch | None:
    """The one resistor from a cathode to gnd, of a tube whose plate is no supply point."""
    cathode, plate = section.cathode_nets[0], section.net("plate")
    at = resistors_at(circuit, cathode)
    shared = len(circuit.electrodes_at(cathode)) > 1
    if len(at) != 1 or GROUND not in (at[0].a, at[0].b) or shared or plate in still_nets(circuit):
        return None
    value = si(at[0].value, "ohm")
    return at[0] if value is not None and value > SENSE_OHMS.value else None


def published_bias(tube: Tube, section: Section, found: TubeReading) -> float | None:
    """The least bias of the published points, in proportion to the volts there are."""
    every = [_scaled(point, found) for point in tube.type.points_of(section.type.name)]
    return min((v for v in every if v is not None), default=None)


def _scaled(point: Mapping[str, Sourced | str], found: TubeReading) -> float | None:
    grid = point.get("grid-voltage")
    screened = found.screen_v is not None
    volts_there = point.get("screen-voltage" if screened else "plate-voltage")
    here = found.screen_v if screened else found.plate_v
    if grid is None or volts_there is None or isinstance(grid, str) or here is None:
        return None
    if isinstance(volts_there, str) or grid.value >= 0 or volts_there.value <= 0:
        return None
    return -grid.value * here / volts_there.value


def _too_small(case: Case, section: Section, own: Branch, bias: float, usual: float) -> Finding:
    value = own.ohms or 0.0
    in_cathode = bool({own.a, own.b} & set(section.cathode_nets) - set(LANDMARKS))
    sheet = published_resistor(case.circuit.tubes[section.tube], section) if in_cathode else None
    about = f", about {ohms(sheet)}" if sheet else ""
    return bias_too_small.finding(
        case,
        (own.name, section.name),
        f"{section.name} has {volts(bias)} of bias across {own.name} ({ohms(value)}); at its "
        f"voltages the sheet has {volts(usual)}",
        f"Make {own.name} as large as the sheet has it{about}"
        if in_cathode
        else f"Make {own.name} {usual / max(bias, 1e-3):.2g} times as large",
        state="warm",
        evidence={"bias": figure(bias, "V"), "published": figure(usual, "V")},
        limit=figure(SMALL_SHARE.value * usual, "V"),
        certainty="likely",
        excess=SMALL_SHARE.value * usual / max(bias, 1e-3),
    )


@dataclass(frozen=True, slots=True)
class _Fixed:
    """A section with fixed bias and the network it comes through; ``bias`` in volts to gnd."""

    section: Section
    network: BiasNetwork
    bias: float


def _fixed(case: Case, quiet: dict[str, str]) -> list[_Fixed]:
    """Sections with a negative fixed bias; those that cannot be judged go into ``quiet``."""
    found = []
    for _, section in working(case.circuit):
        if section.net("grid") is None or bias_kind(case.circuit, section) != "fixed":
            continue
        network = bias_network(case.circuit, section, case.warm)
        if isinstance(network, str):
            quiet[section.name] = network
            continue
        bias = network.volts()
        if bias < LEAST_BIAS_V.value:
            found.append(_Fixed(section, network, bias))
    return found


def _tracks(fixed: list[_Fixed]) -> Iterator[tuple[Track, list[_Fixed]]]:
    """Each pot with the sections whose bias comes through it."""
    names = dict.fromkeys(t for f in fixed for t in f.network.tracks)
    for track in names:
        yield track, [f for f in fixed if track in f.network.tracks]


@rule(
    "grid.bias-lost-with-wiper",
    title="Bias lost when the trimmer's wiper lifts",
    level="advice",
    states="warm, with the wiper of one pot open",
    needs="a solved warm state, and the values of the resistors in the bias network",
    criterion="With the wiper of a bias pot open, a grid with fixed bias is less negative than "
    f"{KEPT.value:.0%} of its bias as drawn. The network of resistors is solved again; the bias "
    "supply keeps its voltage.".replace("%", " %"),
    why="The wiper is the first thing to fail in a trimmer. Wired so that the whole track stays "
    "in circuit, or with a resistor from the wiper to the negative end, a lifted wiper makes the "
    "grids more negative and the tubes go quiet; wired otherwise the bias is gone and the plates "
    "glow red.",
    source=Citation("web-bias-pots", "fail-safe bias wiring"),
    limits="Fixed bias only. A wiper that lifts is tried, and not a track or a resistor that "
    "opens; the bias supply is taken to keep its voltage.",
    thresholds=(
        KEPT,
        LEAST_BIAS_V,
        grid_kinds.GRID_LEAK_OHMS,
        grid_kinds.SENSE_OHMS,
        grid_kinds.SMALL_WATTS,
        supplies.FILTER_F,
        supplies.SERIES_OHMS,
    ),
)
def lost_with_wiper(case: Case) -> Iterator[Outcome]:
    """Lift each wiper and look at the grids again."""
    quiet: dict[str, str] = {}
    if unsolved_reason(case) is None:
        for track, fixed in _tracks(_fixed(case, quiet)):
            after = {f.section.name: f.network.volts(lifted=track.name) for f in fixed}
            lost = [f for f in fixed if after[f.section.name] > KEPT.value * f.bias]
            if lost:
                yield _lost(case, track, lost, after)
    yield from (lost_with_wiper.not_judged((at,), why) for at, why in quiet.items())


def _lost(case: Case, track: Track, lost: list[_Fixed], after: dict[str, float]) -> Finding:
    names = [f.section.name for f in lost]
    worst = max(lost, key=lambda f: -after[f.section.name] / f.bias)
    left = _rounded(after[worst.section.name])
    return lost_with_wiper.finding(
        case,
        (track.name, *names),
        f"{track.name}: should its wiper lift, the bias of {listed(names)} goes from "
        f"{volts(worst.bias)} to {volts(left)}",
        _safe_wiring(worst, track),
        state="warm",
        evidence={"bias": figure(worst.bias, "V"), "wiper_open": figure(left, "V")},
        limit=figure(KEPT.value * worst.bias, "V"),
        certainty="certain",
        excess=1 + (left - KEPT.value * worst.bias) / -worst.bias,
    )


def _rounded(number: float) -> float:
    """Without the microvolts that the leak of the equations leaves on a cut-off net."""
    return round(number, 3) + 0.0


def _safe_wiring(fixed: _Fixed, track: Track) -> str:
    """A resistor over the wiper where that helps (it is tried), else the trimmer's right place."""
    value = preferred(WIPER_FACTOR * track.ohms)
    end = _negative_end(fixed, track)
    bridge = Edge(track.wiper, end, value, "")
    mended = replace(fixed.network, edges=(*fixed.network.edges, bridge))
    if mended.volts(lifted=track.name) <= fixed.bias:
        lead = "top" if end == track.top else "bottom"
        return (
            f"Put {ohms(value)} from {track.name}.wiper to {track.name}.{lead}, the negative end: "
            "a lifted wiper then makes the bias larger"
        )
    return (
        f"Put a fixed resistor on the side of the supply and {track.name}, its wiper joined to "
        "one end, on the side of gnd: a lifted wiper then makes the bias larger"
    )


def _negative_end(fixed: _Fixed, track: Track) -> str:
    """The end of the track that turns the bias more negative."""
    up = fixed.network.volts(turned={track.name: 1.0})
    down = fixed.network.volts(turned={track.name: 0.0})
    return track.top if up < down else track.bottom


@rule(
    "grid.bias-set-away",
    title="Bias trimmer reaches too little bias",
    level="notice",
    states="warm, with one pot at either end of its travel",
    needs="a solved warm state, and the values of the resistors in the bias network",
    criterion="With one bias pot at an end of its travel and the others as drawn, a grid with "
    f"fixed bias has less than {NONE.value:.0%} of its bias as drawn; advice where it has less "
    "than "
    f"{HALF.value:.0%}.".replace("%", " %"),
    why="Somebody turns the trimmer the wrong way, or to its end before the first switch-on. A "
    "fixed resistor at the end of the track leaves a setting that no tube dies of.",
    source=Citation("web-bias-pots", "bias ranges"),
    limits="The setting drawn counts as the nominal one. Each pot is turned alone.",
    thresholds=(
        HALF,
        LEAST_BIAS_V,
        NONE,
        grid_kinds.GRID_LEAK_OHMS,
        grid_kinds.SENSE_OHMS,
        grid_kinds.SMALL_WATTS,
        supplies.FILTER_F,
        supplies.SERIES_OHMS,
    ),
)
def set_away(case: Case) -> Iterator[Outcome]:
    """Turn each pot to both ends and look at the grids again."""
    quiet: dict[str, str] = {}
    if unsolved_reason(case) is None:
        for track, fixed in _tracks(_fixed(case, quiet)):
            least = [max(_ends(f, track), key=lambda e: e[1]) for f in fixed]
            far = [(f, *e) for f, e in zip(fixed, least, strict=True) if e[1] > HALF.value * f.bias]
            if far:
                yield _set_away(case, track, far)
    yield from (set_away.not_judged((at,), why) for at, why in quiet.items())


def _ends(fixed: _Fixed, track: Track) -> list[tuple[float, float]]:
    """(setting, volts at the grid) at both ends of the travel."""
    return [(end, fixed.network.volts(turned={track.name: end})) for end in (0.0, 1.0)]


def _set_away(case: Case, track: Track, far: list[tuple[_Fixed, float, float]]) -> Finding:
    names = [f.section.name for f, _, _ in far]
    fixed, end, left = max(far, key=lambda e: -e[2] / e[0].bias)
    left = _rounded(left)
    share = left / fixed.bias
    lead = "bottom" if end == 0.0 else "top"
    return set_away.finding(
        case,
        (track.name, *names),
        f"{track.name}: turned to its {lead} end it leaves {listed(names)} with "
        f"{volts(left)} of bias; as drawn it is {volts(fixed.bias)}",
        _end_resistor(fixed, track, end),
        state="warm",
        level="notice" if share < NONE.value else "advice",
        evidence={"bias": figure(fixed.bias, "V"), "least_bias": figure(left, "V")},
        limit=figure(HALF.value * fixed.bias, "V"),
        certainty="certain",
        excess=1 + HALF.value - share,
    )


def _end_resistor(fixed: _Fixed, track: Track, end: float) -> str:
    """The E12 resistor at the end of the track that leaves half the bias, where one does."""
    lead = "bottom" if end == 0.0 else "top"
    for step in range(1, 60):
        value = preferred(track.ohms * 10 ** (step / 12 - 2))
        if fixed.network.volts(turned={track.name: end}, extra=value) < HALF.value * fixed.bias:
            return f"Put about {ohms(value)} in series with {track.name}.{lead}, and set it anew"
    return "Put a fixed resistor in series with the track, so that half the bias always remains"


@rule(
    "grid.bias-too-slow",
    title="Bias comes up later than the plate supply",
    level="advice",
    states="the drawing alone, with the warm voltages",
    needs="a solved warm state, and the values of the resistors and capacitors in the bias network",
    criterion=f"The bias of a grid needs more than {SLOW_S.value:g} s to rise to 63 %, and the "
    "plate "
    "supply comes from silicon or a directly heated rectifier, which are there at once.",
    why="From cold there is time enough: the tubes take ten seconds. Switched off and on again "
    "they are still hot, the plate supply is back within a tenth of a second, and until the bias "
    "capacitors have charged the output tubes conduct fully.",
    source=PRACTICE,
    limits="What charges the first bias capacitor (winding and diode) is taken as quick, and all "
    "capacitors as empty.",
    thresholds=(
        LEAST_BIAS_V,
        SLOW_S,
        grid_kinds.GRID_LEAK_OHMS,
        grid_kinds.SENSE_OHMS,
        grid_kinds.SMALL_WATTS,
        supplies.FILTER_F,
        supplies.SERIES_OHMS,
    ),
)
def too_slow(case: Case) -> Iterator[Outcome]:
    """Work out the time constant at each grid with fixed bias."""
    quiet: dict[str, str] = {}
    if unsolved_reason(case) is not None or not quick_supply(case.circuit):
        return
    slow = [(f, f.network.seconds()) for f in _fixed(case, quiet)]
    slow = [(f, t) for f, t in slow if t > SLOW_S.value]
    if slow:
        names, (_, worst) = [f.section.name for f, _ in slow], max(slow, key=lambda e: e[1])
        yield too_slow.finding(
            case,
            tuple(names),
            f"the bias of {listed(names)} takes {worst:.2g} s to come up; the plate supply is "
            "there at once",
            "Use smaller capacitors or resistors between the bias rectifier and the grids",
            evidence={"time_constant": figure(worst, "s")},
            limit=SLOW_S.figure,
            excess=worst / SLOW_S.value,
        )
    yield from (too_slow.not_judged((at,), why) for at, why in quiet.items())


RULES: tuple[Rule, ...] = (no_bias, bias_too_small, lost_with_wiper, set_away, too_slow)
