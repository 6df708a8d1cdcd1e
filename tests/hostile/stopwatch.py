"""Prints time and memory of each hostile drawing: ``python tests/hostile/stopwatch.py [NAME...]``.

Each is reviewed by the command in a process of its own, with every report, stopped after a minute.
"""

from __future__ import annotations

import importlib.util
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

REPORTS = ("text", "json", "sarif", "junit", "annotations")
CODE = """
import resource, sys
from coldcheck.cli import main
status = main(sys.argv[1:])
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
used = resource.getrusage(resource.RUSAGE_SELF)
work = used.ru_utime + used.ru_stime
print(f"{work:5.1f} s of work, status {status}, {peak} MiB", file=sys.stderr)
"""


def drawings() -> dict[str, bytes]:
    """What is beside this file, which is no package."""
    path = Path(__file__).with_name("hostile_drawings.py")
    spec = importlib.util.spec_from_file_location("hostile_drawings", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return dict(module.every())


def main() -> None:
    """Review each, a line each: seconds, status, MiB, name, and what is wrong."""
    wanted = sys.argv[1:]
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "hostile.tube"
        for name, data in drawings().items():
            if not wanted or name in wanted:
                file.write_bytes(data)
                print(_line(name, file), flush=True)


def _line(name: str, file: Path) -> str:
    reports = [f"--report={form}={file}.{form}" for form in REPORTS]
    command = [sys.executable, "-c", CODE, "review", "--no-cache", str(file), *reports]
    started = time.perf_counter()
    try:
        done = subprocess.run(
            command, capture_output=True, text=True, timeout=60, check=False,
            env={**os.environ, "COLDCHECK_DEBUG": ""},
        )  # fmt: skip
        *said, last = done.stderr.splitlines() or [f"ended by {done.returncode}"]
    except subprocess.TimeoutExpired:
        said, last = [], "stopped"
    seconds = time.perf_counter() - started
    return f"{seconds:6.1f} s  {last:40}  {name}  {' '.join(said)[:300]}"


if __name__ == "__main__":
    main()
