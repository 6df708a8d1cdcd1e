"""Windings and chokes against the current that is written beside them."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.anatomy.class_c import driven
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.judge.use import most, over
from coldcheck.solve.solution import WARM
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.class_c import Driven
    from coldcheck.circuit.model import Branch, Winding
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.judge.use import Use
    from coldcheck.solve.solution import Solution

HEATER_V = 30.0
"""Windings below this are heater windings: heater.winding-overload adds their heaters up."""

FULL = Threshold("share of the rating a coil may carry", 1.05, "", PRACTICE)
RMS = Threshold(
    "rms current over a rating that may be meant as DC",
    2.0,
    "",
    Citation("practice", "a capacitor input takes 1.1 to 1.8 times its DC from a winding"),
)


@rule(
    "supply.coil-overload",
    title="Winding or choke with more current than it is made for",
    level="notice",
    states="warm, nominal mains",
    needs="the current written on the winding or choke, and a solved state",
    criterion=(
        "The mean current a high-voltage winding delivers (its halves taking turns), or the DC of "
        f"a choke, is more than {FULL.value:g} times the current written; or the rms current of a "
        f"half is more than {RMS.value:g} times it. A primary's, and that of a low-voltage "
        "winding: rms."
    ),
    why=(
        "The copper is sized for the current on the label. At twice the current a winding makes "
        "four times the heat, in its middle where nothing cools it, and its insulation chars over "
        "months. A choke beyond its current saturates besides, and no longer filters."
    ),
    source=Citation("drawing", "the current written"),
    limits=(
        "Old labels of high-voltage windings give the DC of a full-wave circuit, newer ones the "
        "rms of the winding: a figure within either reading is let through. The magnetising "
        "current of a primary is not in it. A winding of less than 30 V that has only heaters on "
        "it is heater.winding-overload's."
    ),
    thresholds=(FULL, RMS),
)
def coil_overload(case: Case) -> Iterator[Outcome]:
    """Compare what each coil carries with what is written on it."""
    rated = [(w, amps) for w in case.circuit.windings() if (amps := si(w.current, "ampere"))]
    chokes = [(b, amps) for b in case.circuit.branches.values() if (amps := _written(b))]
    by_drive = {name: d for d in driven(case.circuit) for name in d.coils}
    for coil in case.circuit.coils():
        amps = si(coil.current, "ampere")
        chokes += [(branch, amps) for _, branch in coil.parts] if amps else []
    reason = unsolved(case)
    if reason is not None:
        names = (*(w.name for w, _ in rated), *(b.name for b, _ in chokes))
        yield from (coil_overload.not_judged((name,), reason) for name in names)
        return
    for winding, limit in rated:
        yield from _winding(case, winding, limit)
    for choke, limit in chokes:
        use = most(case, (WARM,), partial(direct, choke))
        if choke.name in by_drive:
            yield coil_overload.not_judged((choke.name,), _by_drive(by_drive[choke.name]))
            continue
        if use is not None and use.beyond(FULL.value * limit):
            yield _choke_over(case, choke, use, limit)


def _by_drive(stage: Driven) -> str:
    return f"it carries what {stage.section.name} draws when {stage.driver} drives it: not known"


def _written(branch: Branch) -> float | None:
    held = branch.part if branch.kind is PartKind.INDUCTOR else None
    return None if held is None else si(held.current, "ampere")


def direct(choke: Branch, solution: Solution) -> Figure | None:
    """The direct current of a choke."""
    wave = solution.current(choke.name)
    return None if wave is None else figure(abs(wave.dc), "A")


def _winding(case: Case, winding: Winding, limit: float) -> Iterator[Outcome]:
    high = not winding.primary and (si(winding.volts, "volt") or 0.0) > HEATER_V
    rms = most(case, (WARM,), partial(winding_rms, winding))
    mean = most(case, (WARM,), partial(delivered, winding)) if high else None
    if mean is not None and mean.beyond(FULL.value * limit):
        yield _over(case, winding.name, mean, limit, "of rectified current")
        return
    share = (RMS if high else FULL).value
    theirs = high or not _only_heaters(case, winding)
    if theirs and rms is not None and rms.beyond(share * limit):
        yield _over(case, winding.name, rms, limit, "rms")


def winding_rms(winding: Winding, solution: Solution) -> Figure | None:
    """The rms current of its busier half."""
    waves = [solution.current(b.name) for b in winding.branches]
    found = [w.rms for w in waves if w is not None]
    return figure(max(found), "A") if found else None


def delivered(winding: Winding, solution: Solution) -> Figure | None:
    """What its halves deliver in turn, averaged over the cycle: the DC of whatever rectifies it."""
    waves = [w.samples for b in winding.branches if (w := solution.current(b.name)) is not None]
    if not waves:
        return None
    return figure(float(np.max(np.abs(np.array(waves)), axis=0).mean()), "A")


def _only_heaters(case: Case, winding: Winding) -> bool:
    """Whether heaters are wired to it: another rule's business."""
    heaters = (t.heater for t in case.circuit.tubes.values() if t.heater is not None)
    return any(set(heater.nets) & set(winding.nets) for heater in heaters)


def _over(case: Case, name: str, use: Use, limit: float, how: str) -> Outcome:
    carried = use.figure.value
    return over(
        coil_overload, case, (name,), use, limit,
        (f"{name} carries {amperes(carried)} {how}; it is made for {amperes(limit)}",
         f"Find out what draws that much, or use one made for {amperes(carried)} or more"),
    )  # fmt: skip


def _choke_over(case: Case, choke: Branch, use: Use, limit: float) -> Outcome:
    """It names the output stage that a choke was not made to feed, where that is all it is."""
    most_of_it = _primary_behind(case, choke, use.figure.value - FULL.value * limit)
    if most_of_it is None:
        return _over(case, choke.name, use, limit, "of DC")
    lead, amps = most_of_it
    carried = use.figure.value
    return over(
        coil_overload, case, (choke.name, lead), use, limit,
        (f"{choke.name} carries {amperes(carried)} of DC; it is made for {amperes(limit)}, and "
         f"{amperes(amps)} of it go to {lead}, which it is too small for",
         f"Feed {lead} from the other side of {choke.name}, if that is how it is drawn, or use "
         f"one made for {amperes(carried)} or more"),
    )  # fmt: skip


def _primary_behind(case: Case, choke: Branch, least: float) -> tuple[str, float] | None:
    """The lead of an output transformer that a choke feeds, and its amperes.

    ``None`` where no such one takes ``least``: then something else is too much as well.
    """
    fed = {choke.a, choke.b} - set(LANDMARKS)
    for output in case.circuit.outputs.values():
        feeds = [(lead, net) for lead, net in output.leads if net in fed and lead[0] in "pc"]
        for lead, net in feeds:
            waves = [
                (b, case.warm.current(b.name)) for _, b in output.branches if net in (b.a, b.b)
            ]
            amps = sum(abs(w.dc) for _, w in waves if w is not None)
            if amps >= least:
                return f"{output.name}.{lead}", amps
    return None


RULES: tuple[Rule, ...] = (coil_overload,)
