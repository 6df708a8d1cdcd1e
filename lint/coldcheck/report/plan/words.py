"""The words and figures of a power-up plan, shared by all its forms."""

from __future__ import annotations

from math import ceil, inf, isclose
from typing import TYPE_CHECKING

from coldcheck.bench.plan.model import AC, DC, DIODE, OHM
from coldcheck.circuit.throws import thrown_text
from coldcheck.drawing.wording import sentence
from coldcheck.records import dataclass
from coldcheck.report.chart.words import NOTHING, ac_text, ohms_figure
from coldcheck.report.shared.numbers import volts as dc_text
from coldcheck.report.shared.plain import listed

if TYPE_CHECKING:
    from coldcheck.bench.plan.model import Catch, Charge, Check, Plan, Step
    from coldcheck.judge.finding import Finding

CAUTION = (
    "Tube equipment holds lethal voltages, also after it is switched off. This plan is worked out "
    "from the drawing, not from the wiring: it makes nothing safe by itself, and a fault it does "
    "not name is still possible. Local codes and a qualified person decide what may be powered."
)
NOT_YET = "Do not power up"
WITHHELD = "The steps with power are left out"
SETTLE = "The review also found, to be settled before power:"
ACCEPTED = "Accepted in the drawing, and no less true for that:"
CHARGES = ("capacitor", "+ lead", "other", "V", "J", "below 60 V after", "drains through")
LEADS = ("+ lead", "other")
OUTSIDE = "Outside the range do not go on"
CAPTIONS = {
    OHM: "Ohms", DC: "Volts DC", AC: "Volts AC rms", DIODE: "Volts on the diode range",
}  # fmt: skip
LEAST_OHM = 0.5
"""Below this an ohmmeter shows what its leads have."""


def heading(plan: Plan) -> str:
    """The line under the title."""
    return f"Plan of a first power-up of {plan.file}"


def step_title(number: int, step: Step) -> str:
    """``Step 3. Power on: all tubes out of their sockets``."""
    return f"Step {number}. {step.title}"


def stop_first(plan: Plan) -> list[str]:
    """What is said before anything else where there is to be no power."""
    if not plan.withheld:
        return []
    lead = NOT_YET if plan.blocking else WITHHELD
    return [f"{lead}: {plan.withheld}."]


def finding_text(finding: Finding) -> str:
    """A finding for a list: its line, what is wrong, its rule, why it was accepted."""
    message = finding.message.rstrip(".")
    text = f"line {finding.span.line}, {finding.rule}: {message}"
    return f"{text}; accepted because {finding.accepted}" if finding.accepted else text


def findings_of(plan: Plan) -> list[tuple[str, tuple[Finding, ...]]]:
    """The lists of findings there are, each with what is said ahead of it."""
    lists = (("", plan.blocking), (SETTLE, plan.notices), (ACCEPTED, plan.accepted))
    return [(words, found) for words, found in lists if found]


@dataclass(frozen=True, slots=True)
class Line:
    """One pair of points: its checks, one for each setting of the table (``None``: none)."""

    point: str
    other: str
    checks: tuple[Check | None, ...]

    @property
    def last(self) -> Check:
        """The check at the highest setting."""
        return next(c for c in reversed(self.checks) if c is not None)


@dataclass(frozen=True, slots=True)
class Table:
    """The readings of a step in one unit; ``settings`` are the volts of the mains, in order."""

    unit: str
    settings: tuple[float | None, ...]
    lines: tuple[Line, ...]
    whys: tuple[str, ...]
    power: bool

    @property
    def caption(self) -> str:
        """What the figures are: ``V DC with the supply set to 36 V, 72 V and 120 V``."""
        what = CAPTIONS[self.unit]
        known = [f"{s:.0f} V" for s in self.settings if s is not None]
        return f"{what}, set to {listed(known)}" if known else what

    @property
    def heads(self) -> tuple[str, ...]:
        """Above each setting's readings: the volts of a single one need no saying again."""
        if len(self.settings) == 1:
            return ("range",)
        return tuple("" if s is None else f"at {s:.0f} V" for s in self.settings)

    def remark(self, line: Line) -> str:
        """Everything to know about a line: reason and limit to stop at, note, what it shows."""
        check = line.last
        mark = f"({self.whys.index(check.why) + 1})" if len(self.whys) > 1 and check.why else ""
        shows = [catch_text(c) for c in check.catches]
        told = [t for t in (stop_text(check), check.note, *shows) if t]
        return " ".join(t for t in (mark, "; ".join(told)) if t)

    @property
    def reasons(self) -> tuple[str, ...]:
        """What a reading outside its range speaks of."""
        if self.unit == OHM or not self.whys:
            return ()
        lead = "Outside the range switch off and find out why" if self.power else OUTSIDE
        if len(self.whys) == 1:
            return (f"{lead}. {sentence(self.whys[0])}.",)
        return (f"{lead}:", *(f"({n}) {why}" for n, why in enumerate(self.whys, 1)))


