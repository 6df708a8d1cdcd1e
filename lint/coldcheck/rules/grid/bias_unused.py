"""A bias supply that no grid hangs on, beside a tube that has no bias."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.case import unsolved_reason
from coldcheck.anatomy.lifted_returns import HIGH_V, MOST_OHM, lifted_returns
from coldcheck.anatomy.neighbourhood import net_text, reading, resistors_at
from coldcheck.anatomy.reach import reach
from coldcheck.anatomy.supplies import negative_lines
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.tubes_types import CONTROL
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.rules.grid.bias import NO_BIAS_V, SMALL_SHARE, published_bias
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

STOPPER_OHM = 22e3
"""A resistor up to this between grid and leak is a stopper (common practice)."""

LINE_V = Threshold("least voltage of a bias supply", -1.0, "V", PRACTICE)


@rule(
    "grid.bias-unused",
    title="Bias that no grid gets",
    level="notice",
    blame=Blame.SLIP,
    states="warm",
    needs="a solved warm state, and published points of the type",
    criterion=f"A point is more than {-LINE_V.value:g} V below gnd (the supply's minus ahead of a "
    "resistor to gnd, a negative supply with its filter, or a battery's minus with nothing else on "
    "its wire), no tube hangs on it by metal, and a tube whose cathode returns to gnd and its grid "
    "there or to a battery's plus has less than "
    f"{SMALL_SHARE.value:g} times the bias of every published point.",
    why="Who draws a bias supply, or a resistor in the supply's minus, means a grid to hang on it. "
    "With the grid's leak on gnd instead the tube has no bias: it draws several times its current, "
    "and in a battery set it empties the battery.",
    source=(Citation("type-sheet"), PRACTICE),
    limits="Which of several grids is meant is not known where more than one lacks its bias: all "
    "are named.",
    thresholds=(LINE_V, NO_BIAS_V, SMALL_SHARE, HIGH_V, MOST_OHM),
)
def bias_unused(case: Case) -> Iterator[Outcome]:
    """Look for negative lines without a tube, and for tubes without a bias."""
    if unsolved_reason(case) is not None:
        return
    lines = {n: v for n in _lines(case.circuit) if (v := _unused(case, n)) is not None}
    for tube in _unbiased(case) if lines else ():
        line = min(lines, key=lines.__getitem__)
        yield _finding(case, tube, line, lines[line])


def _lines(circuit: Circuit) -> list[str]:
    """The nets that something holds below gnd."""
    lifted = [r.net for r in lifted_returns(circuit)]
    sources = [b.b for b in circuit.branches.values() if b.kind is PartKind.SOURCE]
    batteries = [n for n in sources if n not in LANDMARKS and _for_a_grid(circuit, n)]
    return list(dict.fromkeys((*negative_lines(circuit), *lifted, *batteries)))


def _for_a_grid(circuit: Circuit, minus: str) -> bool:
    """Whether a resistor leads from a battery's minus to gnd, or nothing at all to its wire."""
    alone = len(circuit.at(minus)) == 1 and not circuit.electrodes_at(minus)
    return alone or any(b.other(minus) == GROUND for b in resistors_at(circuit, minus))


def _unused(case: Case, net: str) -> float | None:
    """The volts of a line that no tube hangs on; ``None`` for any other point."""
    wave = case.warm.between(net, GROUND)
    nets = [n for n in reach(case.circuit, [net], LANDMARKS) if n not in LANDMARKS]
    used = any(s.kind.amplifies for n in nets for s, _ in case.circuit.electrodes_at(n))
    return None if used or wave is None or wave.dc > LINE_V.value else wave.dc


def _held_up(circuit: Circuit) -> list[str]:
    """The points on the plus of a battery that stands on gnd."""
    sources = (b for b in circuit.branches.values() if b.kind is PartKind.SOURCE)
    return [b.a for b in sources if b.b == GROUND]


@dataclass(frozen=True, slots=True)
class _Unbiased:
    """A tube with cathode and grid on gnd: its bias and its sheet's, volts, and what grounds it."""

    section: Section
    bias: float
    usual: float
    leaks: list[Branch]


def _unbiased(case: Case) -> Iterator[_Unbiased]:
    """The tubes on gnd that have far less bias than they want."""
    for tube, section in working(case.circuit):
        found, grid = reading(case.warm, section), section.net("grid")
        if found is None or found.grid_v is None or grid is None or not found.conducts:
            continue
        usual = published_bias(tube, section, found)
        if usual is None or usual < -NO_BIAS_V.value:
            continue
        leaks = _leaks(case.circuit, section, grid)
        if leaks and -found.grid_v < SMALL_SHARE.value * usual:
            yield _Unbiased(section, -found.grid_v, usual, leaks)


def _leaks(circuit: Circuit, section: Section, grid: str) -> list[Branch]:
    """What leads from the grid, or from behind its stopper, to gnd or to a battery's plus.

    None where it is held otherwise, or the cathode is not on gnd by wire.
    """
    if GROUND not in section.cathode_nets or grid in LANDMARKS:
        return []
    ends = {*LANDMARKS, *_held_up(circuit)}
    held = [n for n in reach(circuit, [grid], ends) if n not in ends]
    if any(e not in CONTROL for n in held for _, e in circuit.electrodes_at(n)):
        return []
    stopped = [b for b in resistors_at(circuit, grid) if (b.ohms or 0.0) <= STOPPER_OHM]
    nets = dict.fromkeys((grid, *(b.other(grid) for b in stopped if GROUND not in (b.a, b.b))))
    near = [(n, b) for n in nets if n not in LANDMARKS for b in circuit.at(n)]
    leaks = (b for n, b in near if b.other(n) in (GROUND, *_held_up(circuit)))
    return [b for b in leaks if b.traits.coil or b.kind is PartKind.RESISTOR]


def _finding(case: Case, tube: _Unbiased, line: str, there: float) -> Finding:
    owners = tuple(b.owner for b in tube.leaks)
    which, name = listed(owners), net_text(case.circuit, line)
    ends = {n for b in tube.leaks for n in (b.a, b.b)} & {GROUND, *_held_up(case.circuit)}
    now = listed(net_text(case.circuit, n) for n in sorted(ends))
    share = SMALL_SHARE.value * tube.usual
    return bias_unused.finding(
        case,
        (*owners, tube.section.name, name),
        f"{tube.section.name} has {volts(tube.bias)} of bias where the sheet has "
        f"{volts(tube.usual)}: its grid returns to {now}, and no grid hangs on "
        f"{name}, which is at {volts(there)}",
        f"Take {which} to {name} instead of {now}",
        state="warm",
        evidence={
            "bias": figure(tube.bias, "V"), "published": figure(tube.usual, "V"),
            "line": figure(there, "V"),
        },
        limit=figure(share, "V"),
        certainty="likely",
        excess=share / max(tube.bias, 1e-3),
    )  # fmt: skip


RULES: tuple[Rule, ...] = (bias_unused,)
