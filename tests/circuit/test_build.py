"""Nets, branches and names: what the wires of a drawing become."""

from dataclasses import replace

import networkx as nx
import pytest

from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import Chain, Drawing, Part, Point, Span
from coldcheck.drawing.units import magnitude

PARLOUR = """
drawing "Harbour Light: one-watt parlour amplifier"
mains 120 V 60 Hz tolerance 10 %
transformer T1
    primary  pri    120 V  4.1 ohm
    winding  ht     250 V ct 250 V  70 mA  160 ohm
    winding  fil    5 V    2 A
    winding  warm   6.3 V ct  2.5 A
tube V1 12AX7   heater T1.warm
tube V2 6V6GT   heater T1.warm
tube V3 5Y3GT   heater T1.fil
output T2 5k : 8 ohm  210 ohm
pot P1 500k at 50 %
T1.ht.1 -- V3.plate1
T1.ht.2 -- V3.plate2
T1.ht.ct -- gnd
V3:8 -- RES --[L1 8 H 250 ohm]-- B1 --[R1 10k 2 W]-- B2
RES --+[C1 20 uF 450 V]-- gnd
B2 --[R8 220k 1 W]-- LIFT --[R9 47k]-- gnd
LIFT -- T1.warm.ct
B2 --[R3 100k]-- V1A.plate --[C4 22 nF 400 V]-- V2.grid --[R6 470k]-- gnd
V1A.cathode --[R4 1k5]-- gnd
V2.k --[R7 270 ohm 5 W]-- gnd
B1 -- V2.screen
B1 -- T2.p1
T2.p2 -- V2.plate
T2.s1 --[LS1 speaker 8 ohm]-- T2.s2
signal IN 0.4 V 1 kHz
IN -- P1.top
P1.bottom -- gnd
P1.wiper -- V1A.grid
"""


def build(text):
    drawing = parse_drawing(text)
    assert drawing.problems == ()
    return build_circuit(drawing)


def clean(text):
    circuit = build(text)
    assert circuit.problems == ()
    return circuit


def ends(circuit, name):
    branch = circuit.branches[name]
    return branch.a, branch.b


def ohms(value):
    return magnitude(value, "ohm")


@pytest.fixture(scope="module")
def parlour():
    return clean(PARLOUR)


@pytest.mark.parametrize(
    ("point", "net"),
    [
        ("V3:8", "RES"),
        ("V3.f2", "RES"),
        ("T1.fil.2", "RES"),
        ("T1.ht.ct", "gnd"),
        ("P1.bottom", "gnd"),
        ("V2.screen", "B1"),
        ("T2.p1", "B1"),
        ("V2.plate", "T2.p2"),
        ("T1.warm.ct", "LIFT"),
        ("P1.top", "IN"),
        ("V1A.grid", "P1.wiper"),
        ("V2.k", "V2.cathode"),
        ("V1.h1", "T1.warm.1"),
        ("V1.h2", "T1.warm.1"),
        ("V1.tap", "T1.warm.2"),
        ("V1B.plate", "V1B.plate"),
    ],
)
def test_every_lead_is_on_the_net_the_builder_named(parlour, point, net):
    assert parlour.net(point) == net
    assert net in parlour.graph


def test_a_net_lists_its_points_in_the_order_they_were_written(parlour):
    assert parlour.names["B1"] == ("B1", "V2.screen", "T2.p1")
    assert parlour.names["gnd"] == ("T1.ht.ct", "gnd", "P1.bottom")


def test_names_and_points_say_the_same(parlour):
    for net, points in parlour.names.items():
        assert {parlour.points[point] for point in (*points, net)} == {net}


def test_an_unwired_section_still_has_its_electrodes(parlour):
    second = parlour.tubes["V1"].sections[1]
    assert second.name == "V1B"
    assert set(second.electrodes.values()) == {"V1B.plate", "V1B.grid", "V1B.cathode"}
    assert set(second.electrodes.values()) <= set(parlour.graph)


