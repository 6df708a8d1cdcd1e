"""Processes that review for us: they end when we do, and one may die without the others.

Whatever ends this process (a signal, a crash) ends them: the system sends them the signal where
it can, and everywhere a thread of theirs watches whether we are still there. A worker that dies
over a drawing costs that drawing its report; another worker goes on with the rest.
"""

from __future__ import annotations

import gc
import os
import signal
import sys
import threading
from collections import deque
from contextlib import contextmanager, suppress
from dataclasses import field
from multiprocessing import get_context, parent_process
from multiprocessing.connection import wait
from pickle import PicklingError
from typing import TYPE_CHECKING, Generic, TypeVar

from coldcheck.cli import COLLECT_AFTER
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from multiprocessing.connection import Connection
    from multiprocessing.context import SpawnProcess

T = TypeVar("T")

_PR_SET_PDEATHSIG = 1


@contextmanager
def _not_from_here() -> Iterator[None]:
    """What starts within looks for no modules where we stand: it may be a stranger's folder."""
    before = os.environ.get("PYTHONSAFEPATH")
    os.environ["PYTHONSAFEPATH"] = "1"
    try:
        yield
    finally:
        if before is None:
            del os.environ["PYTHONSAFEPATH"]
        else:
            os.environ["PYTHONSAFEPATH"] = before


@dataclass(frozen=True, slots=True)
class Died:
    """A worker did not come back from a drawing; ``status`` is minus the signal that ended it."""

    file: str
    status: int | None


@dataclass(slots=True)
class _Worker:
    """One process, the pipe to it, and the number of the drawing it is at."""

    process: SpawnProcess
    pipe: Connection
    at: int | None = None


@dataclass(slots=True)
class Pool(Generic[T]):
    """Does a job for each file in ``count`` processes; the answers come in the order of files.

    ``job`` crosses to the other processes. What it raises is raised here, when its turn comes.
    """

    job: Callable[[str], T]
    files: Sequence[str]
    count: int
    _left: deque[int] = field(init=False)
    _done: dict[int, T | Died | Exception] = field(default_factory=dict)
    _workers: list[_Worker] = field(default_factory=list)

    def __iter__(self) -> Iterator[T | Died]:
        self._left = deque(range(len(self.files)))
        try:
            self._workers += [self._started() for _ in range(self.count)]
            for number in range(len(self.files)):
                while number not in self._done:
                    self._attend()
                answer = self._done.pop(number)
                if isinstance(answer, Exception):
                    raise answer
                yield answer
        finally:
            for worker in self._workers:
                worker.process.kill()

    def _started(self) -> _Worker:
        # A fresh interpreter in each process: forking one that runs threads is not safe everywhere.
        context = get_context("spawn")
        ours, theirs = context.Pipe()
        process = context.Process(target=_work, args=(theirs, self.job), daemon=True)
        with _not_from_here():
            process.start()
        theirs.close()  # or the end of the process would not be seen at this end
        worker = _Worker(process, ours)
        self._next(worker)
        return worker

    def _next(self, worker: _Worker) -> None:
        worker.at = self._left.popleft() if self._left else None
        if worker.at is not None:
            with suppress(OSError):  # it is dead already, which is seen at the other end
                worker.pipe.send(self.files[worker.at])

    def _attend(self) -> None:
        """Wait until some worker answers, or dies."""
        busy = {w.pipe: w for w in self._workers if w.at is not None}
        for pipe in wait(list(busy)):
            worker = busy[pipe]  # type: ignore[index]
            assert worker.at is not None
            try:
                self._done[worker.at] = worker.pipe.recv()
            except (EOFError, OSError):
                self._buried(worker)
            else:
                self._next(worker)

    def _buried(self, worker: _Worker) -> None:
        assert worker.at is not None
        worker.process.join()
        self._done[worker.at] = Died(self.files[worker.at], worker.process.exitcode)
        self._workers.remove(worker)
        if self._left:
            self._workers.append(self._started())


def _work(pipe: Connection, job: Callable[[str], object]) -> None:
    """The life of a worker: a name comes in, an answer goes out."""
    _end_with_parent()
    gc.set_threshold(COLLECT_AFTER)
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent has it too, and ends us
    with suppress(EOFError, OSError):
        while True:
            answer = _answer(job, pipe.recv())
            try:
                pipe.send(answer)
            except (PicklingError, TypeError, ValueError, AttributeError) as error:
                pipe.send(RuntimeError(f"{type(error).__name__}: {error}"))


def _answer(job: Callable[[str], object], file: str) -> object:
    try:
        return job(file)
    except Exception as error:
        return error


def _end_with_parent() -> None:
    parent = parent_process()
    assert parent is not None
    threading.Thread(target=_watch, args=(parent.sentinel,), daemon=True).start()
    if sys.platform == "linux":
        import ctypes

        with suppress(OSError, AttributeError):
            ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGKILL)
        if os.getppid() != parent.pid:
            os._exit(1)


def _watch(sentinel: int) -> None:
    """Wait for the end of the parent and end with it, in the middle of whatever is done."""
    wait([sentinel])
    os._exit(1)
