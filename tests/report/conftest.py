"""A hand-made review: the numbers are invented, so only the report is under test."""

from __future__ import annotations

from dataclasses import replace
from io import StringIO

import networkx as nx
import numpy as np
import pytest
from rich.console import Console

from coldcheck.circuit.model import Branch, Circuit, Section, Tube
from coldcheck.circuit.tubes import tube_type
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import Drawing, Span
from coldcheck.drawing.units import quantity
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Finding, NotJudged
from coldcheck.solve.solution import Solution, State, TubeReading, Wave
from coldcheck.verdict.review import Review

FILE = "parlour.tube"
LINES = (
    'drawing "Harbour Light: one-watt parlour amplifier"',
    "RES --+[C1 20 uF 450 V]-- gnd",
    "RES --[R1 10k 2 W]-- B1",
    "B1 --+[C2 40 uF 450 V]-- gnd",
    "B1 --[R2 100k]-- V1.plate",
    "V1.cathode --[R3 1k5]-- gnd",
)


def span(line: int, column: int = 1, end: int = 2) -> Span:
    return Span(FILE, line, column, end)


def wave(dc: float, peak: float = 0.0) -> Wave:
    return Wave(dc + peak * np.sin(2 * np.pi * np.arange(64) / 64))


def branch(name: str, kind: PartKind, a: str, b: str, value: float, unit: str, line: int) -> Branch:
    plus = a if kind is PartKind.CAPACITOR else None
    return Branch(name, kind, a, b, name, span(line), quantity(value, unit), plus=plus)


BRANCHES = (
    branch("C1", PartKind.CAPACITOR, "RES", "gnd", 20e-6, "farad", 2),
    branch("R1", PartKind.RESISTOR, "RES", "B1", 1e4, "ohm", 3),
    branch("C2", PartKind.CAPACITOR, "B1", "gnd", 40e-6, "farad", 4),
    branch("R2", PartKind.RESISTOR, "B1", "V1.plate", 1e5, "ohm", 5),
    branch("R3", PartKind.RESISTOR, "V1.cathode", "gnd", 1500, "ohm", 6),
)


def make_circuit() -> Circuit:
    graph: nx.MultiGraph[str] = nx.MultiGraph()
    for b in BRANCHES:
        graph.add_edge(b.a, b.b, key=b.name, branch=b)
    kind, rectifier = tube_type("6V6GT"), tube_type("5Y3GT")
    on = {"plate": "V1.plate", "screen": "B1", "grid": "gnd", "cathode": "V1.cathode"}
    of = {"plate1": "X.1", "plate2": "X.2", "f1": "RES", "f2": "RES"}
    tubes = {
        "V1": Tube("V1", kind, (Section("V1", "V1", kind.section(), on),), None, span(5)),
        "V2": Tube("V2", rectifier, (Section("V2", "V2", rectifier.section(), of),), None, span(2)),
    }
    nets = ("RES", "B1", "V1.plate", "V1.cathode", "gnd", "X.1", "X.2")
    points = {n: n for n in nets} | {"V1.screen": "B1", "V1.grid": "gnd", "V2.f1": "RES"}
    return Circuit(
        drawing=Drawing(FILE, LINES, ()),
        graph=graph,
        points=points,
        names={n: tuple(p for p, on_net in points.items() if on_net == n) for n in nets},
        branches={b.name: b for b in BRANCHES},
        tubes=tubes,
        transformers={},
        outputs={},
        mains=None,
        places={n: span(i + 2) for i, n in enumerate(nets[:5])},
    )


READINGS = {
    "V1": TubeReading(
        plate_v=250.24,
        plate_ma=44.81,
        screen_v=250.0,
        screen_ma=4.1,
        grid_v=-12.4,
        cathode_v=12.4,
        plate_w=11.2,
        screen_w=1.03,
        heater_cathode_dc=-12.4,
        heater_cathode_low=-16.9,
        heater_cathode_high=-7.9,
    ),
    "V2": TubeReading(
        plate_v=-12.0, plate_ma=52.0, peak_plate_ma=210.0, inverse_v=702.4, plate_w=1.4
    ),
}


