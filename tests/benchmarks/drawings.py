"""Drawings of any size for the tables."""

from __future__ import annotations


def copies(n: int) -> str:
    """``n`` double triodes, two resistance-coupled stages each, on one silicon supply.

    The supply grows with the load (winding resistances and the dropper as 1/n, capacitors and the
    heater winding's current as n), so that every copy works at the same voltages at any ``n``:
    otherwise a large one would sag until its heaters are cold, and be easier than it looks.
    """
    lines = [
        'drawing "copies of a stage"', "mains 230 V 50 Hz", "transformer T1",
        f"    primary pri 230 V {10 / n:.6g} ohm",
        f"    winding ht 250 V ct 250 V {1000 / n:.6g} ohm",
        f"    winding warm 6.3 V ct {n / 2:g} A", "T1.warm.ct -- gnd", "T1.ht.ct -- gnd",
        "T1.ht.1 --[D1 1N4007]-> RES", "T1.ht.2 --[D2 1N4007]-> RES",
        f"RES --+[C1 {5 * n} uF 450 V]-- gnd", f"RES --[R1 {10000 / n:.6g} ohm {n} W]-- B1",
        f"B1 --+[C2 {5 * n} uF 450 V]-- gnd", "B1 --[R2 220k 2 W]-- gnd",
    ]  # fmt: skip
    for k in range(1, n + 1):
        lines += _stage(k, "B1")
    return "\n".join(lines)


def _stage(k: int, rail: str) -> list[str]:
    lines = [f"tube V{k} 12AX7 heater T1.warm"]
    for j, half in enumerate("AB"):
        tag = f"{k}{j}"
        lines += [
            f"{rail} --[R1{tag} 100k 1 W]-- V{k}{half}.plate",
            f"V{k}{half}.cathode --[R2{tag} 1k5]-- gnd",
            f"V{k}{half}.cathode --+[C2{tag} 25 uF 25 V]-- gnd",
            f"V{k}{half}.grid --[R3{tag} 1M]-- gnd",
        ]
    lines.append(f"V{k}A.plate --[C3{k} 22 nF 630 V]-- V{k}B.grid")
    return lines
