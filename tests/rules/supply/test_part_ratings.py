"""What is written on windings, chokes, diodes, fuses, lamps and sources, against Ohm's law."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from coldcheck.anatomy.case import Case
from coldcheck.rules.supply.jacks import jack_over_rating
from coldcheck.rules.supply.primary import primary_voltage
from coldcheck.solve.solution import Solution, State

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review


def told(looked: Review, rule: str) -> list:
    assert looked.readable
    assert not [n for n in looked.not_judged if "failed" in n.reason]
    return [f for f in looked.findings if f.rule == rule]


def winding(line: str, wires: str) -> str:
    return (
        f"mains 120 V 60 Hz\ntransformer T1\n primary pri 120 V 0.01 ohm\n winding {line}\n{wires}"
    )


@pytest.mark.parametrize(("rated", "found"), [(95, True), (100, False), (110, False)])
def test_a_chokes_direct_current(
    rated: float, found: bool, review: Callable[[str], Review]
) -> None:
    # 250 V over 2400 + 100 ohm is 100 mA; 5 % of grace.
    text = f"B1 --+[E1 250 V]-- gnd\nB1 --[L1 5 H 100 ohm {rated} mA]-- X --[R1 2k4]-- gnd\n"
    hits = told(review(text), "supply.coil-overload")
    assert [f.at for f in hits] == ([("L1",)] if found else [])
    for f in hits:
        assert (f.level, f.state) == ("notice", "warm")
        assert f.evidence["used"].value == pytest.approx(0.1, rel=1e-3)
        assert f.limit.value == pytest.approx(rated / 1e3)


@pytest.mark.parametrize(("rated", "found"), [("0.9 A", True), ("1.1 A", False)])
def test_a_low_windings_rms(rated: str, found: bool, review: Callable[[str], Review]) -> None:
    # 12 V over 11.9 + 0.1 ohm; a rated current lifts the emf by its own drop, 0.8 %.
    text = winding(f"w 12 V {rated} 0.1 ohm", "T1.w.1 --[R1 11R9]-- T1.w.2\nT1.w.2 -- gnd\n")
    hits = told(review(text), "supply.coil-overload")
    assert [f.at for f in hits] == ([("T1.w",)] if found else [])
    for f in hits:
        assert f.evidence["used"].value == pytest.approx(1.0, rel=0.02)


def test_a_full_wave_windings_mean_is_the_load(review: Callable[[str], Review]) -> None:
    wires = (
        "T1.ht.ct -- gnd\nT1.ht.1 --[D1 1N4007]-> A\nT1.ht.2 --[D2 1N4007]-> A\n"
        "A --+[C1 47 uF 500 V]-- gnd\nA --[R1 3k3 100 W]-- gnd\n"
    )
    looked = review(winding("ht 250 V ct 250 V 50 mA 200 ohm", wires))
    (finding,) = told(looked, "supply.coil-overload")
    load = looked.solutions["warm"].wave("A").dc / 3300  # Kirchhoff: all the DC comes that way
    assert finding.evidence["used"].value == pytest.approx(load, rel=0.01)
    assert finding.excess == pytest.approx(load / 0.05, rel=0.01)


@pytest.mark.parametrize(
    ("diode", "used"),
    [
        ("D1 diode 0.1 A", 0.15),
        ("D1 diode 0.2 A", None),
        ("D1 1N4148", None),  # 0.2 A
        ("LED1 led 2 V 20 mA", 0.148),
        ("D1 diode 0.05 W", 0.123),
    ],
)
def test_diodes(diode: str, used: float | None, review: Callable[[str], Review]) -> None:
    # (15 - 0.7) V, or (15 - 2) V with an LED's, over 95 or so ohm; 0.8 V times 0.15 A is 0.12 W.
    text = f"B1 --+[E1 15 V]-- gnd\nB1 --[{diode}]-> X --[R1 94R 5 W]-- gnd\n"
    hits = told(review(text.replace("94R", "94 ohm")), "supply.diode-overload")
    assert [f.at[0] for f in hits] == ([diode.split()[0]] if used else [])
    for f in hits:
        assert f.evidence["used"].value == pytest.approx(used, rel=0.12)


@pytest.mark.parametrize(
    ("block", "found"),
    [("500 V 0.1 A", True), ("500 V 0.12 A", False), ("500 V 1N4148", False), ("500 V", False)],
)
def test_a_blocks_amperes_are_its_dc(
    block: str, found: bool, review: Callable[[str], Review]
) -> None:
    """Kirchhoff: what leaves plus is the load's. Of four 1N4148 each has half: 2 x 0.2 A."""
    wires = (
        f"bridge BR1 {block}\nT1.s.1 -- BR1.ac1\nT1.s.2 -- BR1.ac2\nBR1.minus -- gnd\n"
        "BR1.plus -- A\nA --[R1 1k 50 W]-- gnd\n"
    )
    looked = review(winding("s 115 V 1 A 1 ohm", wires))
    hits = told(looked, "supply.diode-overload")
    assert [f.at for f in hits] == [("BR1",)] * found
    for f in hits:
        load = looked.solutions[f.state].wave("A").dc / 1000
        assert f.evidence["used"].value == pytest.approx(load, rel=1e-3)