def test_a_directly_heated_tube_has_two_filament_ends_for_a_cathode(parlour):
    (rectifier,) = parlour.tubes["V3"].sections
    assert rectifier.cathode_nets == ("T1.fil.1", "RES")
    assert rectifier.plates == ("plate1", "plate2")


def test_the_halves_of_a_winding_add_up_from_lead_1_to_lead_2(parlour):
    (transformer,) = parlour.transformers.values()
    winding = transformer.windings[1]
    assert [b.name for b in winding.branches] == ["T1.ht.1-ct", "T1.ht.ct-2"]
    assert [ends(parlour, b.name) for b in winding.branches] == [
        ("T1.ht.1", "gnd"),
        ("gnd", "T1.ht.2"),
    ]
    assert sum(magnitude(b.value, "volt") for b in winding.branches) == pytest.approx(500)
    assert [ohms(b.resistance) for b in winding.branches] == pytest.approx([80, 80])
    assert magnitude(winding.volts, "volt") == pytest.approx(500)
    assert winding.nets == ("T1.ht.1", "gnd", "T1.ht.2")


def test_unequal_halves_share_the_resistance_by_voltage():
    circuit = clean("transformer T1\n winding ht 300 V ct 100 V 80 ohm\nT1.ht.ct -- gnd")
    first, second = circuit.transformers["T1"].windings[0].branches
    assert (ohms(first.resistance), ohms(second.resistance)) == pytest.approx((60, 20))
    assert (magnitude(first.value, "volt"), magnitude(second.value, "volt")) == (300, 100)


def test_a_tapped_winding_given_overall_has_equal_halves(parlour):
    halves = parlour.transformers["T1"].windings[3].branches
    assert [magnitude(b.value, "volt") for b in halves] == pytest.approx([3.15, 3.15])
    assert [b.resistance for b in halves] == [None, None]


def test_the_dot_of_a_winding_is_at_the_end_its_emf_is_positive_at():
    circuit = clean(
        "transformer T1\n winding a 5 V\n winding b 5 V dot 2\n"
        " winding c 6 V ct dot 2\nT1.c.ct -- gnd"
    )
    a, b, c = circuit.transformers["T1"].windings
    assert [(x.a, x.b) for x in a.branches] == [("T1.a.1", "T1.a.2")]
    assert [(x.a, x.b) for x in b.branches] == [("T1.b.2", "T1.b.1")]
    assert [(x.a, x.b) for x in c.branches] == [("gnd", "T1.c.1"), ("T1.c.2", "gnd")]
    assert (b.leads, b.dot) == ((("1", "T1.b.1"), ("2", "T1.b.2")), "2")


@pytest.mark.parametrize(
    ("dots", "primary", "secondary"),
    [("", "p1-ct", "s1-s2"), ("dot s2", "p1-ct", "s2-s1"), ("dot p2", "ct-p1", "s1-s2"),
     ("dot p2 dot s2", "ct-p1", "s2-s1")],
)  # fmt: skip
def test_dots_of_an_output_transformer(dots, primary, secondary):
    branches = clean(f"output T2 5k ct : 8 ohm {dots}").outputs["T2"].branches
    ways = ["-".join(n.partition(".")[2] for n in (b.a, b.b)) for _, b in branches]
    assert (ways[0], ways[2]) == (primary, secondary)
    assert [b.name for _, b in branches] == ["T2.p1-ct", "T2.ct-p2", "T2.s1-s2"]


def test_what_windings_and_cores_stand_reaches_the_circuit():
    circuit = clean(
        "transformer T1\n winding ht 300 V insulation 1 kV\n winding fil 5 V\n"
        "output T2 5k : 8 ohm gapped 60 mA\noutput T3 8k ct : 8 ohm ungapped\noutput T4 5k : 8 ohm"
    )
    assert [w.insulation is None for w in circuit.windings()] == [False, True]
    assert [o.gapped for o in circuit.outputs.values()] == [True, False, None]
    assert magnitude(circuit.outputs["T2"].current, "ampere") == pytest.approx(0.06)


