"""What is known of a circuit's faults: worked out once, in the background, and kept."""

from __future__ import annotations

import threading
from dataclasses import field
from typing import TYPE_CHECKING, Protocol

from coldcheck.bench.diagnosis.heard import with_hearing
from coldcheck.bench.diagnosis.library import NothingKnown, library_of, models_of
from coldcheck.bench.diagnosis.shelved import from_bytes, to_bytes
from coldcheck.bench.diagnosis.suspects import suspects_of
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from coldcheck.bench.diagnosis.library import Library
    from coldcheck.bench.diagnosis.models import Models
    from coldcheck.bench.instruments.instruments import Instrument
    from coldcheck.circuit.model import Circuit


class Keeper(Protocol):
    """Where libraries are kept between evenings, under the content they were made from."""

    def get(self) -> bytes | None:
        """What was kept of this drawing; ``None`` for nothing."""

    def put(self, content: bytes) -> None:
        """Keep it; does not raise."""


@dataclass(slots=True)
class Known:
    """The library of a circuit, from where it was kept or worked out when first wanted.

    ``begin`` works it out in a thread of its own, which ends with the program; ``library`` waits
    for it.
    """

    circuit: Circuit
    meter: Instrument
    keeper: Keeper | None = None
    done: int = 0
    every: int = 0
    _found: Library | str | None = None
    _broken: BaseException | None = None
    _thread: threading.Thread | None = None
    _models: Models | None = None
    _lock: threading.Lock = field(default_factory=threading.Lock)

    @property
    def ready(self) -> bool:
        """Whether :meth:`library` answers at once."""
        return self._found is not None

    @property
    def share(self) -> float:
        """How much of it is worked out."""
        return self.done / self.every if self.every else 0.0

    def begin(self) -> None:
        """Start to work it out beside whatever else is done."""
        if self._found is None and self._thread is None:
            self._thread = threading.Thread(target=self._in_background, daemon=True)
            self._thread.start()

    def wait(self, seconds: float) -> None:
        """Give it so long to get ready."""
        if self._thread is not None:
            self._thread.join(seconds)

    def library(self) -> Library | str:
        """The library, or why there is none."""
        if self._thread is not None:
            self._thread.join()
        if self._broken is not None:
            raise self._broken
        if self._found is None:
            self._found = self._work_out()
        return self._found

    def models(self) -> Models:
        """What turns further faults into models. Raises NothingKnown."""
        with self._lock:
            if self._models is None:
                self._models = models_of(self.circuit, self.meter)
            return self._models

    def _in_background(self) -> None:
        try:
            self._found = self._work_out()
        except BaseException as problem:
            self._broken = problem

    def _work_out(self) -> Library | str:
        suspects = suspects_of(self.circuit)
        content = self.keeper.get() if self.keeper is not None else None
        found = None if content is None else from_bytes(content, suspects)
        if found is not None:
            return found
        try:
            found = library_of(self.circuit, suspects, self.meter, self._hear, self.models())
            found = with_hearing(found, self.circuit)
        except NothingKnown as problem:
            return str(problem)
        if self.keeper is not None:
            self.keeper.put(to_bytes(found))
        return found

    def _hear(self, done: int, every: int) -> None:
        self.done, self.every = done, every
