"""Diodes by the diode range of a meter, before any power."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.bench.chart.ohmmeter import Ohmmeter
from coldcheck.bench.chart.points import shown_name
from coldcheck.bench.plan.model import DIODE, Check, Step
from coldcheck.circuit.kinds import Stamp
from coldcheck.circuit.paths import Change

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Branch, Circuit

FORWARD, LEAST, MOST = 0.55, 0.4, 0.75
"""Volts of a silicon junction at the range's milliampere (common practice)."""

TEST_A = 1e-3
"""What the diode range drives (common practice: 0.5 to 1.5 mA)."""

MASKED = 1.5
"""Times a junction's highest volts: what needs less of the range's current than that hides it."""

WHY = "about 0: shorted; no reading: open, or the leads are exchanged"


def diodes_step(circuit: Circuit) -> Step | None:
    """Every silicon junction that is drawn, forwards; ``None`` where there is none."""
    meter = Ohmmeter(circuit, Change(pulled=frozenset(circuit.tubes)))
    every = [b for b in circuit.branches.values() if b.traits.stamp is Stamp.JUNCTION]
    junctions = [b for b in every if b.a != b.b]
    if not junctions:
        return None
    return Step(
        "diodes",
        "Unplugged: diodes by the meter's diode range",
        False,
        do=(
            "Still unplugged, the capacitors empty. The + lead on the anode; a capacitor that "
            "charges makes the reading climb first.",
            "Then the leads exchanged: no reading, or far above a volt once the capacitors are "
            "charged. The same low reading both ways: shorted.",
        ),
        checks=tuple(_forward(circuit, meter, b) for b in junctions),
    )


def _forward(circuit: Circuit, meter: Ohmmeter, branch: Branch) -> Check:
    beside = meter.read(branch.a, branch.b).nominal
    masked = beside is not None and beside * TEST_A < MASKED * MOST
    return Check(
        shown_name(circuit, branch.a), shown_name(circuit, branch.b), DIODE, FORWARD,
        0.0 if masked else LEAST, MOST, None if masked else LEAST, MOST, WHY,
        note="; ".join(_notes(branch, masked=masked)),
    )  # fmt: skip


def _notes(branch: Branch, *, masked: bool) -> Iterator[str]:
    yield branch.name
    if masked:
        yield "what lies beside it hides it: lift one end"
