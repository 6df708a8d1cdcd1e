"""What a picture costs: a review with one over one without, and the layout as a circuit grows."""

from __future__ import annotations

from pathlib import Path

from tests.benchmarks.drawings import copies
from tests.benchmarks.timing import paired, timed

SAMPLES = Path(__file__).resolve().parents[2] / "samples"
REVIEWED = ("fog-bell", "harbour-light", "twin-quay", "breakwater", "galley")
TUBES = (1, 5, 10, 25, 50, 100)


def main() -> None:
    """Print both tables."""
    print("a whole review with its picture / without, fresh processes   (at most 1.5)")
    for name in REVIEWED:
        review = ("-m", "coldcheck", "review", "--no-cache", str(SAMPLES / f"{name}.tube"))
        print(f"  {name:<16}{paired((*review, '--report', 'html'), review):6.2f}")
    print("\nlayout of copies of two stages; seconds of this machine, and per tube over 10 tubes")
    growth()


def growth() -> None:
    """Print what layout and SVG take, and the sheet's size."""
    from coldcheck.circuit import build_circuit
    from coldcheck.drawing import parse_drawing
    from coldcheck.picture.draw import picture_of
    from coldcheck.report.picture.svg import render

    spent = {}
    for tubes in TUBES:
        circuit = build_circuit(parse_drawing(copies(tubes), "x.tube"))
        spent[tubes], picture = timed(lambda c=circuit: picture_of(c), runs=1)  # type: ignore[misc]
        svg, _ = timed(lambda p=picture: render(p), runs=1)  # type: ignore[misc]
        print(
            f"  {tubes:>4} tubes {spent[tubes]:8.2f} s  svg {svg:6.2f} s  "
            f"{picture.width} x {picture.height} cells"
        )
    unit = spent[10] / 10
    print("  a tube:  " + "  ".join(f"{n}: {s / n / unit:.2f}" for n, s in spent.items()))


if __name__ == "__main__":
    main()
