"""Work put off: only the newest job of a key is done, and a job that fails stops nothing."""

from __future__ import annotations

from queue import Queue

from coldcheck.serve.later import Later

SOON = 60.0


def test_of_jobs_under_one_key_the_newest_is_done() -> None:
    done: Queue[str] = Queue()
    later = Later(lambda error: done.put(f"failed: {error}"))
    later.put("a", lambda: done.put("old"), 3600.0)
    later.put("a", lambda: done.put("new"), 0.01)
    later.put("b", lambda: done.put("other"), 0.05)
    assert [done.get(timeout=SOON), done.get(timeout=SOON)] == ["new", "other"]
    later.end()
    assert done.empty()


def test_a_job_that_fails_is_told_and_the_next_is_done() -> None:
    done: Queue[str] = Queue()
    later = Later(lambda error: done.put(f"failed: {error}"))

    def fail() -> None:
        raise ValueError("no")

    later.put("a", fail)
    assert done.get(timeout=SOON) == "failed: no"
    later.put("a", lambda: done.put("done"))
    assert done.get(timeout=SOON) == "done"
    later.end()


def test_a_job_that_was_dropped_is_not_done() -> None:
    done: Queue[str] = Queue()
    later = Later(lambda error: None)
    later.put("a", lambda: done.put("dropped"), 0.2)
    later.drop("a")
    later.put("b", lambda: done.put("kept"), 0.3)
    assert done.get(timeout=SOON) == "kept"
    assert done.empty()
    later.end()