def test_ratings_of_contacts_reach_the_circuit():
    circuit = clean(
        "switch S1 dpst 250 Vac 3 A\nswitch S2 spst\nA --[S3 switch 500 V]-- B\njack J1 1 A"
    )
    found = {b.name: b.rating for b in circuit.branches.values()}
    assert [found[n].ac_only for n in ("S1.a.common-1", "S1.b.common-1", "S3")] == [
        True, True, False,
    ]  # fmt: skip
    assert found["S2.common-1"] is None
    assert magnitude(found["S3"].voltage, "volt") == 500
    assert magnitude(found["J1.switch-tip"].current, "ampere") == 1


@pytest.mark.parametrize(
    ("text", "closed"),
    [
        ("jack J1", True), ("jack J1 plugged", False),
        ("jack J1\nsignal J1.tip 0.1 V", False), ("jack J1\nsignal IN 0.1 V\nIN -- J1.tip", False),
        ("jack J1 unplugged\nsignal J1.tip 0.1 V", True),
        ("jack J1\nJ1.tip --[LS1 8 ohm]-- J1.sleeve", False),
        ("jack J1\nJ1.switch --[LS1 8 ohm]-- J1.sleeve", True),
    ],
)  # fmt: skip
def test_a_plug_is_in_where_something_is_plugged_in(text, closed):
    assert clean(text).branches["J1.switch-tip"].closed is closed


def test_a_metal_shell_and_an_internal_connection_can_be_named():
    circuit = clean("tube V1 6SJ7\nV1:1 -- gnd\nV1.shell -- A\ntube V2 EL84\nV2:6 --[R1 1k]-- B")
    assert circuit.net("V1.shield") == circuit.net("A") == "gnd"
    assert circuit.net("V2:6") == "V2:6"


@pytest.mark.parametrize(("wire", "wired"), [("T1.pri.2 -- neutral", True), ("A -- B", False)])
def test_a_transformer_is_wired_when_the_drawing_shows_its_primary(wire, wired):
    circuit = clean(f"transformer T1\n primary pri 120 V\n winding warm 6.3 V\n{wire}")
    assert circuit.transformers["T1"].wired is wired


@pytest.mark.parametrize(
    ("line", "names", "shares"),
    [
        ("output T2 5k : 8 ohm 210 ohm", ["p1-p2"], [1]),
        ("output T2 5k ct : 8 ohm 210 ohm", ["p1-ct", "ct-p2"], [0.5, 0.5]),
        (
            "output T2 5k ct taps 40 % : 8 ohm 210 ohm",
            ["p1-u1", "u1-ct", "ct-u2", "u2-p2"],
            [0.3, 0.2, 0.2, 0.3],
        ),
    ],
)
def test_output_transformer_ratios(line, names, shares):
    output = clean(line).outputs["T2"]
    *primary, (ratio, secondary) = output.branches
    assert [b.name for _, b in primary] == [f"T2.{name}" for name in names]
    assert [share for share, _ in primary] == pytest.approx(shares)
    assert [ohms(b.resistance) for _, b in primary] == pytest.approx([210 * s for s in shares])
    assert [b.a for _, b in primary[1:]] == [b.b for _, b in primary[:-1]]
    # Impedances transform with the square of the turns: 0.04 ** 2 * 5000 ohm = 8 ohm (derived).
    assert ratio == pytest.approx(0.04)
    assert (secondary.name, secondary.resistance) == ("T2.s1-s2", None)


@pytest.mark.parametrize(
    ("at", "upper", "lower"), [(0, 500e3, 0), (25, 375e3, 125e3), (100, 0, 500e3)]
)
def test_a_pot_is_split_at_its_wiper(at, upper, lower):
    circuit = clean(f"pot P1 500k at {at} %")
    top, bottom = circuit.branches["P1.top-wiper"], circuit.branches["P1.wiper-bottom"]
    assert (top.a, top.b, bottom.b) == ("P1.top", "P1.wiper", "P1.bottom")
    assert (ohms(top.value), ohms(bottom.value)) == pytest.approx((upper, lower))


