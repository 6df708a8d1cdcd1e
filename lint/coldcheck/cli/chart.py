"""``coldcheck chart``: voltages and resistances to expect, how to measure a point, the plan."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli import OK
from coldcheck.cli.drawn import drawn, known_point, own_instruments, unreadable
from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.output import console_text, to_file, to_stdout
from coldcheck.files.places import where

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Iterable

    from coldcheck.bench.chart.chart import Bench
    from coldcheck.bench.chart.explain import Explanation
    from coldcheck.bench.chart.rows import Chart
    from coldcheck.bench.instruments.instruments import Instrument
    from coldcheck.bench.points_drawn import PointsDrawn
    from coldcheck.circuit.model import Circuit
    from coldcheck.cli.drawn import Drawn

WARM = "warm"
OF_A_POINT = ("text", "json", "svg")
OF_ALL = ("text", "markdown", "csv", "json", "html")
OF_THE_PLAN = ("text", "markdown", "json", "html")


def run(options: Namespace) -> int:
    """Print or write the chart, the explanation of a point, or the plan of a first power-up."""
    _refuse(options)
    found = drawn(options.file)
    instruments = own_instruments(found.settings)
    if found.circuit is None:
        return unreadable(found)
    if options.plan:
        text = _plan(found, options)
    else:
        points = [known_point(found.circuit, wanted) for wanted in _points(options)]
        bench = _bench(found.circuit, options.state or WARM)
        text = _point(bench, points, instruments, options) if points else _chart(bench, options)
    to_stdout(text) if options.output is None else to_file(text, options.output)
    return OK


def _refuse(options: Namespace) -> None:
    """Raise AskedWrongly for what does not go together."""
    if options.at is not None and options.between is not None:
        raise AskedWrongly("--at and --between exclude each other")
    if options.plan:
        _refuse_with_plan(options)
    forms = OF_A_POINT if _points(options) else OF_ALL
    if options.report not in forms:
        of = "one point" if _points(options) else "the whole chart; name a point with --at"
        raise AskedWrongly(f"there is no {options.report} of {of}: {', '.join(forms)}")
    if options.output is not None and where(Path(options.output)) == where(Path(options.file)):
        raise AskedWrongly(f"the chart would overwrite the drawing {options.file}")


def _refuse_with_plan(options: Namespace) -> None:
    """Raise AskedWrongly for what a plan, which goes through all states and points, cannot take."""
    for name in ("at", "between", "state"):
        if getattr(options, name) is not None:
            raise AskedWrongly(f"--plan and --{name} exclude each other")
    if options.report not in OF_THE_PLAN:
        raise AskedWrongly(f"there is no {options.report} of the plan: {', '.join(OF_THE_PLAN)}")


def _plan(found: Drawn, options: Namespace) -> str:
    """The plan of a first power-up, in the wanted form; the drawing is reviewed for it."""
    from coldcheck.bench.plan.plan import plan_of
    from coldcheck.report.plan import html as plan_html
    from coldcheck.report.plan import json as plan_json
    from coldcheck.report.plan import markdown as plan_markdown
    from coldcheck.report.plan import text as plan_text
    from coldcheck.verdict.engine import review_drawing

    plan = plan_of(review_drawing(found.drawing, None, found.settings))
    if options.report == "text":
        return console_text(
            lambda console: plan_text.render(plan, console), for_file=options.output is not None
        )
    if options.report == "html":
        checks = [check for step in plan.steps for check in step.checks]
        return plan_html.render(
            plan, _drawn(found.circuit, [p for c in checks for p in (c.point, c.other)])
        )
    forms = {"markdown": plan_markdown, "json": plan_json}
    return str(forms[options.report].render(plan))


def _drawn(circuit: Circuit | None, points: Iterable[str | None]) -> PointsDrawn | None:
    """The circuit with its points numbered in the order they are listed."""
    from coldcheck.bench.points_drawn import points_drawn

    return None if circuit is None else points_drawn(circuit, points)


def _points(options: Namespace) -> list[str]:
    return [options.at] if options.at is not None else list(options.between or ())


def _bench(circuit: Circuit, state: str) -> Bench:
    """The bench in a state; raises AskedWrongly for one the circuit does not have."""
    from coldcheck.bench.chart.chart import Bench
    from coldcheck.solve.states import states_of

    known = [s.name for s in states_of(circuit)]
    if state not in known:
        raise AskedWrongly(f"there is no state {state}; the drawing has {', '.join(known)}")
    return Bench(circuit, state)


def _chart(bench: Bench, options: Namespace) -> str:
    chart = bench.chart()
    if options.report == "text":
        return _chart_text(chart, for_file=options.output is not None)
    from coldcheck.report.chart import csv as chart_csv
    from coldcheck.report.chart import html as chart_html
    from coldcheck.report.chart import json as chart_json
    from coldcheck.report.chart import markdown as chart_markdown

    if options.report == "html":
        points = [row.pin.net for row in chart.rows() if row.ohms is not None]
        return chart_html.render(chart, _drawn(bench.circuit, points))
    forms = {"markdown": chart_markdown, "csv": chart_csv, "json": chart_json}
    return str(forms[options.report].render(chart))


def _chart_text(chart: Chart, *, for_file: bool) -> str:
    from coldcheck.report.chart import text as chart_text

    return console_text(lambda console: chart_text.render(chart, console), for_file=for_file)


def _point(
    bench: Bench, points: list[str], instruments: tuple[Instrument, ...], options: Namespace
) -> str:
    from coldcheck.bench.chart.explain import explain
    from coldcheck.report.chart import explain_text
    from coldcheck.report.chart import json as chart_json

    other = points[1] if len(points) > 1 else "gnd"
    found = explain(bench, points[0], other, instruments)
    if options.report == "json":
        return chart_json.render_point(found)
    if options.report == "svg":
        return _picture(found)
    return console_text(
        lambda console: explain_text.render(found, console), for_file=options.output is not None
    )


def _picture(found: Explanation) -> str:
    """The wave as SVG; a point without a voltage has none."""
    from coldcheck.report.chart import explain_text, waveform

    if found.wave is None:
        raise AskedWrongly(f"{found.point} has no voltage to draw: {found.reason}")
    return waveform.svg(
        found.wave.samples, explain_text.heading(found), found.frequency, found.other
    )
