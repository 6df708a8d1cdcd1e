"""All that a set of readings says of a circuit: each one judged, the suspects, what to do next."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING

from coldcheck.bench.diagnosis.diagnosis import APART, Diagnosis
from coldcheck.bench.diagnosis.judged import WITHIN, JudgeReadings
from coldcheck.bench.diagnosis.library import NothingKnown, library_of
from coldcheck.bench.diagnosis.readings import OHM
from coldcheck.bench.diagnosis.suspects import GOOD, suspects_of
from coldcheck.bench.instruments.clip import mains_side
from coldcheck.bench.instruments.instruments import AVERAGE, GENERIC, MEAN, TRUE_RMS
from coldcheck.circuit.model import GROUND
from coldcheck.records import dataclass
from coldcheck.solve.solution import WARM

if TYPE_CHECKING:
    from collections.abc import Sequence

    from coldcheck.bench.diagnosis.judged import Judged
    from coldcheck.bench.diagnosis.library import Library
    from coldcheck.bench.diagnosis.ranked import Next, Ranked, Weighed
    from coldcheck.bench.diagnosis.readings import Reading
    from coldcheck.bench.diagnosis.suspects import Suspect
    from coldcheck.bench.instruments.instruments import Instrument
    from coldcheck.circuit.model import Circuit

EXPLAINED = 4.0
"""Mean square of the deviations left, above which a suspect does not explain the readings."""

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
    def sound(self) -> bool:
        """Whether nothing at all being wrong is among them."""
        return any(r.suspect is GOOD for r in self.members)


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

    @property
    def outside(self) -> tuple[Judged, ...]:
        """The readings that are not within their range."""
        return tuple(j for j in self.judged if j.verdict != WITHIN)

    @property
    def explained(self) -> bool:
        """Whether the first suspect accounts for the readings."""
        return bool(self.leading) and self.leading[0].members[0].misfit <= EXPLAINED


@dataclass(slots=True)
class Evening:
    """A circuit on the bench: readings come in, the account is drawn up when asked."""

    circuit: Circuit
    instruments: tuple[Instrument, ...] = GENERIC
    readings: list[Reading] = field(default_factory=list)
    _judge: JudgeReadings = field(init=False)
    _known: Library | str | None = None

    def __post_init__(self) -> None:
        dc = next(i for i in self.instruments if i.response == MEAN)
        ac = next(i for i in self.instruments if i.response in (TRUE_RMS, AVERAGE))
        true = [i for i in self.instruments if i.response == TRUE_RMS]
        self._judge = JudgeReadings(self.circuit, dc, true[0] if true else ac)

    def judged(self, reading: Reading) -> Judged:
        """One reading against its range."""
        return self._judge.one(reading)

    def account(self, *, following: int = 3) -> Account:
        """What all readings so far say."""
        drawing = self.circuit.drawing
        live = GROUND in mains_side(self.circuit)
        head = (drawing.file, drawing.title or "", live, self._judge.all(self.readings))
        diagnosis, unused = self.diagnosis()
        if isinstance(diagnosis, str):
            return Account(*head, unused=unused, reason=diagnosis)
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
            tuple(n for n in diagnosis.next_points(following) if n.bits >= WORTH),
            unused,
            _unseen(diagnosis) if diagnosis.taken else (),
            tuple((words[k], why) for k, why in library.unsolved.items()),
        )

    def diagnosis(self) -> tuple[Diagnosis | str, tuple[Reading, ...]]:
        """The diagnosis, or why there is none, and the readings that take no part in it."""
        library = self._library()
        if isinstance(library, str):
            return library, tuple(self.readings)
        usable = [r for r in self.readings if r.kind == OHM or r.state == WARM]
        diagnosis = Diagnosis(library)
        strange = diagnosis.take(usable)
        return diagnosis, (*(r for r in self.readings if r not in usable), *strange)

    def _library(self) -> Library | str:
        """All models, solved when first asked for; why there are none."""
        if self._known is None:
            try:
                known = suspects_of(self.circuit)
                self._known = library_of(self.circuit, known, self._judge.dc)
            except NothingKnown as problem:
                self._known = str(problem)
        return self._known


def _unseen(diagnosis: Diagnosis) -> tuple[Suspect, ...]:
    """The suspects that at no size would make these readings differ from a sound circuit's."""
    library = diagnosis.library
    far = diagnosis.apart(range(len(library.owner)), 0) > APART
    seen = set(library.owner[far].tolist())
    owners: Sequence[int] = sorted(set(library.owner.tolist()) - seen - {0})
    return tuple(library.suspects[o] for o in owners)
