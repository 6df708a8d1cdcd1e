"""After switch-off in a text report: what stays charged, how long, and through what it drains."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rich.text import Text

from coldcheck.report.shared.lines import columns, entries, paragraph, say, show
from coldcheck.report.shared.numbers import volts
from coldcheck.report.shared.plain import clean, listed
from coldcheck.solve.off.discharge import CHARGE_C, CHARGE_V, GUARD_V, SMALL_F, TOUCH_V

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from rich.console import Console

    from coldcheck.solve.off.discharge import Decay
    from coldcheck.solve.off.off_state import NetDecay, OffState, Position
    from coldcheck.verdict.review import Review

TITLE = "After switch-off; cold tubes drain nothing"
NOTE = (
    f"to {TOUCH_V:.0f} V DC, the touch limit, and to {GUARD_V:.0f} V, from the worst state to "
    f"switch off in; up to {SMALL_F * 1e6:.1g} uF, above {CHARGE_V:.0f} V up to "
    f"{CHARGE_C * 1e6:.0f} uC, is left out; an open bleeder leaves it all, so measure before "
    "touching"
)
DIFFERS = 1.1
"""A switch is told where a thrown one makes a discharge this many times longer."""

SOON_S = 0.1
"""What is gone before a hand could move is not listed."""

MOST_DRAINS = 4

_NONE = "–"


def print_off(console: Console, review: Review) -> None:
    """Print what is charged after switch-off; nothing where no state charges anything."""
    off = review.worked.off() if review.worked is not None else None
    if off is None or not (off.positions or off.unvalued or off.unsolved):
        return
    rows = list(slow_rows(off))
    lines = list(_remarks(off))
    if not rows and not lines:
        return
    say(console)
    say(console, TITLE, "bold")
    if rows:
        table = columns("", "volts", f"to {TOUCH_V:.0f} V", f"to {GUARD_V:.0f} V")
        for heading in ("charged in", "drained through"):
            table.add_column(heading, no_wrap=True)
        for row in rows:
            table.add_row(*(Text(clean(cell)) for cell in _cells(*row)))
        show(console, table)
        paragraph(console, NOTE, 2)
    alive = list(_alive(off))
    if alive:
        say(console, f"  Points above {TOUCH_V:.0f} V to gnd, and how long")
        entries(console, alive, 2, 15)
    for line in lines:
        paragraph(console, line, 2)


def slow_rows(off: OffState) -> Iterator[tuple[Decay, str]]:
    """Each capacitor with no switch thrown, then where a thrown switch makes it slower."""
    for decay in off.positions[0].capacitors if off.positions else ():
        if decay.guard_seconds > SOON_S:
            yield decay, ""
        for position in off.positions[1:]:
            same = {d.capacitor.name: d for d in position.capacitors}
            other = same.get(decay.capacitor.name)
            if other is not None and slower(other.guard_seconds, decay.guard_seconds):
                yield other, ", ".join(position.thrown)


def slower(seconds: float, than: float) -> bool:
    """Whether a time is longer by enough to be told apart."""
    return seconds > than + 0.5 and seconds > DIFFERS * than


def _cells(decay: Decay, thrown: str) -> tuple[str, ...]:
    name = decay.capacitor.name
    return (
        f"{name}, {thrown} thrown" if thrown else name,
        volts(abs(decay.volts)),
        seconds_text(decay.seconds) if abs(decay.volts) > TOUCH_V else _NONE,
        seconds_text(decay.guard_seconds),
        short_state(decay.charged_in),
        _through(decay),
    )


def _through(decay: Decay) -> str:
    if decay.undrawn:
        return f"perhaps {listed(decay.undrawn)}"
    if not decay.drained_by:
        return "nothing: not bled"
    shown = list(decay.drained_by[:MOST_DRAINS])
    return ", ".join(shown) + (" ..." if len(decay.drained_by) > MOST_DRAINS else "")


def short_state(name: str) -> str:
    """A state's name without the words that the heading and the next word say."""
    return name.removeprefix("warming: ").replace(", high line", ", high")


def seconds_text(seconds: float) -> str:
    """A time for a column: ``0.4 s``, ``26 s``, ``12 min``, ``never``."""
    if math.isinf(seconds):
        return "never"
    if seconds >= 600:
        return f"{seconds / 60:.0f} min"
    if seconds >= 9.95:
        return f"{seconds:.0f} s"
    return f"{seconds:.1f} s" if seconds >= 0.05 else "at once"


@dataclass(frozen=True, slots=True)
class _Worst:
    """A net in the switch position that keeps it alive longest."""

    net: NetDecay
    thrown: str


def _alive(off: OffState) -> Iterator[tuple[str, str]]:
    """Points above the touch limit, those that fall alike together, the slowest first."""
    groups: dict[tuple[str, str, str], list[str]] = {}
    for worst in sorted(_worst_nets(off.positions), key=lambda w: -w.net.seconds):
        thrown = f" ({worst.thrown} thrown)" if worst.thrown else ""
        key = (seconds_text(worst.net.seconds), f"{abs(worst.net.volts):.0f} V", thrown)
        groups.setdefault(key, []).append(worst.net.net)
    for (seconds, start, thrown), nets in groups.items():
        yield f"{start}, {seconds}", clean(", ".join(nets) + thrown)


def _worst_nets(positions: Iterable[Position]) -> Iterable[_Worst]:
    worst: dict[str, _Worst] = {}
    for position in positions:
        for net in position.nets:
            old = worst.get(net.net)
            if net.seconds > SOON_S and (old is None or slower(net.seconds, old.net.seconds)):
                worst[net.net] = _Worst(net, ", ".join(position.thrown))
    return worst.values()


def _remarks(off: OffState) -> Iterator[str]:
    if off.unsolved:
        yield clean(f"not worked out: {off.unsolved}")
    if off.unvalued:
        yield clean(f"not timed, for want of a capacitance: {listed(off.unvalued)}")
