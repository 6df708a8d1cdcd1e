"""Readings typed in: what is taken, taken back and changed, and what is said of each."""

from __future__ import annotations

from dataclasses import field, replace
from typing import TYPE_CHECKING

from coldcheck.records import dataclass

if TYPE_CHECKING:
    from coldcheck.bench.diagnosis.account import Evening
    from coldcheck.bench.diagnosis.judged import Judged
    from coldcheck.bench.diagnosis.readings import Reading
    from coldcheck.cli.journal import Journal

HELP = """\
a reading    B1 284          volts DC, from gnd
             B1 dc 284,5     a decimal comma, an exponent (2.845e2), mV, kV
             V2.grid ac 300 mV
             RES hum 1.2; 120 Hz   the ripple; what a counter shows of it
             V2.plate signal 30    AC with the drawing's signal on, as it states it
             LIFT ohm 19k    power off; OL where there is no path
             V3.h1 to V3.h2 ac 6.3    between any two points, the first at red
             across R12 46 mV         the two ends of a part, winding or heater
             through R7 12 mA         in a lead that is lifted for the meter
a value      13.2            of the point that is asked for
y            take the value that was offered instead of the one typed
list         what was read so far, numbered
undo         take back what was done last
edit 2 12.8  another value for the second reading of the list
drop 2       without the second reading of the list
skip         ask for another point
forget       begin afresh
done         the report"""

YES = frozenset(("y", "yes"))
ENDS = frozenset(("done", "end", "quit", "exit", "q"))


@dataclass(slots=True)
class Session:
    """An evening's readings with what they were before each step, kept as they are typed.

    ``offered`` is the last reading as it was perhaps meant.
    """

    evening: Evening
    journal: Journal
    past: list[tuple[Reading, ...]] = field(default_factory=list)
    offered: Reading | None = None

    def command(self, text: str) -> str | None:
        """What a command answers; ``None`` where the line is none."""
        word, _, rest = text.partition(" ")
        match word.casefold(), rest.strip():
            case (("help" | "?"), ""):
                return HELP
            case "list", "":
                return self.listed()
            case "undo", "":
                return self.undo()
            case "forget", "":
                self._now([])
                return "begun afresh; undo brings the readings back"
            case "drop", number if number.isdecimal():
                return self.drop(int(number))
            case "edit", what if what.partition(" ")[0].isdecimal():
                number, _, value = what.partition(" ")
                return self.edit(int(number), value.strip())
            case (("drop" | "edit"), _):
                return f"{word} what? Write the number that list shows: {word} 2"
            case _:
                return None

    def put(self, reading: Reading) -> Judged:
        """Take a reading in the place of an earlier one of the same place."""
        (led,) = self.evening.led([reading])
        self._now([*(r for r in self.evening.readings if not r.same_place(led)), led])
        return self._judged(led)

    def _judged(self, reading: Reading) -> Judged:
        judged = self.evening.judged(reading)
        meant = judged.meant
        self.offered = None if meant is None else replace(reading, value=meant)
        return judged

    def undo(self) -> str:
        """Everything as it was before the last step."""
        if not self.past:
            return "nothing to take back"
        self.evening.readings = list(self.past.pop())
        self.offered = None
        self.journal.keep(self.evening.readings)
        return f"taken back; {self._count()}"

    def drop(self, number: int) -> str:
        """Without one of the readings."""
        gone = self._numbered(number)
        if gone is None:
            return self._none_such(number)
        self._now([r for r in self.evening.readings if r is not gone])
        return f"{told(gone)} is gone; {self._count()}"

    def edit(self, number: int, text: str) -> str:
        """Another value for one of the readings; what is wrong with it."""
        from coldcheck.bench.diagnosis.noted import ReadingsParser

        old = self._numbered(number)
        if old is None:
            return self._none_such(number)
        parser = ReadingsParser(self.evening.circuit)
        new = parser.again(old, text)
        if new is None:
            return "; ".join(s.message for s in parser.slips)
        changed = replace(old, value=new)
        self._now([changed if r is old else r for r in self.evening.readings])
        return said(self._judged(changed))

    def listed(self) -> str:
        """The readings, numbered, each with its verdict."""
        judged = [self.evening.judged(r) for r in self.evening.readings]
        return "\n".join(f"{k:>3}  {said(j)}" for k, j in enumerate(judged, 1)) or "nothing yet"

    def _now(self, readings: list[Reading]) -> None:
        self.past.append(tuple(self.evening.readings))
        self.evening.readings = readings
        self.offered = None
        self.journal.keep(readings)

    def _numbered(self, number: int) -> Reading | None:
        known = self.evening.readings
        return known[number - 1] if 0 < number <= len(known) else None

    def _none_such(self, number: int) -> str:
        return f"there is no reading {number}; {self._count()}: list shows them"

    def _count(self) -> str:
        count = len(self.evening.readings)
        return f"{count} reading{'' if count == 1 else 's'} now"


def told(reading: Reading) -> str:
    """A reading in a few words: ``B1 dc 284 V``."""
    from coldcheck.report.diagnosis.words import number
    from coldcheck.report.shared.plain import clean

    return clean(f"{reading.point} {reading.kind} {number(reading.kind, reading.value)}")


def said(judged: Judged) -> str:
    """A reading with its verdict."""
    from coldcheck.report.diagnosis.words import span, verdict
    from coldcheck.report.shared.plain import clean

    return clean(f"{told(judged.reading)}: {verdict(judged)} ({span(judged)})")


def question(judged: Judged, meant: Reading) -> str:
    """Whether something else was meant: a range, a prefix or the tips read wrongly."""
    from coldcheck.report.diagnosis.words import number, times

    kind = judged.reading.kind
    typed, other = judged.reading.value, number(kind, meant.value)
    if meant.value == -typed:
        return f"Were the tips the other way round? y takes {other}; else it stays as it is."
    much = times(typed / meant.value)
    about = f"That is {much} {other}, which would be about right."
    return f"{about} y takes {other}; else it stays as it is."
