"""Drawings that somebody wrote to make a review fall over, run on, or say what they want.

Each is a text (or bytes) by name. ``python tests/hostile/stopwatch.py`` reviews each of them in a
process of its own and prints how long it took and how much memory; the tests ask for the limit
that is told.
"""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

SUPPLY = "B1 --+[E1 250 V]-- gnd\n"
STAGE = """tube V{n} 12AX7
B1 --[R{a} 100k]-- V{n}A.plate
V{n}A.cathode --[R{b} 1k5]-- gnd
V{n}A.grid --[R{c} 1M]-- gnd
"""


def grid(side: int = 12) -> str:
    """A sheet of resistors: as many paths between its corners as nobody can list."""
    lines, n = [SUPPLY, "B1 -- N0x0\n", f"N{side - 1}x{side - 1} -- gnd\n"], 0
    for i in range(side):
        for j in range(side):
            for k, m in ((i + 1, j), (i, j + 1)):
                if k < side and m < side:
                    n += 1
                    lines.append(f"N{i}x{j} --[R{n} 1k]-- N{k}x{m}\n")
    return "".join(lines)


def grid_with_tubes(side: int = 12) -> str:
    """The same with grids and cathodes hung into it, so that every rule asks for paths."""
    lines = [grid(side)]
    for n in range(1, 5):
        lines.append(f"tube V{n} 12AX7\n")
        lines.append(f"V{n}A.grid -- N{n}x{n}\nV{n}A.cathode -- N{n + 3}x{n}\nV{n}A.plate -- B1\n")
    return "".join(lines)


def complete(points: int = 60, value: str = "1k") -> str:
    """Every point joined to every other."""
    lines = [SUPPLY, "B1 -- P0\n", "P1 -- gnd\n", "tube V1 12AX7\n"]
    lines += [f"P{i} --[R{n} {value}]-- P{j}\n"
              for n, (i, j) in enumerate(combinations(range(points), 2), 1)]  # fmt: skip
    return "".join((*lines, "V1A.grid -- P2\nV1A.cathode -- P3\nV1A.plate -- B1\n"))


def parallel(parts: int = 2_000) -> str:
    """Thousands of parts between the same two points."""
    lines = [SUPPLY, "tube V1 12AX7\n", "V1A.plate -- B1\n", "V1A.cathode -- B2\n"]
    lines += [f"B1 --[R{n} 100k]-- B2\nB2 --[R{n + parts} 1M]-- V1A.grid\n" for n in range(parts)]
    return "".join((*lines, "B2 --[R0A 1k]-- gnd\n"))


def parallel_chain(stages: int = 30, each: int = 30) -> str:
    """Some parts in parallel, thirty times in series: 30 to the power of 30 paths."""
    lines = [SUPPLY, "B1 -- Q0\n", f"Q{stages} -- gnd\n", "tube V1 12AX7\nV1A.grid -- Q1\n"]
    lines += [f"Q{i} --[R{i * each + j} 1k]-- Q{i + 1}\n"
              for i in range(stages) for j in range(each)]  # fmt: skip
    return "".join((*lines, "V1A.plate -- B1\nV1A.cathode --[R9999 1k]-- gnd\n"))


def ladder(sections: int = 5_000, part: str = "C{n} 1 uF 450 V") -> str:
    """A filter without end."""
    lines = [SUPPLY, "B1 -- L0\n", "tube V1 12AX7\n", f"V1A.grid -- L{sections}\n"]
    for i in range(sections):
        lines.append(f"L{i} --[R{i + 1} 1k]-- L{i + 1}\n")
        lines.append(f"L{i + 1} --[{part.format(n=i + 1)}]-- gnd\n")
    return "".join(lines)


def chain(parts: int = 900) -> str:
    """As many parts on one wire as the longest statement holds."""
    return SUPPLY + "B1 " + "".join(f"--[R{n} 1k]--\n  " for n in range(parts)) + " gnd\n"


def tubes(count: int = 400) -> str:
    """A tube a stage, and each is pulled in turn."""
    stages = (STAGE.format(n=n, a=3 * n, b=3 * n + 1, c=3 * n + 2) for n in range(1, count + 1))
    return SUPPLY + "".join(stages)


