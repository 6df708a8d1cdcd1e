"""A repository of drawings: cold, warm from the cache, one process against all cores."""

from __future__ import annotations

import os
import tempfile
import time
from datetime import date
from pathlib import Path

from coldcheck.cli import many
from coldcheck.cli.cache import Cache
from coldcheck.verdict.engine import review_file

COUNT = int(os.environ.get("COLDCHECK_DRAWINGS", "1000"))
STAGE = """\
drawing "Stage {n}: one stage on its own supply"
mains 230 V 50 Hz tolerance 10 %
transformer T1
    primary pri 230 V 10 ohm
    winding ht 250 V ct 250 V 60 mA 150 ohm
    winding warm 6.3 V ct 1 A
T1.warm.ct -- gnd
T1.ht.ct -- gnd
T1.ht.1 --[D1 1N4007]-> RES
T1.ht.2 --[D2 1N4007]-> RES
RES --+[C1 {c} uF 450 V]-- gnd
RES --[R1 {r}k 5 W]-- B1
B1 --+[C2 47 uF 450 V]-- gnd
B1 --[R2 220k 2 W]-- gnd
tube V1 12AX7 heater T1.warm
B1 --[R3 100k 1 W]-- V1A.plate --[C3 22 nF 630 V]-- OUT --[R4 1M]-- gnd
V1A.cathode --[R5 1k5]-- gnd
V1A.grid --[R6 1M]-- gnd
V1B.plate -- V1B.cathode -- V1B.grid -- gnd
"""


def write(folder: Path, count: int) -> list[str]:
    """``count`` different drawings."""
    names = []
    for n in range(count):
        path = folder / f"stage-{n:04d}.tube"
        text = STAGE.format(n=n, c=(22, 33, 47)[n % 3], r=("1", "1.2", "1.5", "1.8", "2.2")[n % 5])
        path.write_text(text, encoding="utf-8")
        names.append(str(path))
    return names


def seconds(files: list[str], cache: Cache, workers: int) -> float:
    """Wall-clock seconds of reviewing them all."""
    start = time.perf_counter()
    many.documents(files, date(2026, 6, 1), cache, workers)
    return time.perf_counter() - start


def main() -> None:
    """Print the table. Meaningful on a machine that does nothing else."""
    with tempfile.TemporaryDirectory() as name:
        folder, kept = Path(name), Path(name) / "records"
        kept.mkdir()
        files = write(folder, COUNT)
        review_file(Path(files[0]), date(2026, 6, 1))
        start = time.perf_counter()
        for file in files[:20]:
            review_file(Path(file), date(2026, 6, 1))
        unit = (time.perf_counter() - start) / 20
        one = seconds(files, Cache(None), 1)
        cold = seconds(files, Cache(kept), os.cpu_count() or 1)
        warm = seconds(files, Cache(kept), os.cpu_count() or 1)
    print(f"{COUNT} drawings; unit: one review in this process")
    print(f"  one process                     {one / unit / COUNT:6.2f} a drawing")
    print(f"  {os.cpu_count()} cores, nothing kept            {cold / unit / COUNT:6.2f} a drawing")
    print(f"  from the cache                  {warm / unit / COUNT:6.3f} a drawing")
    print(f"  one process / {os.cpu_count()} cores           {one / cold:6.2f}  (target 1.7)")
