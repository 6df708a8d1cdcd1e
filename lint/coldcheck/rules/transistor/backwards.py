"""Transistors that carry their current the wrong way."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.case import unsolved_reason
from coldcheck.circuit.transistors import Family
from coldcheck.drawing.wording import amperes, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Transistor
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.solution import Wave

SHEET = Citation("maker-sheet")

BACKWARDS_V = Threshold("voltage at which a body diode conducts", 0.3, "V", PRACTICE)
BACKWARDS_A = Threshold("direct current the wrong way through a transistor", 1e-3, "A", PRACTICE)


@rule(
    "transistor.body-diode-carries",
    title="MOSFET whose body diode carries the current",
    level="notice",
    blame=Blame.LIKELY_SLIP,
    states="warm",
    needs="a solved warm state and a MOSFET",
    criterion=f"The source of an n-channel MOSFET is more than {BACKWARDS_V.value:g} V above its "
    f"drain (of a p-channel one below), and more than {1e3 * BACKWARDS_A.value:g} mA flow so.",
    why="Every such transistor has a diode from source to drain. With the two exchanged it is that "
    "diode, and nothing else: what the gate was to steer, smooth or switch goes straight through.",
    source=(SHEET, PRACTICE),
    limits="One used as a rectifier on purpose looks the same. At rest only: what a switched coil "
    "sends back is in order.",
    thresholds=(BACKWARDS_A, BACKWARDS_V),
)
def body_diode_carries(case: Case) -> Iterator[Outcome]:
    """Look for direct current that flows from source to drain."""
    mosfets = [q for q in case.circuit.transistors.values() if q.type.family.insulated]
    if mosfets and (reason := unsolved_reason(case)) is not None:
        yield body_diode_carries.not_judged(tuple(q.name for q in mosfets), reason)
        return
    for one in mosfets:
        across = _dc(case.warm.between(one.channel.a, one.channel.b))
        amps = _dc(case.warm.current(one.channel.name))
        if across < -BACKWARDS_V.value and amps < -BACKWARDS_A.value:
            yield _exchanged(case, one, -across, -amps)


def _exchanged(case: Case, one: Transistor, across: float, amps: float) -> Finding:
    main, out, _ = one.type.family.leads
    return body_diode_carries.finding(
        case,
        (one.name,),
        f"{one.name} carries {amperes(amps)} from {out} to {main}, through its body diode "
        f"({volts(across)}): {main} and {out} look exchanged, and its gate steers nothing",
        f"Exchange {one.name}.{main} and {one.name}.{out}",
        state="warm",
        evidence={"across": figure(across, "V"), "current": figure(amps, "A")},
        limit=BACKWARDS_A.figure,
        certainty="certain",
        excess=amps / BACKWARDS_A.value,
    )


@rule(
    "transistor.upside-down",
    title="Transistor that stands on its head, or of the other polarity",
    level="notice",
    blame=Blame.SLIP,
    states="warm",
    needs="a solved warm state and a bipolar transistor",
    criterion=f"More than {1e3 * BACKWARDS_A.value:g} mA flow out of the collector of an NPN "
    "transistor, or into that of a PNP one.",
    why="With a PNP type where an NPN belongs, or with collector and emitter exchanged, the diode "
    "between base and collector conducts: the transistor hardly amplifies, limits nothing, and "
    "what hangs on it takes all the current there is.",
    source=(SHEET, PRACTICE),
    limits="Used as a diode on purpose it may look the same. At rest only: what a coil or a "
    "winding drives back for a moment is not seen.",
    thresholds=(BACKWARDS_A,),
)
def upside_down(case: Case) -> Iterator[Outcome]:
    """Look for direct current that flows against the arrow of a transistor."""
    bipolar = [q for q in case.circuit.transistors.values() if q.type.family.bipolar]
    if bipolar and (reason := unsolved_reason(case)) is not None:
        yield upside_down.not_judged(tuple(q.name for q in bipolar), reason)
        return
    for one in bipolar:
        amps = _dc(case.warm.current(one.channel.name))
        if amps < -BACKWARDS_A.value:
            yield _on_its_head(case, one, -amps)


def _dc(wave: Wave | None) -> float:
    return 0.0 if wave is None else wave.dc


def _on_its_head(case: Case, one: Transistor, amps: float) -> Finding:
    npn = one.type.family is Family.NPN
    own, other = ("an NPN", "a PNP") if npn else ("a PNP", "an NPN")
    return upside_down.finding(
        case,
        (one.name,),
        f"{amperes(amps)} flow the wrong way through the collector of {one.name}: "
        f"{one.type.name} is {own} type and stands as {other} would, or with collector and "
        "emitter exchanged",
        f"Fit {other} type if {one.name} is drawn right; if its type is "
        f"right, exchange {one.name}.collector and {one.name}.emitter",
        state="warm",
        evidence={"current": figure(amps, "A")},
        limit=BACKWARDS_A.figure,
        certainty="likely",
        excess=amps / BACKWARDS_A.value,
    )


RULES: tuple[Rule, ...] = (body_diode_carries, upside_down)
