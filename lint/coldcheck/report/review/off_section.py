"""After switch-off: what stays charged, how long, and through what it drains."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from coldcheck.circuit.throws import thrown_text
from coldcheck.report.review.warming_section import short_state
from coldcheck.report.shared.blocks import Block, Entries, Note, Section, Table
from coldcheck.report.shared.numbers import NONE, volts
from coldcheck.report.shared.plain import listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.verdict.document.content import CapacitorDown, OffTold, SlowCapacitor

TITLE = "After switch-off; cold tubes drain nothing"
MOST_DRAINS = 4


def off_section(off: OffTold) -> Iterator[Section]:
    """What is charged after switch-off; nothing where no state charges anything."""
    blocks: list[Block] = []
    if off.slow:
        blocks += [_table(off), Note(_note(off))]
    if off.alive and (blocks or off.reason or off.not_timed):
        title = f"Points above {off.touch_v:.0f} V to gnd, and how long"
        blocks.append(Entries(tuple(_alive(off)), 15, title))
    blocks += map(Note, _remarks(off))
    if blocks:
        yield Section(TITLE, tuple(blocks))


def _table(off: OffTold) -> Table:
    headings = ("part", "volts", f"to {off.touch_v:.0f} V", f"to {off.guard_v:.0f} V")
    rows = tuple(_row(off, slow) for slow in off.slow)
    return Table((*headings, "charged in", "drained through"), rows, frozenset({0, 4, 5}))


def _note(off: OffTold) -> str:
    return (
        f"to {off.touch_v:.0f} V DC, the touch limit, and to {off.guard_v:.0f} V, from the worst "
        f"state to switch off in; up to {off.small_f * 1e6:.1g} uF, above {off.charge_v:.0f} V up "
        f"to {off.charge_c * 1e6:.0f} uC, is left out; an open bleeder leaves it all, so measure "
        "before touching"
    )


def _row(off: OffTold, slow: SlowCapacitor) -> tuple[str, ...]:
    down = slow.capacitor
    return (
        down.capacitor + _when(", {}", slow.thrown),
        volts(down.volts),
        seconds_text(down.seconds) if down.volts > off.touch_v else NONE,
        seconds_text(down.guard_seconds),
        short_state(down.charged_in),
        _through(down),
    )


def _through(down: CapacitorDown) -> str:
    if down.perhaps_drained_through:
        return f"perhaps {listed(down.perhaps_drained_through)}"
    if not down.drained_through:
        return "nothing: not bled"
    shown = down.drained_through[:MOST_DRAINS]
    return ", ".join(shown) + (" ..." if len(down.drained_through) > MOST_DRAINS else "")


def seconds_text(seconds: float) -> str:
    """A time for a column: ``0.4 s``, ``26 s``, ``12 min``, ``never``."""
    if math.isinf(seconds):
        return "never"
    if seconds >= 600:
        return f"{seconds / 60:.0f} min"
    if seconds >= 9.95:
        return f"{seconds:.0f} s"
    return f"{seconds:.1f} s" if seconds >= 0.05 else "at once"


def _when(form: str, thrown: str) -> str:
    """The position of the switches, where it is not as drawn."""
    return form.format(thrown_text(thrown.split(", "))) if thrown else ""


def _alive(off: OffTold) -> Iterator[tuple[str, str]]:
    """Points above the touch limit, those that read alike together, the slowest first."""
    groups: dict[tuple[str, str, str], list[str]] = {}
    for slow in off.alive:
        thrown = _when(" ({})", slow.thrown)
        start = f"{abs(slow.point.volts):.0f} V"
        key = (seconds_text(slow.point.seconds), start, thrown)
        groups.setdefault(key, []).append(slow.point.point)
    for (seconds, start, thrown), points in groups.items():
        yield f"{start}, {seconds}", ", ".join(points) + thrown


def _remarks(off: OffTold) -> Iterator[str]:
    if off.reason:
        yield f"not worked out: {off.reason}"
    if off.not_timed:
        yield f"not timed, for want of a capacitance: {listed(off.not_timed)}"