def test_a_pot_of_unknown_value_stays_unknown():
    circuit = clean("pot P1 ?")
    assert circuit.branches["P1.top-wiper"].value is None


@pytest.mark.parametrize(
    ("line", "closed"),
    [
        ("switch S1 spst at 1", {"common-1": True}),
        ("switch S1 spst at 2", {"common-1": False}),
        ("switch S1 spdt at 2", {"common-1": False, "common-2": True}),
        ("switch S1 dpst at 1", {"a.common-1": True, "b.common-1": True}),
        (
            "switch S1 dpdt at 1",
            {"a.common-1": True, "a.common-2": False, "b.common-1": True, "b.common-2": False},
        ),
    ],
)
def test_a_switch_has_one_contact_for_each_pole_and_position(line, closed):
    circuit = clean(line)
    assert {n: b.closed for n, b in circuit.branches.items()} == {
        f"S1.{name}": state for name, state in closed.items()
    }
    assert {b.kind for b in circuit.branches.values()} == {PartKind.CONTACT}
    assert {b.owner for b in circuit.branches.values()} == {"S1"}


def test_a_jack_rests_on_its_tip():
    circuit = clean("jack J1\nJ1.switch -- gnd\nJ1.tip -- IN")
    branch = circuit.branches["J1.switch-tip"]
    assert (branch.kind, branch.a, branch.b, branch.closed) == (
        PartKind.JACK_CONTACT,
        "gnd",
        "IN",
        True,
    )
    assert circuit.net("J1.sleeve") == "J1.sleeve"


def test_a_switch_on_the_wire_is_closed_unless_said():
    circuit = clean("A --[S1 switch]-- B --[S2 switch open]-- C")
    assert circuit.branches["S1"].closed
    assert not circuit.branches["S2"].closed


@pytest.mark.parametrize(
    ("wire", "a", "b"),
    [
        ("A --[D1 1N4007]-> B", "A", "B"),
        ("A <-[D1 1N4007]-- B", "B", "A"),
        ("A --[D1 zener 5.1 V]-> B", "A", "B"),
        ("A --+[D1 source 250 V]-- B", "A", "B"),
        ("A --[D1 source 250 V]+-- B", "B", "A"),
    ],
)
def test_which_end_is_a(wire, a, b):
    assert ends(clean(wire), "D1") == (a, b)


@pytest.mark.parametrize(
    ("wire", "plus"),
    [("A --+[C1 1u]-- B", "A"), ("A --[C1 1u]+-- B", "B"), ("A --[C1 1u]-- B", None)],
)
def test_the_plus_of_a_capacitor(wire, plus):
    assert clean(wire).branches["C1"].plus == plus


def test_a_signal_drives_its_point_against_gnd(parlour):
    branch = parlour.branches["IN"]
    assert (branch.kind, branch.a, branch.b) == (PartKind.SIGNAL, "IN", "gnd")
    assert magnitude(branch.value, "volt") == pytest.approx(0.4)


def test_a_signal_may_drive_a_lead():
    circuit = clean("tube V1 6J5\nsignal V1.g 1 V")
    assert circuit.branches["V1.g"].a == circuit.net("V1.g") == "V1.grid"


def test_a_nameless_point_is_called_after_its_neighbours():
    circuit = clean("A --[R1 1k]-- --[C1 1u]-- gnd")
    assert ends(circuit, "R1") == ("A", "R1-C1")
    assert ends(circuit, "C1") == ("R1-C1", "gnd")
    assert circuit.names["R1-C1"] == ()


def test_two_nameless_points_between_parts_of_the_same_names_stay_apart():
    text = "A --[R1 1k]-- --[C1 1u]-- gnd\nB --[R1 1k]-- --[C1 1u]-- gnd"
    first, second = (parse_drawing(line) for line in text.splitlines())
    statements = (*first.statements, *second.statements)
    circuit = build_circuit(replace(first, statements=statements))
    assert ends(circuit, "R1") == ("A", "R1-C1")
    assert ends(circuit, "R1 (2)") == ("B", "R1-C1 (2)")


