"""Processes end with their parent; a drawing that takes too much costs its own report only."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from datetime import date
from pathlib import Path

import pytest

from coldcheck.cli import FAILED, UNREADABLE, many
from coldcheck.cli.cache import Cache
from coldcheck.cli.memory import bounded
from coldcheck.cli.workers import Died, Pool
from coldcheck.solve.work import LARGEST_MATRIX, MOST_WORK, TooMuchWork, Work
from coldcheck.verdict import engine, running

PATIENCE = 60.0
"""Seconds after which what still runs is taken to run for ever: a bound, no measure."""

GOOD = "B1 --+[E1 24 V]-- gnd\nB1 --[R1 10k]-- gnd\n"
TODAY = date(2026, 6, 1)
linux = pytest.mark.skipif(sys.platform != "linux", reason="looks into /proc")


def ring(size: int) -> str:
    """Diodes and capacitors in a ring on a winding: every current depends on every other."""
    lines = ["mains 120 V 60 Hz\ntransformer T1\n    primary pri 120 V 4 ohm\n"]
    lines.append("    winding ht 250 V 70 mA 100 ohm\nline -- T1.pri.1\nneutral -- T1.pri.2\n")
    lines.append("T1.ht.1 -- N0\nT1.ht.2 -- gnd\n")
    for n in range(size):
        lines.append(f"N{n} --[D{n + 1} 1N4007]-> N{(n + 1) % size}\n")
        other = "gnd" if n % 2 else f"N{(n + 1) % size}"
        lines.append(f"N{n} --[C{n + 1} 1 uF 400 V]-- {other}\n")
    return "".join(lines)


# -- processes -----------------------------------------------------------------------------------


def below(process: int) -> set[int]:
    """The processes that a process started and what those started."""
    found: set[int] = set()
    for task in Path(f"/proc/{process}/task").iterdir():
        children = {int(p) for p in (task / "children").read_text().split()}
        found |= children.union(*map(below, children)) if children else set()
    return found


def by_default() -> None:
    """A run in the background ignores the hang-up, and what it starts would inherit that."""
    signal.signal(signal.SIGHUP, signal.SIG_DFL)


def lives(process: int) -> bool:
    try:
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


@linux
@pytest.mark.parametrize("end", [signal.SIGTERM, signal.SIGHUP, signal.SIGKILL])
def test_a_signal_leaves_no_worker_running(tmp_path, end):
    for n in range(80):  # work for far longer than the second below
        (tmp_path / f"{n}.tube").write_text(ring(14))
    command = [sys.executable, "-m", "coldcheck", "review", "--jobs", "2", "--no-cache", tmp_path]
    with subprocess.Popen(
        command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, preexec_fn=by_default
    ) as parent:
        started, until = set(), time.monotonic() + PATIENCE
        while len(started) < 2 and time.monotonic() < until:
            started = below(parent.pid)
            time.sleep(0.05)
        time.sleep(1.0)  # now they are at work
        started |= below(parent.pid)
        parent.send_signal(end)
        assert parent.wait(PATIENCE) == -end
    assert len(started) >= 2
    left = started
    while left and time.monotonic() < until:
        left = {p for p in left if lives(p)}
        time.sleep(0.05)
    for process in left:
        os.kill(process, signal.SIGKILL)
    assert not left


@linux
def test_the_watch_alone_ends_a_process_in_the_middle_of_its_work():
    """What holds where the system sends no signal: the end of a pipe is seen by a thread."""
    code = (
        "import threading; from coldcheck.cli.workers import _watch\n"
        "threading.Thread(target=_watch, args=(0,), daemon=True).start()\n"
        "print('up', flush=True)\n"
        "while True: sum(range(1000))\n"
    )
    pipe = subprocess.PIPE
    with subprocess.Popen([sys.executable, "-c", code], stdin=pipe, stdout=pipe) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        assert process.stdout.readline() == b"up\n"
        assert process.poll() is None
        process.stdin.close()
        assert process.wait(PATIENCE) == 1


def test_a_worker_that_dies_costs_its_own_answer():
    files = ["1", "__import__('os')._exit(9)", "2", "3", "__import__('os').abort()", "4"]
    answers = list(Pool(eval, files, 2))
    assert [a for a in answers if not isinstance(a, Died)] == [1, 2, 3, 4]
    assert answers[1] == Died(files[1], 9)
    assert answers[4] == Died(files[4], -signal.SIGABRT)


def test_what_a_job_raises_is_raised_and_what_cannot_cross_is_told():
    with pytest.raises(ZeroDivisionError):
        list(Pool(eval, ["1", "1 / 0"], 1))
    with pytest.raises(RuntimeError, match="pickle"):
        list(Pool(eval, ["lambda: 0", "1"], 1))


def test_workers_are_gone_when_nobody_asks_any_more():
    pool = Pool(eval, ["1", "__import__('time').sleep(1000)"], 2)
    answers = iter(pool)
    assert next(answers) == 1
    answers.close()  # type: ignore[attr-defined]
    for worker in pool._workers:
        worker.process.join(PATIENCE)
        assert worker.process.exitcode is not None


# -- memory --------------------------------------------------------------------------------------


@linux
def test_memory_is_bounded_for_one_drawing_and_free_again_after_it():
    import resource

    before = resource.getrlimit(resource.RLIMIT_DATA)
    with bounded(100_000_000):
        bytearray(50_000_000)
        with pytest.raises(MemoryError):
            bytearray(200_000_000)
    assert resource.getrlimit(resource.RLIMIT_DATA) == before
    bytearray(200_000_000)


def too_much(*_args, **_named):
    """More than a drawing may take, and no more than a system gives that is not told."""
    return bytearray(3_000_000_000)


@linux
@pytest.mark.parametrize(
    ("arguments", "where"),
    [
        (("faults",), "coldcheck.bench.faults.faults.sweep"),
        (("chart",), "coldcheck.bench.chart.chart.Bench.chart"),
        (("chart", "--plan"), "coldcheck.bench.plan.plan.plan_of"),
        (("trace", "MID"), "coldcheck.drawing.read_drawing"),
    ],
)
def test_a_command_about_one_drawing_has_the_same_bound(
    run, tmp_path, monkeypatch, arguments, where
):
    file = tmp_path / "a.tube"
    file.write_text(GOOD)
    monkeypatch.setattr(where, too_much)
    command, *more = arguments
    status, out, err = run(command, file, *more)
    assert (status, out) == (FAILED, "")
    assert err.startswith(f"coldcheck: {file}: this did not come to an end: at most 1200 MB")


@linux
def test_so_has_a_review_of_the_editor_service(monkeypatch):
    from coldcheck.cli.serve import within_memory
    from coldcheck.serve import reading

    monkeypatch.setattr(reading, "review_drawing", too_much)
    text = reading.read_text(reading.Text("u", "a.tube", False, GOOD, 1, 1), lambda _: None)
    with pytest.raises(MemoryError):
        within_memory(text)


@pytest.mark.parametrize("where", ["review_file", "solve_states", "rule"])
def test_a_drawing_the_memory_does_not_suffice_for_is_told(tmp_path, monkeypatch, where):
    def break_down(*_args, **_named):
        raise MemoryError

    if where == "rule":
        monkeypatch.setattr(running, "sound", break_down)
    else:
        monkeypatch.setattr(engine, where, break_down)
    file = tmp_path / "a.tube"
    file.write_text(GOOD)
    (tmp_path / "kept").mkdir()
    cache = Cache(tmp_path / "kept")
    (document,) = many.documents([str(file)], TODAY, cache)
    assert not document.readable
    (finding,) = document.findings
    assert finding.rule == "drawing.too-large"
    assert "1200 MB" in finding.message
    monkeypatch.undo()
    (document,) = many.documents([str(file)], TODAY, cache)  # it was not kept
    assert document.readable


def test_a_killed_worker_costs_that_drawing_its_report(tmp_path, monkeypatch, capsys):
    from coldcheck.cli import main, workers

    class Killing(Pool):
        def __iter__(self):
            real = super().__iter__()
            return (Died(f, -9) if Path(f).name == "b.tube" else a
                    for f, a in zip(self.files, real, strict=True))  # fmt: skip

    monkeypatch.setattr(workers, "Pool", Killing)
    for name in "abcd":
        (tmp_path / f"{name}.tube").write_text(GOOD)
    command = ["review", "--no-cache", "--jobs", "2", "--report", "json", str(tmp_path)]
    assert main(command) == UNREADABLE
    drawings = json.loads(capsys.readouterr().out)["drawings"]
    rules = {Path(d["file"]).name: [f["rule"] for f in d["findings"]] for d in drawings}
    assert rules["b.tube"] == ["drawing.too-large"]
    assert all("drawing.too-large" not in rules[f"{n}.tube"] for n in "acd")


# -- work ----------------------------------------------------------------------------------------


def test_a_ring_of_diodes_is_refused_by_its_work_and_the_others_are_reviewed(tmp_path, capsys):
    from coldcheck.cli import main

    (tmp_path / "good.tube").write_text(GOOD)
    (tmp_path / "ring.tube").write_text(ring(16))
    assert main(["review", "--no-cache", "--report", "json", str(tmp_path)]) == UNREADABLE
    good, refused = json.loads(capsys.readouterr().out)["drawings"]
    assert good["verdict"] == "let through"
    assert refused["verdict"] == "unreadable"
    (finding,) = refused["findings"]
    assert finding["rule"] == "drawing.too-large"
    assert f"at most {MOST_WORK // 10**9} thousand million" in finding["message"]
    assert not refused["states"]


def test_other_commands_say_that_it_was_not_solved(tmp_path, capsys, monkeypatch):
    from coldcheck.cli import main
    from coldcheck.solve import work

    monkeypatch.setattr(work, "MOST_WORK", MOST_WORK // 5)  # a chart solves two states

    (tmp_path / "ring.tube").write_text(ring(16))
    main(["chart", str(tmp_path / "ring.tube")])
    captured = capsys.readouterr()
    words = " ".join((captured.out + captured.err).split())
    assert f"at most {MOST_WORK // 5 // 10**9} thousand million" in words
    assert "coldcheck failed" not in captured.err


def test_the_count_of_work_is_the_same_each_time_and_ends():
    work = Work()
    work.eliminate(10)
    assert work.done == 1000
    with pytest.raises(TooMuchWork, match=f"at most {LARGEST_MATRIX}"):
        work.eliminate(LARGEST_MATRIX + 1)
    assert work.done == 1000
    work.multiply(MOST_WORK - 1000)
    with pytest.raises(TooMuchWork, match="multiplications"):
        work.multiply(1)