def make_solutions(circuit: Circuit) -> dict[str, Solution]:
    warm = {
        "RES": wave(301.4, 9.2),
        "B1": wave(285.06, 0.2),
        "V1.plate": wave(262.6),
        "V1.cathode": wave(12.4),
        "gnd": wave(0.0),
    }
    cold = {"RES": wave(350.2), "B1": wave(350.2), "gnd": wave(0.0)}
    lost = "the equations did not settle after 80 steps"
    return {
        "warm": Solution(
            State("warm", "warm"),
            True,
            2.4e-10,
            6,
            "",
            circuit,
            warm,
            {},
            READINGS,
            {"X.1": "it floats: no DC path to gnd"},
        ),
        "cold": Solution(State("cold", "cold", warm=False), True, 1e-11, 5, "", circuit, cold),
        "high line": Solution(
            State("high line", "high", 1.1), False, float("nan"), 80, lost, circuit
        ),
    }


STRESS = Finding(
    rule="heater.cathode-stress",
    level="notice",
    state="warm",
    at=("V1",),
    span=span(6, 1, 11),
    message="The cathode of V1 stands 156.8 V above its heater at the worst instant; the data "
    "sheet allows 100 V.",
    remedy="Lift the heater winding to about 60 V with a divider from B1.",
    evidence={
        "cathode_dc": figure(152.3, "V"),
        "heater_dc": figure(0, "V"),
        "peak": figure(156.8, "V"),
    },
    limit=figure(100, "V"),
    certainty="certain",
    source="6V6GT data sheet (found)",
    excess=1.568,
    path=("V1.cathode", "--[R3 1.5 kohm]--", "gnd"),
    also_in=("cold", "high line"),
    fingerprint="0123456789abcdef",
)
BLEED = Finding(
    rule="supply.no-bleeder",
    level="warning",
    state="off",
    at=("C1", "C2"),
    span=span(2),
    message="C1 and C2 still hold more than 60 V 140 s after switching off.",
    remedy="Put 220k 1 W across C1.",
    evidence={"time": figure(140, "s"), "energy": figure(2.9, "J")},
    limit=figure(60, "V"),
)
HOT = replace(
    STRESS,
    rule="tube.idle-dissipation",
    level="advice",
    span=span(5),
    message="V1 idles at 80 % of its plate dissipation.",
    accepted="runs hot by design, see log 14",
)


@pytest.fixture
def circuit() -> Circuit:
    return make_circuit()


@pytest.fixture
def review(circuit: Circuit) -> Review:
    return Review(
        file=FILE,
        title="Harbour Light: one-watt parlour amplifier",
        circuit=circuit,
        findings=(BLEED, STRESS, HOT),
        not_judged=(
            NotJudged("heater.cathode-stress", ("V3",), "no heater-cathode limit on file"),
            NotJudged("heater.cathode-stress", ("V4",), "no heater-cathode limit on file"),
            NotJudged("grid.leak-too-large", ("V3",), "the value of R9 is not given"),
        ),
        solutions=make_solutions(circuit),
        lines=LINES,
        readable=True,
    )


@pytest.fixture
def clean_review(review: Review) -> Review:
    return replace(review, findings=(), not_judged=())


@pytest.fixture
def unreadable() -> Review:
    lines = ("B1 --[R1 10q 2 W]-- B2", "\tR2 = 100k")
    found = Finding(
        rule="drawing.bad-value",
        level="notice",
        state="drawing",
        at=("10q",),
        span=Span(FILE, 1, 10, 13),
        message="found 10q, expected a value such as 10k or 4k7",
        remedy="write k for kilohms",
        evidence={"found": "10q", "expected": "a value such as 10k or 4k7"},
        certainty="certain",
        source="the netlist language (grammar/README.md)",
    )
    second = replace(found, span=Span(FILE, 2, 5, 6), message="found =, expected a wire --")
    said = NotJudged("review", (), "nothing was worked out: not all of the drawing could be read")
    return Review(FILE, "", None, (found, second), (said,), {}, lines, readable=False)


class Paper:
    """A console that keeps what it is given."""

    def __init__(self, width: int = 80, *, terminal: bool = False, colour: bool = True) -> None:
        self.console = Console(
            file=StringIO(),
            width=width,
            force_terminal=terminal,
            color_system="truecolor" if terminal and colour else None,
            _environ={},
        )

    @property
    def text(self) -> str:
        file = self.console.file
        assert isinstance(file, StringIO)
        return file.getvalue()


@pytest.fixture
def paper() -> Paper:
    return Paper()


@pytest.fixture
def terminal() -> Paper:
    return Paper(terminal=True)


@pytest.fixture
def colourless() -> Paper:
    return Paper(terminal=True, colour=False)