def test_a_lamp_has_the_resistance_of_its_rating():
    circuit = clean("A --[PL1 lamp 6.3 V 0.15 A]-- B --[PL2 lamp 120 V 15 W]-- C")
    assert ohms(circuit.branches["PL1"].value) == pytest.approx(42)
    assert ohms(circuit.branches["PL2"].value) == pytest.approx(960)


def test_landmarks_name_the_net_before_the_builder_and_in_any_case():
    span = Span("t", 1, 1, 2)
    wire = Chain((Point("B1", None, None, span), Point("GND", None, None, span)), (None,), span)
    circuit = build_circuit(Drawing("t", ("B1 -- GND",), (wire,)))
    assert circuit.net("B1") == circuit.net("GND") == "gnd"


def test_the_builders_name_goes_before_a_lead_whichever_comes_first():
    circuit = clean("tube V1 6J5\nV1.plate -- V1.grid\nV1.grid -- OUT")
    assert circuit.net("V1.plate") == "OUT"


def test_the_lead_written_first_names_a_net_without_a_name():
    circuit = clean("tube V1 6J5\ntube V2 6J5\nV2.grid -- V1.plate")
    assert circuit.net("V1.plate") == "V2.grid"


def test_a_bend_in_the_wire_is_one_net():
    circuit = clean("A -- B\nC -- D\nB -- C")
    assert {circuit.net(p) for p in "ABCD"} == {"A"}


def test_the_pins_of_an_electrode_are_one_lead_and_an_idle_pin_is_its_own():
    circuit = clean(
        "tube V1 6AQ5\nV1:1 --[R1 1k]-- gnd\nV1:7 --[C1 1n]-- gnd\ntube V2 6V6GT\nV2:1 -- gnd"
    )
    assert circuit.net("V1:1") == circuit.net("V1:7") == circuit.net("V1.grid")
    assert circuit.net("V2:1") == "gnd"
    assert "V2:1" in circuit.names["gnd"]


def test_the_link_inside_a_gas_regulator_goes_with_the_tube():
    circuit = clean("tube V1 0D3\nA -- V1:3\nV1:7 -- B")
    (link,) = circuit.branches.values()
    assert (link.kind, link.a, link.b, link.owner) == (PartKind.CONTACT, "A", "B", "V1")


def test_the_graph_has_every_branch_once(parlour):
    edges = [d["branch"].name for _, _, d in parlour.graph.edges(data=True)]
    assert sorted(edges) == sorted(parlour.branches)
    assert set(nx.nodes(parlour.graph)) == set(parlour.names)
    for a, b, name, data in parlour.graph.edges(data=True, keys=True):
        assert {a, b} == {data["branch"].a, data["branch"].b}
        assert parlour.branches[name] is data["branch"]


def test_places_lead_back_to_the_line(parlour):
    assert parlour.places["T1.warm"].line == 8
    assert parlour.places["V2"].line == 10
    assert parlour.places["R9"].line == 19
    assert parlour.span("V1A.plate").line == 21
    assert parlour.span("V1B.plate").line == 9
    assert parlour.span("LIFT").line == 19


def test_an_empty_drawing_has_a_place_for_anything():
    circuit = build_circuit(Drawing("empty.tube", (), ()))
    assert list(circuit.graph) == ["gnd"]
    assert circuit.span("V1") == Span("empty.tube", 1, 1, 1)


def test_a_type_of_the_drawings_own_takes_its_ratings_from_the_text():
    text = "type MY6V6 like HOUSE\ntype HOUSE like 6V6GT\nrating plate-voltage 400 V\ntube V1 MY6V6"
    kind = clean(text).tubes["V1"].type
    assert kind.name == "MY6V6"
    rating = kind.rating("plate-voltage")
    assert (rating.value, rating.unit, rating.confidence) == (400, "volt", "drawing")