def switches(count: int = 400) -> str:
    """A state for every switch."""
    lines = [f"switch S{n} spst at 1\nB1 -- S{n}.common\nS{n}.1 --[R{n} 10k]-- gnd\n"
             for n in range(1, count + 1)]  # fmt: skip
    return SUPPLY + "".join(lines)


def rectifiers(count: int = 150) -> str:
    """Diodes on the mains, each with a capacitor."""
    lines = ["mains 120 V 60 Hz\ntransformer T1\n    primary pri 120 V\n    winding ht 250 V 1 A\n"]
    lines.append("T1.ht.2 -- gnd\n")
    for n in range(1, count + 1):
        lines.append(f"T1.ht.1 --[D{n} 1N4007]-> K{n}\nK{n} --+[C{n} 10 uF 450 V]-- gnd\n")
        lines.append(f"K{n} --[R{n} 100k]-- gnd\n")
    return "".join(lines)


def transformers(count: int = 300) -> str:
    """Windings upon windings."""
    lines = ["mains 120 V 60 Hz\n"]
    for n in range(1, count + 1):
        lines.append(f"transformer T{n}\n    primary pri 120 V\n")
        lines += [f"    winding w{k} 6.3 V ct 1 A\n" for k in range(10)]
        lines.append(f"line -- T{n}.pri.1\nneutral -- T{n}.pri.2\n")
    return "".join(lines)


def unknown_values(count: int = 190) -> str:
    """A question mark for every value."""
    lines = [SUPPLY.replace("250 V", "?"), "tube V1 12AX7\ntube V2 6V6GT\n"]
    lines += [f"B1 --[R{n} ?]-- Q{n} --[C{n} ?]-- gnd\n" for n in range(count)]
    lines.append("Q1 -- V1A.plate\nQ2 -- V1A.grid\nV1A.cathode --[R900 ?]-- gnd\n")
    lines.append("Q3 -- V2.plate\nQ4 -- V2.grid\nQ5 -- V2.screen\nV2.cathode --[R901 ?]-- gnd\n")
    return "".join(lines)


def types_like(count: int = 3_000) -> str:
    """A type like a type like a type."""
    lines = [f"type T{n}X like T{n + 1}X\n" for n in range(count)]
    return "".join((*lines, f"type T{count}X like 12AX7\n", "tube V1 T0X\n"))


def waivers(count: int = 6_000) -> str:
    """A waiver for nothing on every line, with names that nearly are names."""
    lines = [f'accept heater.no-referenc{n} at R{n} because "so"\n' for n in range(count)]
    return SUPPLY + "".join(lines)


def expectations(count: int = 2_000) -> str:
    """Expectations of everything, everywhere."""
    lines = [f"expect gain B1 to B1 above {n}\nexpect B1 = {n} V\n" for n in range(count)]
    return SUPPLY + "B1 --[R1 1k]-- gnd\n" + "".join(lines)


def misspelt(count: int = 6_000) -> str:
    """Names that are none, each worth a suggestion among thousands."""
    lines = [f"POINT{n} --[R{n} 1k]-- gnd\nV9A.plat{n} -- V8B.gird\n" for n in range(count)]
    return SUPPLY + "".join(lines)


def same_name(count: int = 6_000) -> str:
    """One name for everything."""
    return SUPPLY + "B1 --[R1 1k]-- gnd\n" * count


def signals(count: int = 300) -> str:
    """A source on every point."""
    lines = [f"signal IN{n} 1 V 1 kHz\nIN{n} --[R{n} 1k]-- gnd\n" for n in range(count)]
    return "".join(lines)


def one_line(text: str) -> str:
    """A supply, and one line more."""
    return f"{SUPPLY}{text}\nB1 --[R1 10k]-- gnd\n"