def tables(step: Step) -> list[Table]:
    """The checks of a step as tables, one for each unit and set of settings."""
    found = []
    for unit in dict.fromkeys(c.unit for c in step.checks):
        checks = [c for c in step.checks if c.unit == unit]
        settings = tuple(dict.fromkeys(c.mains for c in checks))
        keys = dict.fromkeys((c.point, c.other, c.position) for c in checks)
        lines = tuple(_line(checks, settings, key) for key in keys)
        whys = dict.fromkeys(c.why for c in checks if c.why)
        found.append(Table(unit, settings, lines, tuple(whys), step.power))
    return found


def _line(
    checks: list[Check], settings: tuple[float | None, ...], key: tuple[str, str, str]
) -> Line:
    mine = {c.mains: c for c in checks if (c.point, c.other, c.position) == key}
    return Line(key[0], key[1], tuple(mine.get(s) for s in settings))


def figure(check: Check, number: float | None) -> str:
    """A figure of a check in its unit, without the unit."""
    if number is None:
        return NOTHING
    if check.unit == OHM:
        return "0" if number < LEAST_OHM else ohms_figure(number)
    if check.unit == AC:
        return ac_text(number)
    return f"{number:.0f}" if abs(number) >= 100 else dc_text(number)


def expected_text(check: Check | None) -> str:
    """What should be read."""
    if check is None:
        return ""
    if check.unit == OHM and check.expected is None:
        return "unknown"
    return figure(check, check.expected)


def range_text(check: Check | None) -> str:
    """The range it should be in."""
    if check is None:
        return ""
    if check.low is None or check.high is None:
        return NOTHING
    if check.high == inf:
        return f"{figure(check, check.low)} or more"
    return f"{figure(check, check.low)}..{figure(check, check.high)}"


def stop_text(check: Check) -> str:
    """Where to stop, as far as the range does not say it."""
    if check.unit == OHM:
        return ""
    parts = []
    if check.stop_above is not None and not _same(check.stop_above, check.high):
        parts.append(f"stop above {figure(check, check.stop_above)}")
    if check.stop_below is not None and not _same(check.stop_below, check.low):
        parts.append(f"stop below {figure(check, check.stop_below)}")
    return ", ".join(parts)


def _same(limit: float, end: float | None) -> bool:
    return end is not None and isclose(limit, end, rel_tol=1e-6, abs_tol=1e-9)


def catch_text(catch: Catch) -> str:
    """``C2 shorted: 0``, ``C4 leaking 1 Mohm: 310k..378k``."""
    low, high = (_plain(v) for v in (catch.low, catch.high))
    return f"{catch.fault.name}: {low if low == high else f'{low}..{high}'}"


def _plain(ohms: float) -> str:
    return "0" if ohms < LEAST_OHM else ohms_figure(ohms)


def unseen_text(step: Step) -> str:
    """The faults no reading of the step shows; empty where all are shown."""
    if not step.unseen:
        return ""
    names = ", ".join(f.name for f in step.unseen)
    return f"Looked for, and shown by none of these readings: {names}."


def charge_cells(charge: Charge) -> tuple[str, ...]:
    """A row for :data:`CHARGES`."""
    thrown = f" ({thrown_text(charge.thrown)})" if charge.thrown else ""
    return (
        charge.capacitor + thrown,
        charge.plus,
        charge.minus,
        f"{charge.volts:.0f}",
        f"{charge.joules:.2g}",
        wait_text(charge),
        _drain(charge),
    )


def _drain(charge: Charge) -> str:
    if charge.through:
        return ", ".join(charge.through)
    return f"perhaps {', '.join(charge.perhaps)}" if charge.perhaps else "nothing"


def wait_text(charge: Charge) -> str:
    """``26 s (17..37)``, or that it never does."""
    if charge.seconds == inf:
        return "not known" if charge.perhaps else "never"
    if charge.high < 10:
        return f"{charge.seconds:.1f} s ({charge.low:.1f}..{charge.high:.1f})"
    return f"{ceil(charge.seconds)} s ({charge.low:.0f}..{ceil(charge.high)})"