def test_further_types_go_before_the_ones_on_file():
    house = clean("tube V1 6J5").tubes["V1"].type.with_ratings("HOUSE", {})
    drawing = parse_drawing("tube V1 HOUSE")
    assert build_circuit(drawing, {"HOUSE": house}).tubes["V1"].type is house


def test_a_hand_made_part_keeps_what_was_written():
    span = Span("t", 1, 1, 2)
    part = Part("R1", PartKind.RESISTOR, span, value=None, unknown=frozenset({"value"}))
    ends_of = (Point("A", None, None, span), Point("B", None, None, span))
    circuit = build_circuit(Drawing("t", ("",), (Chain(ends_of, (part,), span),)))
    assert circuit.branches["R1"].part is part
    assert circuit.branches["R1"].value is None


TAPS = """mains 120 V 60 Hz
transformer T1
    primary pri 0/110/120/230 V 23 ohm
    winding ht 50/250 V ct 50/250 V dot 2
    winding lt 5/6.3 V
output T2 6k4 ct : 4/8/16 ohm 210 ohm
output T3 5k : 3.2/15 ohm
line -- T1.pri.0
neutral -- T1.pri.120
"""


def test_leads_of_taps():
    circuit = build_circuit(parse_drawing(TAPS))
    assert not circuit.problems
    leads = {w.name: [lead for lead, _ in w.leads] for w in circuit.windings()}
    assert leads == {
        "T1.pri": ["1", "110", "120", "2"],
        "T1.ht": ["1", "50_1", "ct", "50_2", "2"],
        "T1.lt": ["1", "5", "2"],
    }
    assert [lead for lead, _ in circuit.outputs["T2"].leads][3:] == ["s1", "4", "8", "s2"]
    assert [lead for lead, _ in circuit.outputs["T3"].leads] == ["p1", "p2", "s1", "3R2", "s2"]
    assert circuit.net("T1.pri.1") == "line"


def test_volts_and_turns_between_taps():
    """By the voltages; of an output by the roots of the impedances: 2, 2.83 and 4 of 80."""
    circuit = build_circuit(parse_drawing(TAPS))
    volts = {w.name: [magnitude(b.value, "volt") for b in w.branches] for w in circuit.windings()}
    assert volts["T1.pri"] == pytest.approx([110, 10, 110])
    assert volts["T1.ht"] == pytest.approx([200, 50, 50, 200])
    assert volts["T1.lt"] == pytest.approx([5, 1.3])
    (primary,) = circuit.transformers["T1"].primaries
    assert [magnitude(b.resistance, "ohm") for b in primary.branches] == pytest.approx([11, 1, 11])
    fed = circuit.transformers["T1"].fed
    assert [b.name for b in fed] == ["T1.pri.1-110", "T1.pri.110-120"]
    parts = circuit.outputs["T2"].secondary_parts
    turns = [4**0.5, 8**0.5 - 4**0.5, 16**0.5 - 8**0.5]
    assert [ratio * 80 for ratio, _ in parts] == pytest.approx(turns)


def test_a_primary_with_taps_has_to_be_wired():
    text = TAPS.replace("line -- T1.pri.0\nneutral -- T1.pri.120\n", "")
    (problem,) = build_circuit(parse_drawing(text)).problems
    assert problem.expected == "the tap that the mains is on"


def test_the_branches_at_a_net_are_those_of_the_graph() -> None:
    """In the graph's own order, and of its own graph where a part of the circuit is taken."""
    circuit = build_circuit(parse_drawing(PARLOUR, "x.tube"))
    for whole in (circuit, replace(circuit, graph=circuit.graph.subgraph(list(circuit.graph)[:5]))):
        for net in circuit.graph:
            beside = whole.graph.adj[net].values() if net in whole.graph else ()
            expected = [held["branch"] for edges in beside for held in edges.values()]
            assert whole.at(net) == expected
    assert circuit.at("nowhere") == []
