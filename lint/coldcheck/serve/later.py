"""Work put off: one thread, and for each key only the newest job that was asked for.

While someone types, each key stroke asks for the same work anew; the thread does it once the
asking has stopped for a moment, and typing never waits for it.
"""

from __future__ import annotations

import threading
import time
from dataclasses import field
from typing import TYPE_CHECKING

from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Callable


@dataclass(slots=True)
class Later:
    """A thread that does jobs when their time has come, in the order of their times.

    ``failed`` is told what a job let escape; the thread goes on.
    """

    failed: Callable[[Exception], None]
    _jobs: dict[str, tuple[float, Callable[[], None]]] = field(default_factory=dict)
    _changed: threading.Condition = field(default_factory=threading.Condition)
    _started: bool = False
    _ended: bool = False

    def put(self, key: str, job: Callable[[], None], delay: float = 0.0) -> None:
        """Do ``job`` in ``delay`` seconds, in the place of one put before under the same key."""
        with self._changed:
            self._jobs[key] = (time.monotonic() + delay, job)
            if not self._started:
                self._started = True
                # A review that is under way must not keep the program from ending.
                threading.Thread(target=self._run, daemon=True, name="coldcheck").start()
            self._changed.notify()

    def drop(self, key: str) -> None:
        """Forget the job of a key, unless it has begun."""
        with self._changed:
            self._jobs.pop(key, None)

    def end(self) -> None:
        """Forget every job; the thread ends after the one it is at."""
        with self._changed:
            self._ended = True
            self._jobs.clear()
            self._changed.notify()

    def _run(self) -> None:
        while (job := self._next()) is not None:
            try:
                job()
            except Exception as error:
                self.failed(error)

    def _next(self) -> Callable[[], None] | None:
        """The next job that is due, waited for; ``None`` at the end."""
        with self._changed:
            while not self._ended:
                now = time.monotonic()
                key = min(self._jobs, key=lambda k: self._jobs[k][0], default=None)
                if key is None:
                    self._changed.wait()
                elif self._jobs[key][0] <= now:
                    return self._jobs.pop(key)[1]
                else:
                    self._changed.wait(self._jobs[key][0] - now)
        return None