@pytest.mark.parametrize(("resistor", "found"), [("14", True), ("15", False)])
def test_the_current_of_a_common_type_need_not_be_written(
    resistor: str, found: bool, review: Callable[[str], Review]
) -> None:
    """1N4007: 1 A. 15 V less 0.85 V or so over 14 ohm is 1.01 A."""
    text = f"B1 --+[E1 15 V]-- gnd\nB1 --[D1 1N4007]-> X --[R1 {resistor} ohm 50 W]-- gnd\n"
    assert bool(told(review(text), "supply.diode-overload")) is found


@pytest.mark.parametrize(("share", "found"), [(1.95, False), (2.05, True)])
def test_twice_the_written_current_may_be_meant_as_direct(
    share: float, found: bool, review: Callable[[str], Review]
) -> None:
    """A half-wave rectifier draws it in gulps: the rms is more than twice the mean."""

    def of(amps: float) -> Review:
        wires = (
            "T1.ht.1 --[D1 1N4007]-> A\nA --+[C1 47 uF 500 V]-- gnd\nA --[R1 10k 20 W]-- gnd\n"
            "T1.ht.2 -- gnd\n"
        )
        return review(winding(f"ht 250 V {amps:.6g} A 20 ohm", wires))

    warm = of(0.05).solutions["warm"]
    (coil,) = [b for w in warm.circuit.windings() if w.name == "T1.ht" for b in w.branches]
    rms = warm.current(coil.name).rms
    hits = [f for f in told(of(rms / share), "supply.coil-overload") if f.at == ("T1.ht",)]
    assert bool(hits) is found


@pytest.mark.parametrize(("rated", "found"), [("249 V", True), ("251 V", False), ("", False)])
def test_a_fuses_volts(rated: str, found: bool, review: Callable[[str], Review]) -> None:
    text = f"B1 --+[E1 250 V]-- gnd\nB1 --[F1 fuse 1 A {rated}]-- X --[R1 10k 10 W]-- gnd\n"
    hits = told(review(text), "supply.fuse-voltage")
    assert [f.at for f in hits] == ([("F1",)] if found else [])
    assert all(f.evidence["voltage_rms"].value == pytest.approx(250, rel=1e-3) for f in hits)


def test_a_fuse_in_the_tap_breaks_the_winding(review: Callable[[str], Review]) -> None:
    wires = (
        "T1.ht.ct --[F1 fuse 1 A 125 V]-- gnd\nT1.ht.1 --[D1 1N4007]-> A\n"
        "T1.ht.2 --[D2 1N4007]-> A\nA --+[C1 47 uF 500 V]-- gnd\nA --[R1 10k 100 W]-- gnd\n"
    )
    (hit,) = told(review(winding("ht 250 V ct 250 V", wires)), "supply.fuse-voltage")
    assert hit.evidence["voltage_rms"].value == pytest.approx(250, rel=0.01)


