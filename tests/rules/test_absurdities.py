"""Drawings nobody would build twice: each is held, at its level, by the right rule, at its place.

They come from experience of the bench and from what a careless hand writes; none is a mistake a
rule was written after. What is milder besides is left alone; nothing graver may be told of them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from coldcheck.judge.finding import LEVELS

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

BOX = """mains 120 V 60 Hz
transformer T1
    primary pri   120 V  8 ohm
    winding warm  6.3 V ct 3 A
    winding ht    250 V  80 mA  200 ohm
line --[F1 0.5 A slow 250 V]-- FUSED --[S1 switch power]-- T1.pri.1
T1.pri.2 -- neutral
earth -- chassis
chassis -- gnd
T1.warm.ct -- gnd
T1.ht.1 --[D1 1N4007]-> B1
T1.ht.2 -- gnd
B1 --+[C1 47 uF 500 V]-- gnd
B1 --[R1 47k 5 W]-- gnd
"""
STAGE = """tube V1 6V6GT heater T1.warm
V1.screen --[R4 470 ohm 1 W]-- B1
V1.cathode --[R2 470 ohm 2 W]-- gnd
V1.grid --[R3 470k]-- gnd
"""
OUTPUT = "output T2 5k : 8 ohm 210 ohm gapped 60 mA\nV1.plate -- T2.p1\nT2.p2 -- B1\n"
SPEAKER = "T2.s2 -- gnd\nT2.s1 --[LS1 8 ohm 10 W]-- gnd\n"
AMP = BOX + STAGE + OUTPUT + SPEAKER
JACK = "jack J1\nJ1.sleeve -- gnd\n"


def without(text: str, *lines: str) -> str:
    """The text less some of its lines, which must be there."""
    assert set(lines) <= set(text.splitlines())
    return "".join(f"{t}\n" for t in text.splitlines() if t not in lines)


def bare_chassis(text: str) -> str:
    """The chassis neither on earth nor on gnd; earth on gnd."""
    return without(text, "chassis -- gnd").replace("earth -- chassis", "earth -- gnd")


TABLE = {
    "line and neutral joined": (BOX + "line -- neutral\n", "danger", "mains.shorted", "line"),
    "the same behind the fuse": (BOX + "FUSED -- neutral\n", "warning", "mains.shorted", "F1"),
    "a switch that shorts the mains": (
        BOX + "FUSED --[S2 switch open]-- neutral\n",
        "warning",
        "mains.shorted",
        "F1",
    ),
    "the line on the chassis": (BOX + "line -- chassis\n", "danger", "mains.shorted", "line"),
    "nothing but line on gnd and neutral on chassis": (
        "mains 120 V 60 Hz\nline -- gnd\nneutral -- chassis\n",
        "danger",
        "mains.live-chassis",
        "chassis",
    ),
    "both mains leads on gnd": (
        "mains 120 V 60 Hz\nline -- gnd\nneutral -- gnd\nchassis -- gnd\n",
        "danger",
        "mains.shorted",
        "line",
    ),
    "the neutral on the chassis": (
        BOX + "neutral -- chassis\n",
        "danger",
        "mains.live-chassis",
        "chassis",
    ),
    "100 kV on a chassis": (
        "chassis --+[E1 100 kV]-- gnd\n",
        "danger",
        "touch.live-terminal",
        "chassis",
    ),
    "the chassis on the high voltage": (
        bare_chassis(BOX) + "B1 --[R9 10k 20 W]-- chassis\n",
        "danger",
        "touch.live-terminal",
        "chassis",
    ),
    "the chassis on the high-voltage winding": (
        bare_chassis(BOX) + "T1.ht.1 -- chassis\n",
        "danger",
        "touch.live-terminal",
        "chassis",
    ),
    "a wire across the high-voltage winding": (
        BOX + "T1.ht.1 -- T1.ht.2\n",
        "notice",
        "supply.winding-shorted",
        "T1.ht",
    ),
    "a wire across the heater winding": (
        BOX + "T1.warm.1 -- T1.warm.2\n",
        "notice",
        "supply.winding-shorted",
        "T1.warm",
    ),
    "a wire across the primary": (
        BOX + "T1.pri.1 -- T1.pri.2\n",
        "warning",
        "mains.shorted",
        "F1",
    ),
    "a switch from the supply to gnd": (
        BOX + "B1 --[S3 switch open]-- gnd\n",
        "notice",
        "supply.winding-shorted",
        "T1.ht",
    ),
    "two batteries that fight": (
        "B1 --+[E1 300 V]-- gnd\nB1 --+[E2 200 V]-- gnd\n",
        "notice",
        "supply.sources-opposed",
        "E1",
    ),
    "a battery across a heater winding": (
        BOX + "T1.warm.1 --+[E1 6 V]-- T1.warm.2\n",
        "notice",
        "supply.sources-opposed",
        "E1",
    ),
    "a battery across the mains": (
        BOX + "FUSED --+[E1 9 V]-- neutral\n",
        "danger",
        "mains.unfit-part",
        "E1",
    ),
    "windings of two transformers, 6.3 V on 12 V": (
        BOX + "transformer T3\nprimary pri 120 V 8 ohm\nwinding a 12 V 1 A\nT3.pri.1 -- T1.pri.1\n"
        "T3.pri.2 -- neutral\nT3.a.1 -- T1.warm.1\nT3.a.2 -- T1.warm.2\n",
        "notice",
        "supply.windings-opposed",
        "T1.warm",
    ),
    "the mains on the heater winding": (
        without(BOX, "T1.warm.ct -- gnd", "T1.pri.2 -- neutral").replace(
            "T1.pri.1\n", "T1.warm.1\n"
        )
        + "T1.warm.2 -- neutral\nT1.pri.2 -- gnd\nT1.pri.1 --[R9 1M 1 W]-- gnd\n",
        "danger",
        "mains.on-secondary",
        "T1.warm",
    ),
    "the line on one end of the heater winding": (
        BOX + "FUSED -- T1.warm.1\n",
        "danger",
        "mains.on-secondary",
        "T1.warm",
    ),
    "a speaker across the mains": (
        BOX + "FUSED --[LS1 8 ohm 10 W]-- neutral\n",
        "danger",
        "mains.unfit-part",
        "LS1",
    ),
    "a speaker from the line to the chassis": (
        BOX + "FUSED --[LS1 8 ohm 10 W]-- chassis\n",
        "danger",
        "mains.unfit-part",
        "LS1",
    ),
    "a speaker in series with the primary": (
        BOX.replace("power]-- T1.pri.1", "power]-- Q --[LS1 8 ohm 10 W]-- T1.pri.1"),
        "danger",
        "touch.live-terminal",
        "LS1",
    ),
    "an output transformer across the mains": (
        without(AMP, *SPEAKER.splitlines()) + "FUSED -- T2.s1\nneutral -- T2.s2\n",
        "danger",
        "mains.unfit-part",
        "T2",
    ),
    "a 6.3 V heater across the mains": (
        BOX + STAGE.replace(" heater T1.warm", "") + "FUSED --[V1 heater]-- neutral\n",
        "caution",
        "mains.unfit-part",
        "V1",
    ),
    "a pilot lamp across the mains": (
        BOX + "FUSED --[PL2 lamp 6.3 V 0.15 A]-- neutral\n",
        "caution",
        "mains.unfit-part",
        "PL2",
    ),
    "an electrolytic across the mains": (
        BOX + "T1.pri.1 --+[C9 10 uF 450 V]-- T1.pri.2\n",
        "warning",
        "mains.capacitor-class",
        "C9",
    ),
    "a paper capacitor across the mains": (
        BOX + "T1.pri.1 --[C9 47n 400 V]-- T1.pri.2\n",
        "warning",
        "mains.capacitor-class",
        "C9",
    ),
    "a switch in the neutral": (
        BOX.replace("[S1 switch power]", "[F9 1 A]").replace(
            "T1.pri.2 -- neutral", "T1.pri.2 --[S1 switch]-- neutral"
        ),
        "warning",
        "mains.switch-in-neutral",
        "S1",
    ),
    "a jack on the line": (
        BOX + JACK + "FUSED --[R9 1k 20 W]-- J1.tip\n",
        "danger",
        "mains.live-chassis",
        "J1",
    ),
    "the supply on a jack": (BOX + JACK + "B1 -- J1.tip\n", "danger", "touch.live-terminal", "J1"),
    "the supply on a jack by way of a pot": (
        BOX + JACK + "pot P1 500k 1 W\nB1 -- P1.top\nP1.bottom -- gnd\nP1.wiper -- J1.tip\n",
        "notice",
        "touch.live-terminal",
        "J1",
    ),
    "a high-voltage winding on a jack that floats": (
        without(BOX, "T1.ht.2 -- gnd", "T1.ht.1 --[D1 1N4007]-> B1")
        + "jack J1\nT1.ht.1 -- J1.tip\nT1.ht.2 -- J1.sleeve\n",
        "danger",
        "touch.live-terminal",
        "J1",
    ),
    "headphones in the plate lead": (
        BOX + STAGE + "jack J1\nV1.plate -- J1.tip\nJ1.sleeve -- B1\n"
        "J1.tip --[LS1 speaker 2k 5 W]-- J1.sleeve\n",
        "danger",
        "touch.live-terminal",
        "J1",
    ),
    "a speaker for a plate resistor": (
        BOX + STAGE + "V1.plate --[LS1 2k 10 W]-- B1\n",
        "danger",
        "touch.live-terminal",
        "LS1",
    ),
    "the plate straight on a jack": (
        AMP + JACK + "V1.plate -- J1.tip\n",
        "danger",
        "touch.live-terminal",
        "J1",
    ),
    "the supply on the input": (
        AMP + "signal IN 1 V 1 kHz\nIN -- V1.grid\nB1 --[R9 47k 5 W]-- IN\n",
        "caution",
        "touch.live-terminal",
        "IN",
    ),
    "the secondary on the supply": (
        BOX + STAGE + OUTPUT + "T2.s2 -- B1\nT2.s1 --[LS1 8 ohm 10 W]-- B1\n",
        "danger",
        "touch.live-terminal",
        "T2",
    ),
    "primary and secondary exchanged": (
        BOX + STAGE + "output T2 5k : 8 ohm 210 ohm\nV1.plate -- T2.s1\nT2.s2 -- B1\n"
        "T2.p1 --[LS1 8 ohm 10 W]-- gnd\nT2.p2 -- gnd\n",
        "danger",
        "touch.live-terminal",
        "T2",
    ),
    "the supply on a jack while the standby switch is thrown": (
        BOX + JACK + "B1 --[S3 switch standby open]-- J1.tip\nJ1.tip --[R9 1M]-- gnd\n",
        "danger",
        "touch.live-terminal",
        "J1",
    ),
    "a fuse for a fifth of the current": (
        BOX.replace("F1 0.5 A", "F1 0.05 A"),
        "notice",
        "supply.fuse-too-small",
        "F1",
    ),
    "a car's fuse in the mains": (
        BOX.replace("slow 250 V", "slow 32 V"),
        "caution",
        "supply.fuse-voltage",
        "F1",
    ),
    "the bleeder behind a fuse": (
        BOX.replace("B1 --[R1 47k 5 W]", "B1 --[F2 0.1 A]-- B2 --[R1 47k 5 W]"),
        "warning",
        "supply.bleeder-behind-fuse",
        "C1",
    ),
    "the bleeder behind the standby switch": (
        BOX.replace("B1 --[R1 47k 5 W]", "B1 --[S2 switch standby]-- B2 --[R1 47k 5 W]"),
        "danger",
        "supply.no-bleeder",
        "R1",
    ),
}


@pytest.mark.parametrize("name", TABLE)
def test_it_is_held(name: str, review: Callable[[str], Review]) -> None:
    text, level, rule, place = TABLE[name]
    looked = review(text)
    assert looked.readable
    assert not [n for n in looked.not_judged if "failed" in n.reason]
    found = [f for f in looked.findings if f.rule == rule]
    assert [(f.level, f.at[0]) for f in found] == [(level, place)]
    assert looked.verdict() == "held"
    graver = [f for f in looked.findings if LEVELS.index(f.level) > LEVELS.index(level)]
    assert [f.rule for f in graver if f.rule != "mains.no-earth"] == []


@pytest.mark.parametrize("text", [BOX, AMP])
def test_the_drawings_they_are_made_from_are_sound(
    text: str, review: Callable[[str], Review]
) -> None:
    assert review(text).at_or_above("notice") == ()
