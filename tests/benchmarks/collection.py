"""A collection of real drawings, by the command itself: one core, two cores, from the cache.

The drawings are the samples (with their sheets) and both halves of every pair in samples/mistakes,
each copy under a title of its own, in folders of forty with settings of their own: between a
handful of parts and some eighty. ``COLDCHECK_COLLECTION`` says how many.
"""

from __future__ import annotations

import itertools
import os
import re
import shutil
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

SAMPLES = Path(__file__).parents[2] / "samples"
COUNT = int(os.environ.get("COLDCHECK_COLLECTION", "1000"))
EACH_FOLDER = 40
SAMPLE_EVERY = 6
"""One drawing in so many is a whole sample; the others are of the pairs."""

AS_INSTALLED = {"PYTHONDONTWRITEBYTECODE": ""}
"""An installed program has its bytecode; compiling it is half of a warm run where it has none."""

SETTINGS = '{gate}[tolerance]\nresistor = "{share} %"\n'


@dataclass(frozen=True)
class Run:
    """One run: seconds by the clock and of processors, MiB of its largest process."""

    clock: float
    cpu: float
    memory: float


def write(folder: Path, count: int) -> None:
    """Write a repository of ``count`` drawings; sheets come on top."""
    (folder / ".git").mkdir()
    samples = itertools.cycle(sorted(SAMPLES.glob("*.tube")))
    pairs = itertools.cycle(sorted(SAMPLES.glob("mistakes/*/**/*.tube")))
    for n in range(count):
        inside = folder / f"shelf-{n // EACH_FOLDER:02d}"
        if n % EACH_FOLDER == 0:
            shutil.copytree(SAMPLES / "sheets", inside / "sheets")
            gate = 'gate = "caution"\n' if n // EACH_FOLDER % 3 == 0 else ""
            text = SETTINGS.format(gate=gate, share=(5, 10, 20)[n // EACH_FOLDER % 3])
            (inside / "coldcheck.toml").write_text(text)
        _copy(next(samples if n % SAMPLE_EVERY == 0 else pairs), inside, n)


def _copy(drawing: Path, folder: Path, number: int) -> None:
    data = drawing.read_bytes()  # one of the mistakes is bytes that are no text
    if b"\nsheet " in data and drawing.parent != SAMPLES:  # its sheets lie beside it
        folder = folder / f"{number:04d}"
        folder.mkdir()
        for beside in drawing.parent.iterdir():
            if beside.is_dir():
                shutil.copytree(beside, folder / beside.name)
            elif f'"{beside.name}"'.encode() in data:
                shutil.copy(beside, folder / beside.name)
    marked = re.sub(rb'(?m)^drawing "([^"]*)"', b'drawing "\\1, no. %d"' % number, data)
    (folder / f"{drawing.stem}-{number:04d}.tube").write_bytes(marked + b"# %d\n" % number)


def timed(folder: Path, cache: Path | None, jobs: int) -> Run:
    """Review all of it; what is found is for nobody here."""
    kept = ["--no-cache"] if cache is None else []
    command = [sys.executable, "-m", "coldcheck", "review", ".", "--jobs", str(jobs), *kept,
               "--report", f"terse={os.devnull}"]  # fmt: skip
    home = str(cache or folder.parent / "none")
    start = time.perf_counter()
    child = os.posix_spawn(
        sys.executable, command,
        {**os.environ, "XDG_CACHE_HOME": home, "PWD": str(folder), **AS_INSTALLED},
    )  # fmt: skip
    _, status, used = os.wait4(child, 0)
    clock = time.perf_counter() - start
    if os.waitstatus_to_exitcode(status) not in (0, 1, 2):
        raise SystemExit(f"the run failed: {status}")
    return Run(clock, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024)


def main() -> None:
    """Print the table. The clock means something only on a machine that does nothing else."""
    with tempfile.TemporaryDirectory() as name:
        first, few, all_ = Path(name) / "first", Path(name) / "few", Path(name) / "all"
        for folder, count in ((first, 8), (few, COUNT // 4), (all_, COUNT)):
            folder.mkdir()
            write(folder, count)
        _in(first, None, 1)  # compiles, and reads the program from the disk
        less = _in(few, None, 1)
        one = _in(all_, None, 1)
        two = _in(all_, Path(name) / "cache", 2)
        warm = _in(all_, Path(name) / "cache", 2)
    print(f"{COUNT} real drawings, load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    print("                        seconds  of processors  MiB of the largest process")
    rows = (("a quarter, one core", less), ("one core", one), ("two cores", two), ("warm", warm))
    for what, run in rows:
        print(f"  {what:20} {run.clock:9.1f} {run.cpu:14.1f} {run.memory:13.0f}")
    print(f"  one core / two cores    {one.clock / two.clock:.2f} by the clock (target 1.8)")
    print(f"  2 x processors of one / of two   {2 * one.cpu / two.cpu:.2f}: on idle cores, at best")
    clock, cpu = 1000 * warm.clock / COUNT, 1000 * warm.cpu / COUNT
    print(f"  warm                    {clock:.2f} ms a drawing (target 2), {cpu:.2f} of processors")


def _in(folder: Path, cache: Path | None, jobs: int) -> Run:
    here = Path.cwd()
    os.chdir(folder)
    try:
        return timed(folder, cache, jobs)
    finally:
        os.chdir(here)