@pytest.mark.parametrize(
    ("lamp", "limit"),
    [
        ("5 V 0.1 A", 5.75),  # 6.3 V is 1.26 times 5 V: beyond 1.15
        ("5.5 V 0.1 A", None),  # 1.145 times
        ("6.3 V 0.15 W", None),
        ("0.1 A 50 ohm", 0.115),  # 6.3 V over 50 ohm is 126 mA
        ("0.5 W 50 ohm", 0.65),  # and 0.79 W
    ],
)
def test_lamps(lamp: str, limit: float | None, review: Callable[[str], Review]) -> None:
    hits = told(review(f"B1 --+[E1 6.3 V]-- gnd\nB1 --[PL1 lamp {lamp}]-- gnd\n"),
                "supply.lamp-over-rating")  # fmt: skip
    assert [f.limit.value for f in hits] == pytest.approx([limit] if limit else [])


STRING = """mains 120 V 60 Hz
tube V1 25L6GT
tube V2 25Z6GT
line --[F1 fuse 1 A]-- --[R1 240 ohm 50 W]-- --[PL1 lamp {lamp}]-- --[V1 heater]-- HB
HB --[V2 heater]-- neutral
neutral -- gnd
"""


@pytest.mark.parametrize(
    ("lamp", "says"),
    [
        ("6.3 V 150 mA", "or put 47 ohm across it"),  # 6.3 V / (268 - 150) mA is 53 ohm
        ("1.5 V 10 ohm", "or a resistor across it"),
    ],
)
def test_a_lamp_in_a_heater_string_takes_the_heaters_current(
    lamp: str, says: str, review: Callable[[str], Review]
) -> None:
    """Another winding is no way out of a string."""
    (hit,) = told(review(STRING.format(lamp=lamp)), "supply.lamp-over-rating")
    assert hit.remedy.startswith("Use a lamp for the current of the heaters it is in series with")
    assert hit.remedy.endswith(says)


@pytest.mark.parametrize(
    ("wire", "found"),
    [
        ("[NE1 neon]", True),
        ("[R2 9k1]--[NE1 neon]", True),
        ("[R2 10k]--[NE1 neon]", False),
        ("[R2 100k]--[NE1 neon]--[NE2 neon]", False),
        ("[NE1 neon 120 V]", False),
        ("[PL1 neon 65 V]", True),
    ],
)
def test_neons(wire: str, found: bool, review: Callable[[str], Review]) -> None:
    looked = review(f"B1 --+[E1 250 V]-- gnd\nB1 --[R1 1M]-- gnd\nB1 --{wire}-- gnd\n")
    hits = told(looked, "supply.neon-unlimited")
    assert [f.at[0] in wire for f in hits] == ([True] if found else [])


@pytest.mark.parametrize(("rated", "found"), [("1 mA", True), ("1.5 mA", True), ("1.55 mA", False)])
def test_a_neons_current(rated: str, found: bool, review: Callable[[str], Review]) -> None:
    # (250 - 60) V over 100 kohm is 1.9 mA.
    text = f"B1 --+[E1 250 V]-- gnd\nB1 --[R2 100k 1 W]--[NE1 neon {rated}]-- gnd\n"
    hits = told(review(text), "supply.lamp-over-rating")
    assert [f.evidence["used"].value for f in hits] == pytest.approx([1.9e-3] if found else [])
    assert all(f.at == ("R2", "NE1") for f in hits)  # what there is to change comes first


def test_the_resistor_for_a_neon(review: Callable[[str], Review]) -> None:
    # 1.9 mA through 100 kohm, and half a milliampere wanted: 380 kohm, 390 in the series.
    text = "B1 --+[E1 250 V]-- gnd\nB1 --[R2 100k 1 W]--[NE1 neon 0.5 mA]-- gnd\n"
    (hit,) = told(review(text), "supply.lamp-over-rating")
    assert hit.remedy == "Use 390 kohm for R2 (100 kohm now)"


