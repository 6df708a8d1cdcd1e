"""All that a set of readings says of a circuit: each one judged, the suspects, what to do next."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING, TypeAlias

from coldcheck.anatomy.running import unforetold
from coldcheck.bench.chart.conditions import as_drawn
from coldcheck.bench.diagnosis.channels import Channel, unsafe_nets
from coldcheck.bench.diagnosis.diagnosis import APART, Diagnosis
from coldcheck.bench.diagnosis.doubles import wanted, with_pairs
from coldcheck.bench.diagnosis.heard import heard, with_hearing
from coldcheck.bench.diagnosis.judged import WITHIN, JudgeReadings
from coldcheck.bench.diagnosis.known import Known
from coldcheck.bench.diagnosis.library import NothingKnown, models_for, with_apart, with_channels
from coldcheck.bench.diagnosis.models import BY_THEMSELVES
from coldcheck.bench.diagnosis.pitch import hertz_of, pitch_columns
from coldcheck.bench.diagnosis.readings import AMP, DC, FREQUENCY, OHM, SIGNAL
from coldcheck.bench.diagnosis.suspects import GOOD
from coldcheck.bench.instruments.clip import mains_side
from coldcheck.bench.instruments.instruments import AVERAGE, GENERIC, MEAN, TRUE_RMS
from coldcheck.circuit.model import GROUND
from coldcheck.records import dataclass
from coldcheck.solve.solution import WARM, State

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from coldcheck.bench.chart.conditions import Conditions
    from coldcheck.bench.diagnosis.heard import Heard
    from coldcheck.bench.diagnosis.judged import Judged
    from coldcheck.bench.diagnosis.known import Keeper
    from coldcheck.bench.diagnosis.library import Library
    from coldcheck.bench.diagnosis.models import Models
    from coldcheck.bench.diagnosis.ranked import Next, Ranked, Weighed
    from coldcheck.bench.diagnosis.readings import Reading
    from coldcheck.bench.diagnosis.suspects import Suspect
    from coldcheck.bench.instruments.instruments import Instrument
    from coldcheck.circuit.model import Circuit

BEYOND = 0.5
"""Share of the belief from which the answer is that it is nothing that is considered here."""

WORTH = 0.02
"""Bits below which a further reading is not worth taking."""

UNLIKELY = 0.01
"""Share of the belief below which a group is not told."""


@dataclass(frozen=True, slots=True)
class Leading:
    """A group of suspects that the readings cannot separate, and what speaks for its first.

    ``lost`` are the nets that the first leaves without anything that holds them.
    """

    members: tuple[Ranked, ...]
    weighed: tuple[Weighed, ...]
    lost: tuple[str, ...] = ()

    @property
    def share(self) -> float:
        """Of the belief, all members together."""
        return sum(r.share for r in self.members)

    @property
    def refuted(self) -> bool:
        """Whether the readings speak against every member: then a share would mean nothing."""
        return all(r.refuted for r in self.members)

    @property
    def sound(self) -> bool:
        """Whether nothing at all being wrong is among them, and not refuted."""
        return any(r.suspect is GOOD and not r.refuted for r in self.members)


@dataclass(frozen=True, slots=True)
class Account:
    """See the module.

    leading
        The groups, the likeliest first; empty where there is nothing to diagnose from.
    unused
        Readings that are judged but take no part in the diagnosis.
    unseen
        Suspects that these readings could not tell from a sound circuit.
    unsolved
        Suspect's words -> why it was not worked out.
    reason
        Why there is no diagnosis at all.
    conditions
        What the figures are for that the readings are compared with.
    beyond
        The share of belief that it is something that is not considered here.
    """

    file: str
    title: str
    live: bool
    judged: tuple[Judged, ...]
    leading: tuple[Leading, ...] = ()
    following: tuple[Next, ...] = ()
    unused: tuple[Reading, ...] = ()
    unseen: tuple[Suspect, ...] = ()
    unsolved: tuple[tuple[str, str], ...] = ()
    reason: str = ""
    conditions: Conditions | None = None
    beyond: float = 0.0

    @property
    def outside(self) -> tuple[Judged, ...]:
        """The readings that are not within their range."""
        return tuple(j for j in self.judged if j.verdict != WITHIN)

    @property
    def explained(self) -> bool:
        """Whether anything considered here accounts for the readings."""
        return bool(self.leading) and self.beyond < BEYOND and not self.leading[0].refuted


_Answer: TypeAlias = "tuple[tuple[tuple[Reading, ...], bool], Diagnosis, tuple[Reading, ...]]"
"""What was asked (the readings, and whether of two faults), what came of it, what was left out."""


@dataclass(slots=True)
class Evening:
    """A circuit on the bench: readings come in, the account is drawn up when asked."""

    circuit: Circuit
    instruments: tuple[Instrument, ...] = GENERIC
    readings: list[Reading] = field(default_factory=list)
    keeper: Keeper | None = None
    known: Known = field(init=False)
    _judge: JudgeReadings = field(init=False)
    _answer: _Answer | None = None
    _wide: Library | None = None
    _heard: tuple[Heard, ...] | None = None

    def __post_init__(self) -> None:
        dc = next(i for i in self.instruments if i.response == MEAN)
        ac = next(i for i in self.instruments if i.response in (TRUE_RMS, AVERAGE))
        true = [i for i in self.instruments if i.response == TRUE_RMS]
        self._judge = JudgeReadings(self.circuit, dc, true[0] if true else ac)
        self.known = Known(self.circuit, dc, self.keeper)

    def take(self, readings: Iterable[Reading]) -> None:
        """Take readings in, those across a part with its plus and minus as they are when sound."""
        self.readings += self.led(readings)

    def led(self, readings: Iterable[Reading]) -> list[Reading]:
        """Readings as they are taken in."""
        return [self._judge.led(r) for r in readings]

    def judged(self, reading: Reading) -> Judged:
        """One reading against its range."""
        return self._judge.one(reading)

    def account(self, *, following: int = 3) -> Account:
        """What all readings so far say."""
        head = self._head()
        diagnosis, unused = self.diagnosis(two=True)
        if isinstance(diagnosis, str):
            return Account(*head, unused=unused, reason=diagnosis, conditions=self.conditions())
        library = diagnosis.library
        words = {s.key: s.words.replace("{}", "so much") for s in library.suspects}
        groups = diagnosis.groups() if diagnosis.taken else ()
        told = [g for k, g in enumerate(groups) if k == 0 or sum(r.share for r in g) >= UNLIKELY]
        return Account(
            *head,
            tuple(
                Leading(g, diagnosis.weighed(g[0]), library.lost.get(g[0].suspect.key, ()))
                for g in told
            ),
            tuple(n for n in diagnosis.varied_points(following) if n.bits >= WORTH),
            unused,
            _unseen(diagnosis) if diagnosis.taken else (),
            tuple((words[k], why) for k, why in library.unsolved.items()),
            conditions=self.conditions(),
            beyond=diagnosis.outside if diagnosis.taken else 0.0,
        )

    def conditions(self) -> Conditions:
        """What the figures are for that the readings are compared with."""
        meters = (self._judge.dc.name, self._judge.ac.name)
        return as_drawn(self.circuit, State(WARM, WARM), meters)

    def head(self) -> Account:
        """Whose readings these are, and how they are judged; nothing of what explains them."""
        return Account(*self._head(), conditions=self.conditions())

    def _head(self) -> tuple[str, str, bool, tuple[Judged, ...]]:
        drawing = self.circuit.drawing
        live = GROUND in mains_side(self.circuit)
        return drawing.file, drawing.title or "", live, self._judge.all(self.readings)

    def diagnosis(self, *, two: bool = False) -> tuple[Diagnosis | str, tuple[Reading, ...]]:
        """The diagnosis, or why there is none, and the readings that take no part in it.

        With ``two`` faults at once where no single one fits, which takes seconds: what answers a
        reading that was typed in does without.
        """
        library = self.known.library()
        if isinstance(library, str):
            return library, tuple(self.readings)
        asked = tuple(self.readings), two
        if self._answer is None or self._answer[0] != asked:
            usable = [r for r in asked[0] if r.kind == OHM or (r.kind != AMP and r.state == WARM)]
            wide = self._widened(library, usable)
            diagnosis = Diagnosis(wide)
            strange = diagnosis.take(usable)
            if two and wanted(diagnosis):
                diagnosis = with_pairs(diagnosis, self._models(wide))
            left = (*(r for r in asked[0] if r not in usable), *strange)
            self._answer = asked, diagnosis, left
        return self._answer[1:]

    def _widened(self, library: Library, readings: Iterable[Reading]) -> Library:
        """The library with a channel for whatever is read between two points."""
        wide, unsafe = self._wide or library, unsafe_nets(self.circuit) - {GROUND}
        asked = dict.fromkeys(
            Channel(r.kind, r.net, r.point, self._judge.peak(r), 0.0, r.other)
            for r in readings
            if (GROUND not in (r.net, r.other) or r.kind in BY_THEMSELVES)
            and not {r.net, r.other} & unsafe
        )
        more = [c for c in asked if wide.channel(c.kind, c.net, c.other) is None]
        plain = [c for c in more if c.kind not in BY_THEMSELVES]
        if plain:
            wide = with_channels(wide, self.circuit, plain, self._judge.dc)
        wide = self._counting(wide, [c for c in more if c.kind == FREQUENCY])
        self._wide = self._hearing(wide, [c for c in more if c.kind == SIGNAL])
        return self._wide

    def _models(self, library: Library) -> Models:
        """What turns further faults into models of the channels of a library."""
        models = self.known.models()
        same = models.channels == library.channels
        return models if same else models_for(models, library)

    def first_points(self) -> tuple[Channel, ...]:
        """Where to read first while the suspects are still being worked out: DC, rails first.

        Empty where the sound circuit itself has no numbers.
        """
        try:
            channels = self.known.models().channels
        except NothingKnown:
            return ()
        volts = [c for c in channels if c.kind == DC]
        return tuple(sorted(volts, key=lambda c: ("." in c.point, -c.peak)))

    def _counting(self, library: Library, channels: list[Channel]) -> Library:
        """The library with channels of a counter, off what an oscillator moves."""
        mains, own = hertz_of(self.circuit), unforetold(self.circuit)
        known = [c for c in channels if not {c.net, c.other} & own]
        if not known or mains is None:
            return library
        return with_apart(library, known, *pitch_columns(library, known, mains))

    def _hearing(self, library: Library, channels: list[Channel]) -> Library:
        """The library with channels of the drawing's signal, where it has one."""
        if not channels:
            return library
        if self._heard is None:
            assert library.solved is not None
            self._heard = heard(self.circuit, library.solved)
        return with_hearing(library, self.circuit, channels, self._heard)


def _unseen(diagnosis: Diagnosis) -> tuple[Suspect, ...]:
    """The suspects that at no size would make these readings differ from a sound circuit's."""
    library = diagnosis.library
    far = diagnosis.apart(range(len(library.owner)), 0) > APART
    seen = set(library.owner[far].tolist())
    owners: Sequence[int] = sorted(set(library.owner.tolist()) - seen - {0})
    return tuple(library.suspects[o] for o in owners)
