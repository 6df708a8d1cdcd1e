"""The words of the parts list and of the list of leads, the same in every form."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.bench.parts.items import Sort
from coldcheck.drawing.rerated import Ratings
from coldcheck.drawing.units import engineering
from coldcheck.drawing.wording import volts as volts_text
from coldcheck.report.review.text import what_would_decide
from coldcheck.report.shared.blocks import Table
from coldcheck.report.shared.plain import counted
from coldcheck.solve.solution import WARMING

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.bench.parts.parts import Group, PartsList, Row
    from coldcheck.bench.parts.wires import Lead
    from coldcheck.judge.use import Use

CAUTION = (
    "Tube equipment holds lethal voltages, also after it is switched off. This list is worked out "
    "from the drawing, not from the wiring. Local codes and a qualified person decide what may be "
    "powered."
)
FIGURES_ARE = (
    "Figures are the most that a part sees in any state that was solved, with that state, at rest; "
    "a speaker's watts are what the stages give it before they clip. Volts are at the worst "
    "instant, those of parts for AC, lamps and jacks rms; of diodes and rectifiers the inverse "
    "volts, of chokes and windings those to the core, of a fuse those across it when it has blown; "
    "of tubes those that their ratings are meant for. Amperes are rms, of windings at nominal "
    "mains; of diodes, chokes, output transformers and high-voltage windings the direct current; "
    "of electrolytics the ripple."
)
BUY_IS = (
    "Buy: the ratings drawn, where no rule of the review objects to them; else the least of the "
    "usual series, with the margins of common practice, to which none objects. It is the least for "
    "these figures: a screen resistor of an output tube, for one, has far more to bear at full "
    "output. Drawn: what is written, where it is not what to buy. Rated: the tube's data. Where "
    "nothing stands, nothing is known."
)
WIRES_ARE = (
    "Tick each lead on the paper or on the chassis. Leads that meet at gnd or another landmark are "
    "not listed there. Pin numbers are those of the type's base; two-lead parts without a "
    "direction may be either way round."
)
NO_RATING = "No rating alone will do for"
USES: Mapping[str, str] = {
    "alone": "nothing else is drawn there",
    "unwired": "nothing is drawn to it",
    "not connected": "no electrode: free, or a tie point",
    "internal": "used inside the tube: leave it unwired",
    "not on file": "no electrode on file",
}

_VOLTS: Mapping[Sort, str] = {
    Sort.AC_CAPACITOR: "volts AC",
    Sort.DIODE: "inverse volts",
    Sort.CHOKE: "volts to core",
    Sort.TRANSFORMER: "volts to core",
    Sort.FUSE: "volts when blown",
    Sort.FAST_FUSE: "volts when blown",
    Sort.SWITCH: "volts it breaks",
    Sort.TUBE: "plate volts",
}
_WATTS: Mapping[Sort, str] = {Sort.TUBE: "plate watts"}
_AMPS: Mapping[Sort, str] = {
    Sort.ELECTROLYTIC: "ripple",
    Sort.DIODE: "mean current",
    Sort.CHOKE: "direct current",
    Sort.OUTPUT: "direct current",
}


def heading(sort: Sort) -> str:
    """The sort with a capital."""
    return sort.value[:1].upper() + sort.value[1:]


def rating(ratings: Ratings) -> str:
    """``450 V 100 mA``, as such ratings are sold; empty where there is none."""
    volts, watts, amps = ratings.volts, ratings.watts, ratings.amps
    said = [] if volts is None else [f"{volts:g} V{' AC' if ratings.ac else ''}"]
    said += [] if watts is None else [f"{watts:g} W"]
    said += [] if amps is None else [engineering(amps, "A")]
    return " ".join(said)


def used(use: Use | None) -> str:
    """``415 V cold``; empty where there is no figure, or only dust of one."""
    if use is None:
        return ""
    unit = use.figure.unit
    value = use.figure.value
    if value < _DUST[unit]:
        return f"below {engineering(_DUST[unit], unit)}"
    said = volts_text(value) if unit == "V" else engineering(value, unit)
    return f"{said} {state(use.state)}"


_DUST = {"V": 0.05, "W": 1e-3, "A": 1e-4}
"""Less than this no one buys a part by."""


def state(name: str) -> str:
    """A state in a narrow column."""
    return WARMING if name.startswith(WARMING) else name


def table(group: Group) -> Table:
    """One sort as a table: only the columns in which anything stands."""
    rows = [_cells(row) for row in group.rows]
    sort = group.sort
    used_as = _VOLTS.get(sort, "volts"), _WATTS.get(sort, "watts"), _AMPS.get(sort, "amperes")
    names = ("part", "value", "buy", "rated" if sort is Sort.TUBE else "drawn", *used_as)
    kept = [n for n in range(len(names)) if n == 0 or any(row[n] for row in rows)]
    return Table(
        tuple(names[n] for n in kept),
        tuple(tuple(row[n] for n in kept) for row in rows),
        frozenset(range(len(kept))),
    )


def _cells(row: Row) -> tuple[str, ...]:
    value = row.item.value
    if row.quantity > 1:
        value = f"{row.quantity} x {value}"
    return (
        row.item.name,
        value,
        rating(row.advice.buy),
        _drawn(row),
        *map(used, (row.uses.volts, row.uses.watts, row.uses.amps)),
    )


def _drawn(row: Row) -> str:
    """What is drawn, where it is not what to buy."""
    old, new = row.item.stated, row.advice.buy
    return rating(
        Ratings(
            None if old.volts == new.volts and old.ac is new.ac else old.volts,
            None if old.watts == new.watts else old.watts,
            None if old.amps == new.amps else old.amps,
            old.ac,
        )
    )


def besides(group: Group) -> Iterator[tuple[str, str]]:
    """(part, what to do) where a rating alone is not right."""
    yield from ((r.item.name, r.advice.besides) for r in group.rows if r.advice.besides)


def remarks(found: PartsList) -> Iterator[str]:
    """What to know before one buys anything."""
    if found.held:
        yield (
            f"Held by its review ({counted(found.held, 'finding')}): mend what was found first; "
            "the figures change with it."
        )
    if found.undecided:
        yield f"Its review is undecided: {what_would_decide(found.undecided)}."


def joined(lead: Lead) -> str:
    """``B1: R1, C2 +``; ``gnd``; ``nothing is drawn to it``."""
    if lead.use:
        return f"{lead.point}: {USES[lead.use]}" if lead.point else USES[lead.use]
    others = ", ".join(lead.joins)
    return f"{lead.point}: {others}" if lead.point and others else lead.point or others


def labelled(lead: Lead) -> str:
    """``5 grid`` at a socket, else the lead's own name."""
    return f"{lead.label} {lead.electrode}".rstrip()