@pytest.mark.parametrize(("rated", "found"), [("99 mA", True), ("101 mA", False)])
def test_sources(rated: str, found: bool, review: Callable[[str], Review]) -> None:
    text = f"B1 --+[E1 250 V {rated}]-- gnd\nB1 --[R1 2k5 50 W]-- gnd\n"
    hits = told(review(text), "supply.source-overload")
    assert [f.evidence["used"].value for f in hits] == pytest.approx([0.1] if found else [])


def mains(volts: int, wires: str) -> str:
    return (
        f"mains {volts} V 50 Hz\ntransformer T1\n primary a 115 V 5 ohm\n primary b 115 V 5 ohm\n"
        f" winding w 6.3 V 1 A\nline --[F1 fuse 0.25 A]-- T1.a.1\n{wires}\n"
        "earth -- chassis -- gnd\nT1.w.2 -- gnd\nT1.w.1 --[R1 10 ohm 10 W]-- gnd\n"
    )


SERIES = "T1.a.2 -- T1.b.1\nT1.b.2 -- neutral"
BESIDE = "T1.b.1 -- T1.a.1\nT1.b.2 -- T1.a.2\nT1.a.2 -- neutral"


@pytest.mark.parametrize(
    ("volts", "wires", "got", "remedy"),
    [
        (230, SERIES, None, ""),
        (115, BESIDE, None, ""),
        (230, BESIDE, 230, "in series"),
        (115, SERIES, 57.5, "side by side"),
        (131, BESIDE, None, ""),  # 13.9 % more
        (133, BESIDE, 133, "primary for 133 V"),  # 15.7 % more
    ],
)
def test_primaries(
    volts: int, wires: str, got: float | None, remedy: str, review: Callable[[str], Review]
) -> None:
    hits = told(review(mains(volts, wires)), "supply.primary-voltage")
    found = [f.evidence["primary"].value for f in hits]
    assert found == pytest.approx([got] if got else [], rel=1e-3)
    for f in hits:
        assert (f.at, f.level) == (("T1.a", "T1.b"), "notice")
        assert remedy in f.remedy


def test_what_only_follows_is_told_with_it(sample: Callable[..., Review]) -> None:
    looked = sample("supply.primary-voltage", "wrong")
    (cause,) = [f for f in looked.findings if f.level != "advice"]
    assert cause.rule == "supply.primary-voltage"
    explained = cause.evidence["explains"]
    for rule in ("heater.wrong-voltage", "capacitor.over-voltage", "tube.screen-voltage"):
        assert rule in explained


def test_insulation_unstated_at_a_kilovolt(review: Callable[[str], Review]) -> None:
    # 800 V rms is 1131 V peak on one end of a winding whose other end is at gnd.
    def unsaid(volts: int) -> list[tuple[str, ...]]:
        wires = "T1.ht.1 --[R1 100k 10 W]-- gnd\nT1.ht.2 -- gnd\n"
        looked = review(winding(f"ht {volts} V", wires))
        rule = "supply.insulation-overstressed"
        return [n.at for n in looked.not_judged if n.rule == rule]

    assert unsaid(800) == [("T1.ht",)]
    assert unsaid(600) == []


JACK = "B1 --+[E1 90 V]-- gnd\nB1 --[R1 100 ohm 100 W]-- A --[J1 jack {rated}]-- gnd\n"


@pytest.mark.parametrize(
    ("rated", "message"),
    [
        ("50 V", "J1 has 90 V between tip and sleeve; it is made for 50 V"),
        ("100 V", ""),
        ("250 Vac", "J1 has 90 V of DC between tip and sleeve; it is made for 30 V"),
    ],
)
def test_jacks(rated: str, message: str, review: Callable[[str], Review]) -> None:
    hits = told(review(JACK.format(rated=rated)), "supply.jack-over-rating")
    assert [f.message for f in hits] == ([message] if message else [])


