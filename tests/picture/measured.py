"""The figures of the samples, and the page of them: what is recorded, and how it is measured."""

from __future__ import annotations

import tomllib
from pathlib import Path

from tests.picture.figures import figures_of

from coldcheck.circuit.build import build_circuit
from coldcheck.drawing import read_drawing
from coldcheck.picture.draw import picture_of
from coldcheck.picture.grid import Dir
from coldcheck.picture.scene import is_two_lead
from coldcheck.picture.volts import volts_of
from coldcheck.report.picture.svg import render
from coldcheck.solve import solve_state

ROOT = Path(__file__).parents[2]
SAMPLES = sorted((ROOT / "samples").glob("*.tube"))
NOTABLE = 5.0
"""Volts from which it matters which end of a standing part is above."""
RECORDED = Path(__file__).with_name("recorded.toml")


def measured(path):
    """A sample's figures, with the volts of the warm state in it."""
    circuit = build_circuit(read_drawing(path))
    solution = solve_state(circuit, "warm")
    picture = picture_of(circuit, volts_of(solution.waves), "warm")
    return figures_of(render(picture)).row() | {"upside_down": _upside_down(picture, solution)}


def _upside_down(picture, solution):
    """Standing parts whose lower end has the higher potential (a supply below gnd hangs)."""
    wrong = 0
    for panel in picture.panels:
        for item in panel.items:
            if is_two_lead(item.device) and item.turn in (Dir.UP, Dir.DOWN):
                ends = sorted(item.ports, key=lambda port: port.y)
                nets = [item.device.lead(port.name).net for port in ends]
                upper, lower = (solution.wave(net) for net in nets)
                if upper is not None and lower is not None and panel.name in ("signal", "L", "R"):
                    wrong += lower.dc > upper.dc + NOTABLE
    return wrong


def recorded():
    """Sample -> the figures it had when they were recorded."""
    return tomllib.loads(RECORDED.read_text(encoding="utf-8"))


def record():
    """Write today's figures."""
    lines = ["# Written by python -m tests.picture; a test compares it with what is drawn today.\n"]
    for path in SAMPLES:
        lines.append(f"\n[{path.stem}]\n")
        lines += [f"{name} = {value}\n" for name, value in measured(path).items()]
    RECORDED.write_text("".join(lines), encoding="utf-8")
