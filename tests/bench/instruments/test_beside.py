"""What the tip of a probe can bridge a point to."""

import pytest
from tests.bench.conftest import circuit_of
from tests.bench.drawings import BIAS

from coldcheck.bench.instruments.beside import beside
from coldcheck.circuit.sockets import closed_ring


def names(text, point):
    return set(beside(circuit_of(text), point).values())


def test_the_pins_next_to_a_pin():
    """6L6GC: 3 plate, 4 screen, 5 grid, 6 nothing, 8 cathode."""
    assert names(BIAS, "V3.screen") == {"V3:3 (plate)", "V3:5 (grid)", "gnd"}
    assert names(BIAS, "V3.grid") == {"V3:4 (screen)", "gnd"}


def test_the_last_pin_of_an_octal_socket_is_next_to_the_first():
    text = "tube V1 6L6GC\nV1:1 --[R1 1k]-- gnd\nV1:8 --[R2 1k]-- gnd\nV1.plate -- gnd\n"
    assert "V1:8 (cathode)" in names(text, "V1:1")


def test_that_of_a_miniature_one_is_not():
    """12AX7: pin 9 is the heater's tap, pin 1 a plate."""
    text = "tube V1 12AX7\nV1:1 --[R1 1k]-- gnd\nV1:2 --[R3 1k]-- gnd\nV1:9 --[R2 1k]-- gnd\n"
    assert names(text, "V1:1") == {"V1:2 (B.grid)", "gnd"}
    assert names(text, "V1B.plate") == {"V1:2 (B.grid)", "gnd"}


@pytest.mark.parametrize(
    ("base", "closed"), [("octal 7AC", True), ("noval 9A", False), ("7-pin 7BK", False)]
)
def test_rings(base, closed):
    assert closed_ring(base) is closed


def test_a_name_reaches_every_lead_on_it():
    """BL is a bias line: it has the far ends of its parts beside it."""
    assert names(BIAS, "BL") == {
        "the other lead of R30",
        "the other lead of R3",
        "the other lead of R4",
        "gnd",
    }


def test_what_is_one_wire_with_the_point_is_no_bridge():
    assert "gnd" not in names(BIAS, "V3.cathode")


def test_leads_of_a_transformer_are_beside_each_other(harbour):
    found = beside(harbour.circuit, "T1.ht.ct")
    assert {"T1.ht.1", "T1.ht.2"} <= set(found.values())
    assert "T1.fil.1" not in set(beside(harbour.circuit, "T1.ht.1").values())
