"""Random drawings that parse: statements of every kind over a few declared parts.

A drawing is a list of statements, each drawn by itself, so that hypothesis can shrink it by leaving
statements out and by taking plainer ones. Most values are ordinary; some are far from it.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from hypothesis import strategies as st

from coldcheck.circuit.tubes import known_types, tube_type
from coldcheck.circuit.tubes_types import RATING_NAMES
from coldcheck.drawing.values import SYMBOLS
from coldcheck.verdict.registry import RULES

LANDMARKS = ("gnd", "chassis", "earth", "line", "neutral")
NAMED = ("B1", "B2", "IN", "OUT", "X")
COMMON_TUBES = ("12AX7", "6V6GT", "5Y3GT", "6J5", "EL84", "6X4", "0A2", "50L6GT")
FINE, ODD = 5, 1
"""Odds of an ordinary against an odd value."""


@st.composite
def _value(draw, fine, odd=()):
    """One of the ordinary values, or now and then one of the odd ones."""
    pick = draw(st.integers(0, FINE + ODD - 1))
    return draw(st.sampled_from(tuple(odd) if odd and pick >= FINE else tuple(fine)))


OHMS = _value(("1k", "100k", "1M", "470", "10", "220k 1 W"),
              ("?", "0.000000001", "1000000 M", "0.001", "22M 500 V", "1k 1 uW",
               "1k 200 %"))  # fmt: skip
FARADS = _value(("100n 400 V", "22 uF 450 V", "22n", "1n 500 V"),
                ("?", "0.000001 pF", "1 F", "22 uF 400 V film", "4.7n 250 Vac Y2", "100n X2",
                 "1 uF 1 V", "365p variable ganged", "30p trimmer", "100p N750",
                 "10 uF 450 V electrolytic", "1 uF 1000 ohm", "? 400 V"))  # fmt: skip
HENRIES = _value(
    ("8 H 250 ohm", "5 H 100 mA"), ("?", "0.000000000001 H", "1000000 H", "1 mH insulation 500 V")
)
VOLTS = _value(
    ("250 V", "12 V", "6.3 V", "1.5 V"), ("?", "0.000001 V", "100000 V", "300 V 1 ohm 50 mA")
)

PARTS = {
    "R": OHMS,
    "C": FARADS,
    "L": HENRIES,
    "F": _value(("1 A", "250 mA slow"), ("?", "0.000000001 A", "100 A fast 250 V 1 ohm")),
    "S": _value(("", "standby", "open"), ("closed 1 V 0.000001 A", "250 Vac 3 A")),
    "RT": _value(("50 ohm", "120 ohm 2 ohm"), ("?", "0.000001 ohm", "10 ohm 0.3 ohm 5 A 10 %")),
    "PL": _value(("6.3 V 150 mA", ""), ("120 V 40 W", "1 A", "0.001 V 10 A", "30 ohm")),
    "LS": _value(("8 ohm", "16 ohm 10 W"), ("?", "0.000001 ohm", "1M")),
    "J": _value(("",), ("500 V 1 A", "250 Vac")),
    "Y": _value(("", "7.1 MHz"), ("crystal 0.001 Hz",)),
    "M": _value(("milliammeter 50 mA", "voltmeter 500 V"), ("meter 1 uA", "ammeter 0.001 ohm")),
    "MOV": _value(("275 Vac", "400 V"), ("1 V",)),
    "SG": _value(("spark-gap 1500 V",), ("spark-gap 1 V",)),
    "NE": _value(("neon", "neon 65 V"), ("neon 120 V", "neon 60 V 1 mA", "neon 1 V")),
    "LDR": _value(("1M 1k", "20k 0.1 W"), ("?", "1M 0.001 ohm 300 V")),
    "BAL": _value(
        ("barretter 40 V 120 V 0.15 A", "ballast 55 V 0.3 A"),
        ("barretter ? 1 V 9 A", "ballast 0.3 A"),
    ),
}
ARROWS = {
    "D": _value(("1N4007", ""), ("silicon 1 V", "selenium 1000 V 1 A", "germanium 0.000001 A")),
    "Z": _value(("12 V 1 W", "5V1"), ("?", "0.001 V", "10000 V 0.000000001 W")),
    "LED": _value(("2 V", ""), ("0.001 V 20 mA", "500 V")),
}


@dataclass
class Sketch:
    """What is declared so far, and the points it gives."""

    lines: list[str] = field(default_factory=list)
    points: list[str] = field(default_factory=lambda: list(NAMED))
    windings: list[str] = field(default_factory=list)
    places: list[str] = field(default_factory=list)
    sections: list[str] = field(default_factory=list)
    heaters: list[str] = field(default_factory=list)
    driven: set[str] = field(default_factory=set)


def _is_plain(name):
    return not set(name) & set(' []"<>=:')


TYPES = tuple(name for name in known_types() if _is_plain(name))


def tube_types():
    """A type on file: the common ones as often as all others."""
    return st.sampled_from(COMMON_TUBES) | st.sampled_from(TYPES)


@st.composite
def _transformer(draw, sketch):
    kinds = {
        "ht": (
            "250 V ct 250 V 70 mA",
            "250 V",
            "300 V ct 300 V 100 mA 200 ohm",
            "0.001 V",
            "? V",
            "? ct",
        ),
        "warm": (
            "6.3 V ct 2.5 A",
            "6.3 V 3 A",
            "6.3 V",
            "12.6 V ct 0.1 A",
            "? 3 A",
            "? ct 0.1 ohm",
            "10000 V insulation 1 V",
        ),
        "bias": ("50/300 V ct 300 V", "0/50/60 V 0.1 A dot 2"),
        "fil": ("5 V 2 A", "5 V", "2.5 V ct 0.001 A", "6.3 V dot 2"),
    }
    sketch.lines.append("transformer T1")
    sketch.lines.append(
        "    primary pri " + draw(st.sampled_from(("120 V 4 ohm", "230 V", "1 V", "?")))
    )
    for name in draw(st.lists(st.sampled_from(tuple(kinds)), unique=True, max_size=3)):
        text = draw(st.sampled_from(kinds[name]))
        sketch.lines.append(f"    winding {name} {text}")
        sketch.windings.append(f"T1.{name}")
        ends = ("1", "2", "ct") if " ct" in text else ("1", "2")
        ends += ("50",) if "50/" in text else ()
        sketch.points += [f"T1.{name}.{end}" for end in ends]
        sketch.places.append(f"T1.{name}")
    sketch.points += ["T1.pri.1", "T1.pri.2"]
    if draw(st.integers(0, 3)):
        sketch.lines += ["line -- T1.pri.1", "neutral -- T1.pri.2"]


@st.composite
def _tubes(draw, sketch):
    for n in range(1, draw(st.sampled_from((0, 1, 1, 1, 1, 2, 2))) + 1):
        kind = draw(tube_types())
        heater = ""
        if sketch.windings and draw(st.booleans()):
            ways = [f" {way.mode}" for way in tube_type(kind).heaters if way.mode != "single"]
            how = draw(st.sampled_from(["", *ways]))
            heater = f" heater {draw(st.sampled_from(sketch.windings))}{how}"
        named = kind
        if draw(st.integers(0, 9)) == 9:
            named = f"OWN{n}"
            hot = tube_type(kind).heaters and draw(st.booleans())
            sketch.lines.append(f"type {named} like {kind}{' heater 6.3 V 1 A' if hot else ''}")
            for name in draw(st.lists(st.sampled_from(tuple(RATING_NAMES)), unique=True)):
                number = draw(st.sampled_from(("0.001", "1", "300", "1000000")))
                sketch.lines.append(f"    rating {name} {number} {SYMBOLS[RATING_NAMES[name]]}")
        sketch.lines.append(f"tube V{n} {named}{heater}")
        _of_tube(sketch, n, tube_type(kind), drawn=bool(heater))


def _of_tube(sketch, n, kind, *, drawn):
    sketch.places.append(f"V{n}")
    if not drawn and kind.cathode == "indirect" and kind.heaters:
        sketch.heaters.append(f"V{n}")
    for section in kind.sections:
        name = f"V{n}{section.name}"
        sketch.sections.append(name)
        sketch.places.append(name)
        # Twice: tubes are what most rules look at.
        sketch.points += [f"{name}.{e}" for e in section.electrodes if e != "filament"] * 2


def _output(sketch, draw):
    text, more = draw(
        st.sampled_from(
            (
                ("5k : 8 ohm 210 ohm", ()),
                ("8k ct : 8 ohm 100 mA ungapped", ("ct",)),
                ("6k6 ct taps 40 % : 16 ohm 20 H", ("ct", "u1", "u2")),
                ("5k : 8 ohm gapped 1 mA dot s2", ()),
                ("5k : 3.2/8/15 ohm dot s2", ("3R2", "8")),
                ("0.001 : 1M", ()),
            )
        )
    )
    sketch.lines.append(f"output T2 {text}")
    sketch.points += [f"T2.{end}" for end in ("p1", "p2", "s1", "s2", *more)]


def _coils(sketch, draw):
    head, first, second, more = draw(
        st.sampled_from(
            (
                ("gapped", "1 turn 10 H 400 ohm 8 mA", "3 turns ct", ("sec.ct",)),
                ("ungapped", "impedance 50/200", "impedance 20k dot 2", ("pri.50",)),
                ("coupling 1.5 %", "1.2 mH 12 ohm", "1.2 mH", ()),
                ("", "20/100 turns 150 uH insulation 100 V", "5 turns", ("pri.20",)),
                ("", "0.001 uH", "1000 H 1 ohm", ()),
                ("coupling 100 %", "1 turn ct 2 turns", "100000 turns", ("pri.ct",)),
                ("", "?", "? 12 ohm", ()),
                ("gapped", "? 210 ohm 60 mA", "?", ()),
                ("", "? turns", "? mH dot 2", ()),
                ("coupling 40 %", "8 mH ct 15 ohm", "?", ("pri.ct",)),
            )
        )
    )
    sketch.lines += [
        f"transformer T3 {head}",
        f"    primary pri {first}",
        f"    winding sec {second}",
    ]
    ends = ("pri.1", "pri.2", "sec.1", "sec.2", *more)
    sketch.points += [f"T3.{end}" for end in ends]


def _pot(sketch, draw):
    text = draw(
        st.sampled_from(
            (
                "500k",
                "1M at 0 %",
                "100k 0.5 W at 99 %",
                "?",
                "0.001",
                "25k",
                "1M log tap 300k at 40 %",
                "500k reverse-log tap 20 % tap 90 %",
            )
        )
    )
    sketch.lines.append(f"pot P1 {text}")
    sketch.points += ["P1.top", "P1.wiper", "P1.bottom"]
    taps = text.count("tap")
    sketch.points += ["P1.tap"] if taps == 1 else [f"P1.tap{n}" for n in range(1, taps + 1)]


def _switch(sketch, draw):
    layout = draw(st.sampled_from(("spst", "spdt", "dpst", "dpdt", "sp3t", "3p5t")))
    more = draw(st.sampled_from(("", " at 2", " 250 Vac 3 A", " 1 V 0.000001 A at 1")))
    sketch.lines.append(f"switch S0 {layout}{more}")
    throws = {"s": 1, "d": 2}.get(layout[-2]) or int(layout[-2])
    ends = ("common", *map(str, range(1, throws + 1)))
    poles = {"s": ("",), "d": ("a.", "b."), "3": ("a.", "b.", "c.")}[layout[0]]
    sketch.points += [f"S0.{pole}{end}" for pole in poles for end in ends]


def _relay(sketch, draw):
    layout = draw(st.sampled_from(("spst", "spdt", "3pdt")))
    coil = draw(
        st.sampled_from(("12 V 250 ohm", "6.3 V 0.6 A delay 45 s", "120 Vac 1 uA released"))
    )
    sketch.lines.append(f"relay K0 {layout} {coil} contacts 250 Vac 3 A")
    poles = ("a.", "b.", "c.") if layout[0] == "3" else ("",)
    ends = ("common", "no") if layout == "spst" else ("common", "no", "nc")
    sketch.points += ["K0.coil.1", "K0.coil.2", *(f"K0.{p}{e}" for p in poles for e in ends)]


def _plugs(sketch, draw):
    word = draw(st.sampled_from(("", " plugged", " unplugged")))
    sketch.lines += ["plug PL0", f"connector P0 2{word}"]
    sketch.points += [f"PL0.{end}" for end in ("line", "neutral", "1", "2")]
    sketch.points += ["P0.a1", "P0.b1", "P0.a2", "P0.b2"]


def _vibrator(sketch, draw):
    more = draw(st.sampled_from(("6 V", "12 V 115 Hz synchronous", "0.001 V 1 Hz")))
    sketch.lines.append(f"vibrator VB0 {more}")
    ends = ("s1", "s2") if "synch" in more else ()
    sketch.points += [f"VB0.{end}" for end in ("reed", "c1", "c2", *ends)]


def _gated(sketch, draw):
    sort = draw(st.sampled_from(("thyristor", "triac")))
    more = draw(st.sampled_from(("400 V 4 A", "1 V 1 uA gate 1 uA", "C106D", "gate 1 mA", "BT136")))
    sketch.lines.append(f"{sort} SCR0 {more}")
    ends = ("anode", "cathode") if sort == "thyristor" else ("mt1", "mt2")
    sketch.points += [f"SCR0.{end}" for end in (*ends, "gate")]


def _optocoupler(sketch, draw):
    lamp = draw(st.sampled_from(("led 20 mA", "neon", "lamp 6.3 V 40 mA", "")))
    sketch.lines.append(f"optocoupler OC0 {lamp} cell {draw(PARTS['LDR'])}")
    ends = ("a", "k") if lamp in ("led 20 mA", "") else ("lamp1", "lamp2")
    sketch.points += [f"OC0.{end}" for end in (*ends, "cell1", "cell2")]


def _reverb(sketch, draw):
    coils = ("8 ohm 0.8 ohm : 2k25 200 ohm", "600 : ?", "? : 0.001 ohm", "? 1 ohm : ?")
    sketch.lines.append(f"reverb TK0 {draw(st.sampled_from(coils))}")
    sketch.points += [f"TK0.{end}" for end in ("in1", "in2", "out1", "out2")]


def _ballast(sketch, draw):
    sections = ("40 V 300 mA", "9 V 300 mA", "135 ohm 15 W", "5k", "?", "1 V 40 V 0.3 A", "0.001")
    parts = draw(st.lists(st.sampled_from(sections), min_size=2, max_size=6))
    sketch.lines.append(f"ballast BAL0 {' : '.join(parts)}")
    taps = ["tap"] if len(parts) == 2 else [f"tap{n}" for n in range(1, len(parts))]
    sketch.points += [f"BAL0.{end}" for end in ("1", "2", *taps)]


def _class_c(sketch, draw):
    """A stage for radio frequencies that a signal or another stage drives over a leak."""
    kind = draw(st.sampled_from(("807", "6146", "5763", "813", "6V6GT", "832A")))
    lead = "V8A" if kind == "832A" else "V8"
    hertz = draw(st.sampled_from(("7 MHz", "150 kHz", "1 kHz")))
    sketch.lines += [
        f"tube V8 {kind}",
        f"{lead}.cathode -- gnd",
        f"{lead}.grid --[R{{n}} {draw(st.sampled_from(('22k', '1k', '1M', '?')))}]-- gnd",
        f"{draw(st.sampled_from(('RF', 'OUT', 'IN')))} --[C{{n}} 100p 500 V]-- {lead}.grid",
        f"B1 --[L{{n}} {draw(st.sampled_from(('2.5 mH 40 ohm', '?', '1 mH')))}]-- {lead}.plate",
        f"B1 --[R{{n}} 22k 5 W]-- {lead}.screen",
        f"signal RF 20 V {hertz}",
    ]
    sketch.driven.add("RF")
    sketch.points += [f"{lead}.{e}" for e in ("plate", "grid", "screen", "cathode")]


def _bistable(sketch, draw):
    """Two sections that hold each other, or nearly so."""
    kind = draw(st.sampled_from(("12AU7", "6SN7GT", "12AX7", "2C51")))
    sketch.lines.append(f"tube V7 {kind}")
    ohms = draw(st.sampled_from(("220k", "1M", "10", "?")))
    for one, other in (("A", "B"), ("B", "A")):
        sketch.lines += [
            f"B1 --[R{{n}} 47k 2 W]-- V7{one}.plate",
            f"V7{one}.plate --[R{{n}} {ohms}]-- V7{other}.grid",
            f"V7{one}.cathode --[R{{n}} 10k 2 W]-- gnd",
            f"V7{other}.grid --[R{{n}} 100k]-- {draw(st.sampled_from(('gnd', 'B2')))}",
        ]
    sketch.points += [f"V7{s}.{e}" for s in "AB" for e in ("plate", "grid", "cathode")]


def _beam(sketch, draw):
    """A cathode-ray tube, of no type that is on file."""
    sketch.lines.append("tube V9 3XY1")
    leads = ("grid", "cathode", "a1", "a2", "x1", "x2", "y1", "y2", "h1", "h2")
    for lead in draw(st.lists(st.sampled_from(leads), unique=True, min_size=3)):
        sketch.lines.append(f"V9.{lead} --[R{{n}} 1M]-- {draw(_points(sketch))}")


def _bridge(sketch, draw):
    more = draw(st.sampled_from(("", " 1N4007", " 400 V 1 A", " selenium 30 Vac 75 mA", " 1 V")))
    sketch.lines.append(f"bridge BR0{more}")
    sketch.points += [f"BR0.{end}" for end in ("ac1", "ac2", "plus", "minus")]


def _transistor(sketch, draw):
    fets = ("IRF840", "DN2540", "IRF9610", "2N7000", "2N5457", "J175")
    bipolar = ("2N3055", "BC547", "MPSA92")
    kind = draw(st.sampled_from((*fets, *bipolar)))
    sketch.lines.append(f"transistor Q0 {kind}{draw(st.sampled_from(('', ' heatsink 4 K/W')))}")
    sketch.points += [
        f"Q0.{end}" for end in (("drain", "gate", "source") if kind in fets else "cbe")
    ]


def _regulator(sketch, draw):
    kind, third = draw(st.sampled_from((("7812", "common"), ("LM317", "adj"), ("7905", "common"))))
    sketch.lines.append(f"regulator U0 {kind}")
    sketch.points += [f"U0.{end}" for end in ("in", "out", third)]


def _jack(sketch, draw):
    more = draw(st.sampled_from(("", " unplugged", " plugged", " 1 V 1 A")))
    sketch.lines.append(f"jack J0{more}")
    sketch.points += [f"J0.{end}" for end in ("tip", "sleeve", "ring", "switch")]


def _points(sketch):
    return st.sampled_from(("gnd", "B1")) | st.sampled_from(
        (*sketch.points, *sketch.points, *LANDMARKS)
    )


@st.composite
def _part(draw, n):
    """A part with the wires on both sides."""
    if draw(st.integers(0, 5)) == 0:
        letters = draw(st.sampled_from(tuple(ARROWS)))
        inside = f"[{letters}{n} {draw(ARROWS[letters])}]"
        return draw(st.sampled_from((f"--{inside}->", f"<-{inside}--")))
    letters = draw(st.sampled_from(("R", "R", "R", "C", "C", *PARTS)))
    inside = f"[{letters}{n} {draw(PARTS[letters])}]"
    polar = letters == "C" and "uF" in inside and "film" not in inside and draw(st.booleans())
    forms = (f"--+{inside}--", f"--{inside}+--") if polar else (f"--{inside}--",)
    return draw(st.sampled_from(forms))


@st.composite
def _chain(draw, sketch, n):
    text = draw(_points(sketch))
    for k in range(draw(st.sampled_from((1, 1, 1, 2)))):
        bare = draw(st.integers(0, 4)) == 0
        text += f" {'--' if bare else draw(_part(f'{n}_{k}'))} {draw(_points(sketch))}"
    return text


@st.composite
def _source(draw, sketch, n):
    point = draw(st.sampled_from(("B1", "B2")) | _points(sketch))
    plus = draw(st.sampled_from(("--+[E{n} {v}]--", "--[E{n} {v}]+--")))
    other = draw(st.sampled_from(("gnd", "gnd")) | _points(sketch))
    return f"{point} {plus.format(n=n, v=draw(VOLTS))} {other}"


@st.composite
def _signal(draw, sketch, n):
    volts = draw(
        _value(("0.4 V 1 kHz", "1 V"), ("0.000000000001 V", "10000 V 1 MHz", "1 V 0.001 Hz"))
    )
    point = draw(st.just("IN") | _points(sketch))
    if point in sketch.driven or point in LANDMARKS:
        return draw(_chain(sketch, n))
    sketch.driven.add(point)
    return f"signal {point} {volts}"


@st.composite
def _heater_wire(draw, sketch, n):
    if not sketch.heaters:
        return draw(_chain(sketch, n))
    tube = sketch.heaters.pop(draw(st.integers(0, len(sketch.heaters) - 1)))
    return f"{draw(_points(sketch))} --[{tube} heater]-- {draw(_points(sketch))}"


@st.composite
def _expect(draw, sketch, n):
    if not sketch.sections:
        return draw(_chain(sketch, n))
    point = draw(_points(sketch))
    section = draw(st.sampled_from(sketch.sections))
    measure, unit = draw(
        st.sampled_from(
            (
                (point, "V"),
                (f"{point} - {draw(_points(sketch))}", "V"),
                (f"current {section}", "mA"),
                (f"dissipation {section}", "W"),
                (f"gain {section}", ""),
                (f"gain {point} to {draw(_points(sketch))}", ""),
                (f"ripple {point}", "mV"),
                (f"drain {point}", "s"),
            )
        )
    )
    bounds = draw(
        st.sampled_from(
            ("above 1 {u}", "below 0.000000001 {u}", "between 1 {u} and 1000000000 {u}")
        )
    )
    state = draw(st.sampled_from(("", "", " in cold", " in high line", " in off", " in pulled V1")))
    return f"expect {measure} {bounds.format(u=unit)}{state}"


@st.composite
def _accept(draw, sketch, n):
    rule = draw(st.sampled_from([r.id for r in RULES]))
    place = draw(st.sampled_from([*NAMED, *(sketch.places or ["B1"])]))
    until = draw(st.sampled_from(("", " until 2020-01-01", " until 2099-12-31")))
    return f'accept {rule} at {place} because "so"{until}'


WAYS = {
    "plate": ("B1 --[R{n} 100k]-- {e}", "B1 --[R{n} 5k]-- {e}", "B1 -- {e}", "B2 -- {e}",
              "T1.ht.1 -- {e}", "{e} -- chassis", "B1 --[L{n} 8 H 250 ohm]-- {e}", "OUT -- {e}"),
    "screen": ("B1 -- {e}", "B1 --[R{n} 100k]-- {e}", "{e} --[C{n} 100n 400 V]-- gnd",
               "{e} -- gnd", "OUT -- {e}"),
    "cathode": ("{e} --[R{n} 1k5]-- gnd", "{e} -- gnd", "{e} --[R{n} 270 1 W]-- gnd",
                "{e} --+[C{n} 25 uF 25 V]-- gnd", "{e} --[R{n} 100k]-- B2", "{e} -- B1"),
    "grid": ("{e} --[R{n} 1M]-- gnd", "{e} --[R{n} 470k]-- B2", "IN -- {e}",
             "IN --[C{n} {c}]-- {e}", "OUT --[C{n} {c}]-- {e}", "{e} -- gnd",
             "IN --[R{n} 10k]-- {e}", "{e} --[R{n} 10M]-- gnd"),
}  # fmt: skip
"""How an electrode is usually wired, and how it sometimes is."""


@st.composite
def _stages(draw, sketch):
    """Every electrode in one or two of its usual ways, or left out."""
    for lead in [p for p in dict.fromkeys(sketch.points) if p.startswith("V")]:
        electrode = lead.rpartition(".")[2]
        ways = WAYS.get(electrode.rstrip("12"), ("{e} -- gnd", "{e} -- X"))
        ways = [w for w in ways if "T1." not in w or "T1.ht" in sketch.windings]
        for way in draw(st.lists(st.sampled_from(ways), unique=True, max_size=2)):
            line = way.replace("{e}", lead)
            sketch.lines.append(line.replace("{c}", draw(FARADS)) if "{c}" in line else line)


@st.composite
def _supply(draw, sketch):
    """A rectifier and a filter on the high-voltage winding."""
    diode = draw(st.sampled_from(("1N4007", "", "silicon 400 V 1 A", "selenium")))
    kind = draw(st.sampled_from(("half", "full", "bridge", "backwards")))
    sketch.lines += {
        "half": [f"T1.ht.1 --[D{{n}} {diode}]-> RES", "T1.ht.2 -- gnd"],
        "full": [f"T1.ht.1 --[D{{n}} {diode}]-> RES", f"T1.ht.2 --[D{{n}} {diode}]-> RES"],
        "bridge": [f"T1.ht.1 --[D{{n}} {diode}]-> RES", f"T1.ht.2 --[D{{n}} {diode}]-> RES",
                   f"gnd --[D{{n}} {diode}]-> T1.ht.1", f"gnd --[D{{n}} {diode}]-> T1.ht.2"],
        "backwards": [f"T1.ht.1 <-[D{{n}} {diode}]-- B2", "T1.ht.2 -- gnd"],
    }[kind]  # fmt: skip
    more = ("RES --+[C{n} 20 uF 450 V]-- gnd", "RES --[R{n} 1k]-- B1", "B2 --[R{n} 220k]-- gnd",
            "RES --[L{n} 8 H 250 ohm]-- B1", "B1 --+[C{n} 40 uF 450 V]-- gnd", "RES -- B1",
            "T1.ht.2 --[R{n} 10 1 W]-- gnd", "RES --[R{n} 220k 1 W]-- gnd",
            "RES --[F{n} 250 mA]-- B1", "B2 --[C{n} 47 uF 100 V]+-- gnd")  # fmt: skip
    sketch.lines += draw(st.lists(st.sampled_from(more), unique=True, max_size=4))


@st.composite
def _heating(draw, sketch):
    """References of the heater windings."""
    ways = ("{w}.1 -- gnd", "{w}.2 --[R{n} 100]-- gnd", "{w}.1 --[R{n} 100]-- gnd",
            "B1 --[R{n} 220k]-- LIFT", "LIFT --[R{n} 47k]-- gnd", "LIFT -- {w}.1",
            "{w}.2 -- B1", "LIFT --+[C{n} 10 uF 100 V]-- gnd")  # fmt: skip
    for winding in draw(st.lists(st.sampled_from(sketch.windings), unique=True, max_size=2)):
        for way in draw(st.lists(st.sampled_from(ways), unique=True, max_size=4)):
            sketch.lines.append(way.replace("{w}", winding))


def _statement(sketch, n):
    chains = [_chain(sketch, n)] * 9
    others = [_source, _signal, _heater_wire, _expect, _accept]
    return st.one_of(*chains, *(other(sketch, n) for other in others))


@st.composite
def drawings(draw, most=8):
    """The text of a small drawing."""
    sketch = Sketch()
    if draw(st.integers(0, 2)) == 2:
        tolerance = draw(st.sampled_from(("", " tolerance 10 %", " tolerance 0.1 %")))
        sketch.lines.append(
            draw(st.sampled_from(("mains 120 V 60 Hz", "mains 230 V 50 Hz"))) + tolerance
        )
        draw(_transformer(sketch))
        if "T1.ht" in sketch.windings and draw(st.booleans()):
            draw(_supply(sketch))
        if sketch.windings and draw(st.booleans()):
            draw(_heating(sketch))
    draw(_tubes(sketch))
    for declare in (
        _output,
        _coils,
        _pot,
        _switch,
        _relay,
        _bridge,
        _optocoupler,
        _gated,
        _vibrator,
        _plugs,
        _reverb,
        _ballast,
        _class_c,
        _bistable,
        _beam,
        _transistor,
        _regulator,
        _jack,
    ):
        if draw(st.integers(0, 3)) == 3:
            declare(sketch, draw)
    if draw(st.booleans()):
        sketch.lines.append("B1 --+[E0 250 V]-- gnd")
    if draw(st.integers(0, 3)):
        draw(_stages(sketch))
    sketch.lines += draw(st.lists(_statement(sketch, "{n}"), max_size=most))
    lines = [line.replace("{n}", str(n)) for n, line in enumerate(sketch.lines, 1)]
    return "\n".join(lines) + "\n"
