"""A spring tank with its driven and its recovering end exchanged."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.coupling import coupled, givers, still_nets
from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.tubes_types import SIGNAL_GRIDS
from coldcheck.drawing.wording import listed
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit, Coil, CoilSet
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule


@rule(
    "signal.springs-exchanged",
    title="Spring tank driven at its recovery end",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="a `reverb` with both its coils wired",
    criterion="A stage, a winding or a signal is on the coil that recovers, and on the coil that "
    "drives the springs there is a grid and nothing that gives.",
    why="The drive coil is made for current, the recovery coil for volts: one of some ohms, the "
    "other of some kilohms. Exchanged, the driver sees far too much and moves hardly anything, and "
    "the other end gives a fraction of the volts.",
    source=PRACTICE,
    limits="A tank whose coils are alike works both ways, and is reported all the same: its ends "
    "are damped for one.",
)
def springs_exchanged(case: Case) -> Iterator[Outcome]:
    """Look at what is on the two ends of each tank."""
    for name, tank in case.circuit.coil_sets.items():
        if not tank.springs or len(tank.coils) != ENDS:
            continue
        drive, recovery = tank.coils
        hears, gives = _hears(case.circuit, drive), _given(case.circuit, recovery, tank)
        if hears and gives and not _given(case.circuit, drive, tank):
            yield _finding(case, name, (drive, recovery), (hears, gives))


ENDS = 2


def _nets(circuit: Circuit, coil: Coil) -> frozenset[str]:
    return coupled(circuit, set(coil.nets) - set(LANDMARKS), still_nets(circuit))


def _hears(circuit: Circuit, coil: Coil) -> list[str]:
    """The grids on a coil."""
    at = ((s, e) for n in sorted(_nets(circuit, coil)) for s, e in circuit.electrodes_at(n))
    return [f"{s.name}.{e}" for s, e in at if e in SIGNAL_GRIDS]


def _given(circuit: Circuit, coil: Coil, tank: CoilSet) -> list[str]:
    """What brings a signal to a coil, the tank's own left out."""
    own = {b.name for _, b in tank.branches}
    found = sorted(givers(circuit, _nets(circuit, coil)))
    return [f"{n}.{e}" if e else n for n, e in found if n not in own]


def _finding(
    case: Case, name: str, coils: tuple[Coil, Coil], on: tuple[list[str], list[str]]
) -> Finding:
    (drive, recovery), (hears, gives) = coils, on
    return springs_exchanged.finding(
        case,
        (name, drive.name, recovery.name),
        f"{listed(gives)} drives {recovery.name}, the end of {name} that recovers, and "
        f"{listed(hears)} hears {drive.name}, the end that is driven",
        f"Exchange what is on {name}.in1 and {name}.in2 with what is on {name}.out1 and "
        f"{name}.out2",
        evidence={"drives": listed(gives), "hears": listed(hears)},
        certainty="certain",
    )


RULES: tuple[Rule, ...] = (springs_exchanged,)