def test_a_rated_jack_in_a_set_without_voltages_is_not_judged(
    review: Callable[[str], Review],
) -> None:
    for rated, at in (("50 V", [("J1",)]), ("", [])):
        circuit = review(JACK.format(rated=rated)).circuit
        failed = Solution(State("warm", "warm"), False, 1.0, 80, "no luck", circuit)
        outcomes = list(jack_over_rating.judge(Case(circuit, {"warm": failed})))
        assert [o.at for o in outcomes] == at


@pytest.mark.parametrize(("rated", "found"), [("0.8 A", True), ("1 A", False)])
def test_the_contact_of_a_jack(rated: str, found: bool, review: Callable[[str], Review]) -> None:
    """90 V over 100 ohm is 0.9 A."""
    text = (
        f"jack J1 {rated}\nB1 --+[E1 90 V]-- gnd\nB1 --[R1 100 ohm 100 W]-- J1.tip\n"
        "J1.switch -- gnd\nJ1.sleeve -- gnd\n"
    )
    hits = told(review(text), "supply.jack-over-rating")
    assert bool(hits) is found


@pytest.mark.parametrize(("marked", "found"), [("90 V", True), ("100 V", False)])
def test_a_neon_marked_for_the_mains_has_its_resistor_inside(
    marked: str, found: bool, review: Callable[[str], Review]
) -> None:
    text = f"B1 --+[E1 120 V]-- gnd\nB1 --[PL1 lamp neon {marked}]-- gnd\n"
    assert bool(told(review(text), "supply.neon-unlimited")) is found


def test_a_lamp_of_known_volts_and_unknown_current(review: Callable[[str], Review]) -> None:
    (hit,) = told(
        review("B1 --+[E1 12 V]-- gnd\nB1 --[PL1 lamp 6.3 V]-- gnd\n"), "supply.lamp-over-rating"
    )
    assert hit.evidence["used"].value == pytest.approx(12, rel=1e-3)


UNWIRED = (
    "mains 230 V 50 Hz\ntransformer T1\n{}winding w 12.6 V 1 A\nT1.w.1 --[R1 100 ohm]-- T1.w.2\n"
    "T1.w.2 -- gnd\n"
)


@pytest.mark.parametrize(
    ("primaries", "found"),
    [
        ("primary a 115 V\n", [("T1.a",)]),
        ("primary a 230 V\n", []),
        ("primary a 115 V\nprimary b 115 V\n", []),  # how they are joined is not drawn
    ],
)
def test_a_primary_that_is_not_wired_is_on_the_mains(
    primaries: str, found: list[tuple[str, ...]], review: Callable[[str], Review]
) -> None:
    hits = told(review(UNWIRED.format(primaries)), "supply.primary-voltage")
    assert [f.at for f in hits] == found


@pytest.mark.parametrize("solved", [True, False])
@pytest.mark.parametrize(
    ("primary", "found"), [("230 V ct", []), ("115 V ct", [("T1.a",)]), ("115 V", [("T1.a",)])]
)
def test_the_whole_of_a_tapped_primary_counts(
    primary: str, found: list[tuple[str, ...]], *, solved: bool, review: Callable[[str], Review]
) -> None:
    text = (
        UNWIRED.format(f"primary a {primary} 5 ohm\n")
        + "line -- T1.a.1\nT1.a.2 -- neutral\nearth -- gnd\n"
    )
    looked = review(text)
    failed = Solution(State("warm", "warm"), False, 1.0, 80, "no luck", looked.circuit)
    solutions = looked.solutions if solved else {"warm": failed}
    hits = list(primary_voltage.judge(Case(looked.circuit, solutions)))
    assert [f.at for f in hits] == found


