"""``python -m tests.report.browser.pages FOLDER``: the pages that check.mjs looks at."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[3]
PAIRS = (
    "capacitor.over-voltage", "drawing.incomplete", "drawing.syntax", "grid.no-bias",
    "heater.cathode-stress", "mains.no-fuse", "output.one-phase", "signal.jack-open",
)  # fmt: skip
TAG = "</script><script>window.ran=1</script><img src=x onerror=window.ran=1>\"'`${window.ran=1}"
HOSTILE = f"""drawing "{TAG.replace('"', "")}"
B1 --+[E1 250 V]-- gnd # {TAG}
B1 --[R1 10k 1 W]-- __proto__ --[R2 10k 1 W]-- gnd # {TAG}
__proto__ --+[C1 10 uF 20 V]-- gnd
constructor --[R3 1k]-- B1
constructor --[R4 1k]-- gnd
"""


SAMPLE, OTHER = ROOT / "samples" / "harbour-light.tube", ROOT / "samples" / "night-watch.tube"
MISTAKE = ROOT / "samples" / "mistakes" / "supply.no-bleeder"
WITHOUT_SCRIPT = {
    "circuit": ("draw", SAMPLE),
    "chart": ("chart", SAMPLE),
    "plan": ("chart", SAMPLE, "--plan"),
    "changes": ("compare", MISTAKE / "wrong.tube", MISTAKE / "right.tube"),
    "changes-large": ("compare", SAMPLE, OTHER),
    "lesson": ("why", "grid.no-return"),
    "lesson-unread": ("why", "drawing.syntax"),
    "drill-easy": ("drill", "--seed", "4", "--count", "2", "--degree", "easy"),
    "drill-hard": ("drill", "--seed", "4", "--count", "2", "--degree", "hard"),
    "drill-readings": ("drill", "--seed", "4", "--count", "2", "--readings"),
}
"""Pages that only show: name -> the command."""


def write(name: str, command: list[str]) -> None:
    """Run a command that writes a page."""
    done = subprocess.run([sys.executable, "-m", "coldcheck", *command], check=False)
    if done.returncode > 2:
        sys.exit(f"{name}: status {done.returncode}")


def main() -> None:
    """Review all samples, some wrong drawings and a hostile one; then the pages that only show."""
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    hostile = folder / "hostile.tube"
    hostile.write_text(HOSTILE, encoding="utf-8")
    drawings = {path.stem: path for path in sorted((ROOT / "samples").glob("*.tube"))}
    drawings |= {n: ROOT / "samples" / "mistakes" / n / "wrong.tube" for n in PAIRS}
    for name, path in {**drawings, "hostile": hostile}.items():
        report = f"html={folder / name}.html"
        write(name, ["review", "--no-cache", "--report", report, str(path)])
    hostile_too = {
        "changes-hostile": ("compare", hostile, SAMPLE),
        "circuit-hostile": ("draw", hostile),
    }
    for name, words in {**WITHOUT_SCRIPT, **hostile_too}.items():
        target = ["--report", "html", "--output", f"{folder / name}.html"]
        write(name, [*map(str, words), *target])


if __name__ == "__main__":
    main()