DIGITS = "9" * 1_900
NAMES = {
    "long names": "N" * 1_000 + " --[R" + "7" * 900 + " 1k]-- gnd",
    "digits": f"B1 --[R9 {DIGITS}]-- gnd",
    "a million digits": f"B1 --[R9 {'9' * 1_000_000}]-- gnd",
    "huge exponent": "B1 --[R9 1e999999999]-- gnd",
    "tiny exponent": "B1 --[R9 1e-999999999]-- gnd",
    "huge value": "B1 --[R9 1e300]-- gnd\nB1 --[C9 1e300 F]-- gnd\nB1 --[L9 1e-300 H]-- gnd",
    "huge source": "B2 --+[E9 1e308 V]-- gnd\nB2 --[R9 1e-308]-- gnd",
    "percent": "B1 --[R9 1k 1e99 %]-- gnd",
    "a power of units": "B1 --[R9 1 ohm**9999999]-- gnd",
    "a formula": "B1 --[R9 __import__('os').system('true')]-- gnd",
    "carriage returns": "B1 --[R9 1k]-- gnd\rB1 --[R8 1k]-- gnd\r\rB1 --[R7 1k]-- gnd",
    "other line ends": "B1 --[R9 1k]-- gnd\u2028B1 --[R8 1k]-- gnd\x85\x0b\x0c",
    "direction marks": "B1 --[R9 1k]-- \u202egnd\u202c # \u2066hidden\u2069",
    "lookalikes": "В1 --[R9 1k]-- gnd\nB１ --[R8 1k]-- gnd",
    "combining": "B\u0301\u0301\u0301\u0301 --[R9 1k]-- gnd",
    "byte order marks": "\ufeffB1 --[R9 1k]-- gnd\ufeff",
    "quotes": 'drawing "' + '"' * 999,
    "brackets": "B1 " + "--[" * 600,
    "dashes": "B1 " + "-- " * 650 + "gnd",
    "hyphens": "-" * 1_990,
    "tabs": "\t" * 1_990 + "B1",
    "colons": "B1" + ":1" * 900 + " -- gnd",
    "dots": "B1" + ".a" * 900 + " -- gnd",
    "slashes": "a/" * 900 + "B1 -- gnd",
    "question marks": "B1 --[R9 " + "? " * 900 + "]-- gnd",
    "sheet outside": 'sheet "../../../../etc/passwd" as L joining B1',
    "sheet of a device": 'sheet "/dev/zero" as L joining B1',
    "sheet of itself": 'sheet "hostile.tube" as L joining B1',
}

MADE: dict[str, Callable[[], str]] = {
    "grid": grid,
    "grid with tubes": grid_with_tubes,
    "complete": complete,
    "complete, unknown": lambda: complete(60, "?"),
    "parallel": parallel,
    "parallel chain": parallel_chain,
    "ladder": ladder,
    "short ladder": lambda: ladder(700),
    "coil ladder": lambda: ladder(700, "L{n} 10 H"),
    "chain": chain,
    "tubes": tubes,
    "some tubes": lambda: tubes(60),
    "switches": switches,
    "rectifiers": rectifiers,
    "transformers": transformers,
    "unknown values": unknown_values,
    "types like types": types_like,
    "waivers": waivers,
    "expectations": expectations,
    "tubes, just not refused": lambda: tubes(100),
    "unknown tubes, just not refused": lambda: tubes(25).replace("100k]", "?]"),
    "rectifiers, just not refused": lambda: rectifiers(48),
    "ladder, just not refused": lambda: ladder(200),
    "switches, just not refused": lambda: switches(100),
    "misspelt": misspelt,
    "same name": same_name,
    "signals": signals,
}

BYTES = {
    "zero byte": b"B1 --[R1 1k]-- gnd\0\n",
    "not utf-8": b"B1 --[R1 1k\xb5]-- gnd\n",
    "utf-16": "B1 --[R1 1k]-- gnd\n".encode("utf-16"),
    "surrogates": b"B1 --[R1 1k]-- \xed\xa0\x80\n",
    "empty": b"",
    "too big": b"# x\n" * 600_000,
    "too many statements": b"B1 -- B1\n" * 100_000,
    "blank lines": b"\n" * 1_900_000,
}


def every() -> dict[str, bytes]:
    """All of them as the bytes of a file."""
    made = {name: make().encode() for name, make in MADE.items()}
    lines = {name: one_line(text).encode() for name, text in NAMES.items()}
    return {**made, **lines, **BYTES}
