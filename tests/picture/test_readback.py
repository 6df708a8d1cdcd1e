"""The circuit is read back from the ink of its picture: nothing lost, nothing joined besides."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from tests.fuzz.strategies import drawings
from tests.picture.expected import expected_nets
from tests.picture.readback import recover

from coldcheck.circuit.build import build_circuit
from coldcheck.drawing import read_drawing
from coldcheck.drawing.reader import parse_drawing
from coldcheck.picture.draw import picture_of
from coldcheck.picture.model import Standard
from coldcheck.report.picture.svg import render

ROOT = Path(__file__).parents[2]
SAMPLES = sorted((ROOT / "samples").glob("*.tube"))
PAIRS = sorted((ROOT / "samples" / "mistakes").rglob("*.tube"))
UNSEEN = sorted((ROOT / "tests" / "unseen").glob("*/*.tube"))[::8]


def _named(path):
    return str(path.relative_to(ROOT))


def check(circuit, standard=Standard.IEC):
    """Compare what is read from a picture with the circuit it was made from."""
    _, nets, flags = recover(render(picture_of(circuit), standard))
    expected = expected_nets(circuit)
    wanted = {frozenset(leads.items()): net for net, leads in expected.items()}
    found = {frozenset(leads.items()): net for net, leads in nets.items()}
    missing = [sorted(leads) for leads in wanted.keys() - found.keys()]
    wrong = [sorted(leads) for leads in found.keys() - wanted.keys()]
    assert (missing, wrong) == ([], [])
    assert len(wanted) == len(expected)
    assert len(found) == len(nets)
    for leads, place in found.items():
        for name in flags.get(place, ()):
            assert circuit.points.get(name, name) == wanted[leads]


@pytest.mark.parametrize("standard", Standard)
@pytest.mark.parametrize("path", SAMPLES, ids=_named)
def test_every_sample(path, standard):
    check(build_circuit(read_drawing(path)), standard)


@pytest.mark.parametrize("path", PAIRS, ids=_named)
def test_every_pair_of_mistakes(path):
    check(build_circuit(read_drawing(path)))


@pytest.mark.parametrize("path", UNSEEN, ids=_named)
def test_drawings_the_layout_was_not_made_on(path):
    check(build_circuit(read_drawing(path)))


@settings(max_examples=40)
@given(drawings())
def test_random_drawings(text):
    check(build_circuit(parse_drawing(text, "random.tube")))