def test_a_primary_behind_a_part_is_not_on_the_mains_for_sure(
    review: Callable[[str], Review],
) -> None:
    text = UNWIRED.format("primary a 115 V 5 ohm\n")
    circuit = review(f"{text}line --[R9 100 ohm 50 W]-- T1.a.1\nT1.a.2 -- neutral\n").circuit
    failed = Solution(State("warm", "warm"), False, 1.0, 80, "no luck", circuit)
    assert list(primary_voltage.judge(Case(circuit, {"warm": failed}))) == []


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("B --+[E1 59 V]-- gnd\nB --[R1 100k]--[NE1 neon]-- gnd\n", True),
        ("B --+[E1 61 V]-- gnd\nB --[R1 100k]--[NE1 neon]-- gnd\n", False),
        ("B --+[E1 200 V]-- gnd\nB --[R1 100k]--[NE1 neon]-- gnd\n", False),
        ("B --+[E1 4 V]-- gnd\nB --[R1 100k]--[NE1 neon]-- gnd\n", False),
        ("B --+[E1 40 V]-- gnd\nB --[R1 100k]-- K --[NE1 neon]-- gnd\nK --[C1 1n]-- IN\n", False),
        ("B --+[E1 40 V]-- gnd\nB --[R1 100k]--[NE1 neon 55 V 1 mA]-- gnd\n", False),
    ],
)
def test_a_neon_that_never_lights(text: str, found: bool, review: Callable[[str], Review]) -> None:
    """Common practice: small neons strike at 60 to 90 V."""
    hits = told(review(text), "supply.neon-dark")
    assert [(f.at, f.level) for f in hits] == ([(("NE1",), "notice")] if found else [])


def test_the_pair_of_a_neon_that_never_lights(sample: Callable[[str, str], Review]) -> None:
    """6.3 V rms are 8.9 V peak; a little more from an unloaded winding at high line."""
    (hit,) = told(sample("supply.neon-dark", "wrong"), "supply.neon-dark")
    assert hit.at == ("NE1",)
    assert hit.state == "high line"
    assert hit.evidence["across"].value == pytest.approx(6.3 * 2**0.5 * 1.1, rel=0.08)
    assert hit.limit is not None
    assert hit.limit.value == 60
    assert not told(sample("supply.neon-dark", "right"), "supply.neon-dark")


@pytest.mark.parametrize(("ohms", "found"), [("100", True), ("220", False)])
def test_the_led_of_an_optocoupler(ohms: str, found: bool, review: Callable[[str], Review]) -> None:
    """(5 - 1.9) V over 100 ohm are 31 mA, over 220 ohm 14 mA."""
    text = (
        f"C --+[E1 5 V]-- gnd\nC --[R1 {ohms}]-- OC1.a\nOC1.k -- gnd\n"
        "B --+[E2 100 V]-- gnd\nB --[R2 100k]-- OC1.cell1\nOC1.cell2 -- gnd\n"
        "optocoupler OC1 led 20 mA cell 1M 1k\n"
    )
    hits = told(review(text), "supply.diode-overload")
    assert [f.at for f in hits] == ([("OC1.lamp",)] if found else [])


LINK = """B1 --+[E1 250 V]-- gnd
tube V1 6AQ5
transformer L2 coupling 20 %
    winding tank 5 uH
    winding link 1 uH
B1 --[RFC1 2.5 mH]-- V1.plate --[C1 1n 1000 V]-- L2.tank.1
L2.tank.2 -- gnd
V1.screen --[R1 10k 1 W]-- B1
V1.cathode --[R2 330 ohm 2 W]-- gnd
V1.grid --[R3 22k]-- gnd
IN --[C2 1n]-- V1.grid
signal IN 5 V 7 MHz
{} --[PL1 lamp 6.3 V 0.15 A]-- gnd
"""


def test_a_lamp_on_a_coupling_link_is_fed_by_the_signal(review: Callable[[str], Review]) -> None:
    on_link = LINK.format("L2.link.2 -- gnd\nL2.link.1")
    assert not told(review(on_link), "supply.part-unfed")
    off_it = LINK.format("L2.link.1 --[R8 50 ohm]-- L2.link.2 -- gnd\nX --[R9 1k]-- gnd\nX")
    assert [f.at for f in told(review(off_it), "supply.part-unfed")] == [("PL1",)]
