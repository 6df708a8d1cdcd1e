"""A small tube whose cathode is on gnd, with a grid leak too small to make its own bias."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.channels import behind
from coldcheck.anatomy.coupling import coupled, still_nets
from coldcheck.anatomy.grid_kinds import GRID_LEAK_OHMS, around, is_small
from coldcheck.anatomy.neighbourhood import ohms_between, reading, resistors_at
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import ohms, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

BIASED_V = Threshold("bias of a small tube that is some", -0.5, "V", PRACTICE)
AUDIO_F = Threshold(
    "coupling capacitor of an audio stage", 1e-9, "F",
    Citation("practice", "detectors, limiters and oscillators have picofarads there"),
)  # fmt: skip


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
    near = [b for n in nets for b in circuit.at(n)]
    coils = any(b.traits.coil for b in near)
    couplers = [b for b in near if b.kind is PartKind.CAPACITOR and {b.a, b.b} <= nets]
    audio = all((si(b.value, "farad") or 0.0) >= AUDIO_F.value for b in couplers)
    before = behind(circuit, section)
    return audio and not coils and bool(before) and section.name not in before


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


RULES: tuple[Rule, ...] = (leak_makes_no_bias,)
