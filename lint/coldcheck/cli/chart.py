"""``coldcheck chart``: voltages and resistances to expect, and how to measure a point."""

from __future__ import annotations

from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli import OK, UNREADABLE
from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.output import console_text, show, to_file, to_stdout

if TYPE_CHECKING:
    from argparse import Namespace

    from coldcheck.bench.chart import Bench
    from coldcheck.bench.explain import Explanation
    from coldcheck.bench.model import Chart
    from coldcheck.circuit.model import Circuit
    from coldcheck.drawing.model import Drawing

OF_A_POINT = ("text", "json", "svg")
OF_ALL = ("text", "markdown", "csv", "json", "html")


def run(options: Namespace) -> int:
    """Print or write the chart, or the explanation of a point."""
    from coldcheck.circuit import build_circuit
    from coldcheck.drawing import read_drawing

    _refuse(options)
    drawing = read_drawing(options.file)
    circuit = None if drawing.problems else build_circuit(drawing)
    if circuit is None or circuit.problems:
        return _unreadable(drawing)
    points = [_known(circuit, wanted) for wanted in _points(options)]
    bench = _bench(circuit, options.state)
    text = _chart(bench, options) if not points else _point(bench, points, options)
    to_stdout(text) if options.output is None else to_file(text, options.output)
    return OK


def _refuse(options: Namespace) -> None:
    """Raise AskedWrongly for what does not go together."""
    if options.at is not None and options.between is not None:
        raise AskedWrongly("--at and --between exclude each other")
    forms = OF_A_POINT if _points(options) else OF_ALL
    if options.report not in forms:
        of = "one point" if _points(options) else "the whole chart; name a point with --at"
        raise AskedWrongly(f"there is no {options.report} of {of}: {', '.join(forms)}")
    if (
        options.output is not None
        and Path(options.output).resolve() == Path(options.file).resolve()
    ):
        raise AskedWrongly(f"the chart would overwrite the drawing {options.file}")


def _points(options: Namespace) -> list[str]:
    return [options.at] if options.at is not None else list(options.between or ())


def _bench(circuit: Circuit, state: str) -> Bench:
    """The bench in a state; raises AskedWrongly for one the circuit does not have."""
    from coldcheck.bench.chart import Bench
    from coldcheck.solve.states import states_of

    known = [s.name for s in states_of(circuit)]
    if state not in known:
        raise AskedWrongly(f"there is no state {state}; the drawing has {', '.join(known)}")
    return Bench(circuit, state)


def _known(circuit: Circuit, wanted: str) -> str:
    """The point as the circuit spells it; an unknown one is asked wrongly."""
    from coldcheck.bench.points import point_named

    found = point_named(circuit, wanted)
    if found is not None:
        return found
    folded = {name.casefold(): name for name in circuit.points}
    near = get_close_matches(wanted.casefold(), folded, n=4, cutoff=0.5)
    hint = f"; near it: {', '.join(folded[n] for n in near)}" if near else ""
    raise AskedWrongly(f"there is no point {wanted} in {circuit.drawing.file}{hint}")


def _chart(bench: Bench, options: Namespace) -> str:
    chart = bench.chart()
    if options.report == "text":
        return _chart_text(chart, for_file=options.output is not None)
    from coldcheck.report import chart_csv, chart_html, chart_json, chart_markdown

    forms = {"markdown": chart_markdown, "csv": chart_csv, "json": chart_json, "html": chart_html}
    return str(forms[options.report].render(chart))


def _chart_text(chart: Chart, *, for_file: bool) -> str:
    from coldcheck.report import chart_text

    return console_text(lambda console: chart_text.render(chart, console), for_file=for_file)


def _point(bench: Bench, points: list[str], options: Namespace) -> str:
    from coldcheck.bench.explain import explain
    from coldcheck.report import chart_json, explain_text

    found = explain(bench, points[0], points[1] if len(points) > 1 else "gnd")
    if options.report == "json":
        return chart_json.render_point(found)
    if options.report == "svg":
        return _picture(found)
    return console_text(
        lambda console: explain_text.render(found, console), for_file=options.output is not None
    )


def _picture(found: Explanation) -> str:
    """The wave as SVG; a point without a voltage has none."""
    from coldcheck.report import explain_text, waveform

    if found.wave is None:
        raise AskedWrongly(f"{found.point} has no voltage to draw: {found.reason}")
    return waveform.svg(
        found.wave.samples, explain_text.heading(found), found.frequency, found.other
    )


def _unreadable(drawing: Drawing) -> int:
    from coldcheck.report import text
    from coldcheck.rules.engine import review_drawing

    review = review_drawing(drawing)
    show(lambda console: text.render(review, console))
    return UNREADABLE
