"""What a change does to its own review: the findings about settings, ledger and waivers.

A revision is trusted, and what it says holds, whatever the change says. That the change says
otherwise is told: above advice where the next review would let through more.
"""

from __future__ import annotations

from enum import Enum
from typing import TYPE_CHECKING

from coldcheck.circuit.tubes import accepted_names
from coldcheck.circuit.tubes_added import added_tubes
from coldcheck.drawing.model import Span
from coldcheck.judge.finding import ABOUT_THE_CHANGE, LEVELS, Finding
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.settings.model import Settings


EXPLAINED = (
    "Reported where a revision is trusted (coldcheck review --trusting REV): settings, ledger, "
    "waivers and tube data are then those of that revision, and what a change has otherwise is "
    "reported. As a notice it holds at every gate, and nothing in the change can accept it: "
    "whoever may decide it puts it into the trusted revision."
)


class Change(Enum):
    """The kinds of such findings: the end of the name, and what it means."""

    RULE_OFF = ("rule-off", "a rule, or a family of rules, is off that was on")
    WIDER_GATE = ("wider-gate", "the gate lets through what it held")
    OTHER_FIGURES = ("other-figures", "mains, tolerances or tube data that drawings are judged by")
    NEW_WAIVER = ("new-waiver", "a waiver that the trusted revision does not have")
    LEDGER_GROWN = ("ledger-grown", "the ledger takes in findings, or graver ones")
    NOW_A_SHEET = ("now-a-sheet", "a drawing that was reviewed alone became a sheet of another")
    MOVED_AWAY = ("moved-away", "a drawing lies where this run does not look any more")
    TOUCHED = ("touched", "settings, ledger or tube data differ, and nothing is looser for it")
    GONE = ("gone", "drawings that are not there any more")

    @property
    def rule(self) -> str:
        """The name it is reported under."""
        return ABOUT_THE_CHANGE + self.value[0]

    @property
    def title(self) -> str:
        """What it means, in a few words."""
        return self.value[1]


def told(
    kind: Change, revision: str, file: str, message: str, *, at: tuple[str, ...] = (),
    line: int = 1, remedy: str = "", span: Span | None = None, loosens: bool = True,
) -> Finding:  # fmt: skip
    """A finding about the change since a revision."""
    held = f"Take it back, or have it put into {revision} by somebody who may decide it"
    none = f"Nothing to do where it is meant: {revision} is what counted"
    return Finding(
        rule=kind.rule,
        level="notice" if loosens else LEVELS[0],
        state="drawing",
        at=at,
        span=span or Span(file, line, 1, 2),
        message=message,
        remedy=remedy or (held if loosens else none),
        certainty="certain",
        source=f"this change, against {revision}",
    )


@dataclass(frozen=True, slots=True)
class Differing:
    """A key of the settings that has another value; ``kind`` is what that means."""

    key: str
    kind: Change
    text: str


def differing(old: Settings, new: Settings) -> Iterator[Differing]:
    """What is otherwise in settings that replace others, key by key."""
    yield from _gate(old, new)
    yield from _off(old, new)
    for key, was, now in _figures(old, new):
        yield Differing(key, Change.OTHER_FIGURES, f"{key} is {now}, and was {was}")
    yield from _tubes(old.types, new.types)


def _gate(old: Settings, new: Settings) -> Iterator[Differing]:
    if old.gate != new.gate:
        wider = LEVELS.index(new.gate) > LEVELS.index(old.gate)
        kind = Change.WIDER_GATE if wider else Change.TOUCHED
        yield Differing("gate", kind, f"the gate is {new.gate}, and was {old.gate}")
    if old.undecided != new.undecided:
        kind = Change.TOUCHED if new.undecided == "held" else Change.WIDER_GATE
        text = f"what is undecided is {new.undecided}, and was {old.undecided}"
        yield Differing("undecided", kind, text)


def _off(old: Settings, new: Settings) -> Iterator[Differing]:
    for entry in sorted({*old.off, *new.off}):
        was, now = old.off.get(entry), new.off.get(entry)
        if was == now:
            continue
        if old.off_entry(entry) is None:
            yield Differing(f"off.{entry}", Change.RULE_OFF, f"{entry} is off: {now}")
        else:
            said = "on again" if new.off_entry(entry) is None else f"off for another reason: {now}"
            yield Differing(f"off.{entry}", Change.TOUCHED, f"{entry} is {said}")


def _figures(old: Settings, new: Settings) -> Iterator[tuple[str, object, object]]:
    pairs = [
        ("mains.voltage", old.mains_voltage, new.mains_voltage),
        ("mains.frequency", old.mains_frequency, new.mains_frequency),
        *((f"tolerance.{n.replace('_', '-')}", getattr(old.usual, n), getattr(new.usual, n))
          for n in type(old.usual).__dataclass_fields__),
    ]  # fmt: skip
    for key, was, now in pairs:
        if str(was) != str(now):
            key = "mains.tolerance" if key == "tolerance.mains" else key
            yield key, *("not said" if v is None else f"{v:g}" for v in (was, now))  # type: ignore[misc]


def _tubes(old: Mapping[str, object], new: Mapping[str, object]) -> Iterator[Differing]:
    """Data of types: only a type that nobody had lets nothing through that was judged before."""
    on_file = {*accepted_names(), *added_tubes().types} if set(new) - set(old) else set()
    for name in sorted({*old, *new}):
        if name not in old and name in on_file:
            text = f"tube data: {name} is other data than those on file"
            yield Differing("data", Change.OTHER_FIGURES, text)
        elif name not in old:
            yield Differing("data", Change.TOUCHED, f"tube data: {name} is new")
        elif repr(old[name]) != repr(new.get(name)):
            what = "is other data" if name in new else "is gone"
            yield Differing("data", Change.OTHER_FIGURES, f"tube data: {name} {what}")
