"""Drawings of any size for the tables."""

from __future__ import annotations


def copies(tubes: int, supplies: int = 1) -> str:
    """Double triodes, two resistance-coupled stages each, shared out over silicon supplies.

    A supply grows with its load (winding resistances and the dropper as 1/n, capacitors and the
    heater winding's current as n), so that every copy works at the same voltages at any size:
    otherwise a large one would sag until its heaters are cold, and be easier than it looks.
    """
    lines = ['drawing "copies of a stage"', "mains 230 V 50 Hz"]
    for s in range(1, supplies + 1):
        own = range(s, tubes + 1, supplies)
        lines += _supply(s, len(own))
        for k in own:
            lines += _tube(k, s)
    return "\n".join(lines)


def _supply(s: int, n: int) -> list[str]:
    """A full-wave supply for n tubes: transformer T<s>, reservoir RES<s>, rail B<s>."""
    return [
        f"transformer T{s}",
        f"    primary pri 230 V {10 / n:.6g} ohm",
        f"    winding ht 250 V ct 250 V {1000 / n:.6g} ohm",
        f"    winding warm 6.3 V ct {n / 2:g} A",
        f"T{s}.warm.ct -- gnd",
        f"T{s}.ht.ct -- gnd",
        f"T{s}.ht.1 --[D{s}A 1N4007]-> RES{s}",
        f"T{s}.ht.2 --[D{s}B 1N4007]-> RES{s}",
        f"RES{s} --+[C{s}R {5 * n} uF 450 V]-- gnd",
        f"RES{s} --[R{s}F {10000 / n:.6g} ohm {n} W]-- B{s}",
        f"B{s} --+[C{s}F {5 * n} uF 450 V]-- gnd",
        f"B{s} --[R{s}B {220000 / n:.6g} ohm {2 * n} W]-- gnd",
    ]


def _tube(k: int, s: int) -> list[str]:
    """Tube V<k> on supply s: its first half drives its second."""
    lines = [f"tube V{k} 12AX7 heater T{s}.warm"]
    for half in "AB":
        section, tag = f"V{k}{half}", f"{k}{half}"
        lines += [
            f"B{s} --[R{tag}P 100k 1 W]-- {section}.plate",
            f"{section}.cathode --[R{tag}K 1k5]-- gnd",
            f"{section}.cathode --+[C{tag}K 25 uF 25 V]-- gnd",
            f"{section}.grid --[R{tag}G 1M]-- gnd",
        ]
    lines.append(f"V{k}A.plate --[C{k}C 22 nF 630 V]-- V{k}B.grid")
    return lines
