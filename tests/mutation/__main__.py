"""The mutation proof: ``python -m tests.mutation [FAMILY ...]`` (two hours or so for all of them).

Changes every limit of the rules by a tenth up and down, and every comparison and sign once, in a
copy of the project, and runs the pairs of the module's rules and the tests of its family. What no
test notices is printed; ``--record`` keeps it. ``--only limit`` (or ``comparison``, ``sign``) and
``--module NAME`` for a part, which is not recorded. ``--again`` tries only what the record has.
What no drawing can tell apart stands in ``equivalent.toml`` with the reason, and is not tried.

The second entry of each limit (tests/rules/values.toml) is left out: it would notice every change
of a limit and say nothing of the rule.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

from rich.console import Console
from rich.progress import track
from tests.mutation import study


def main() -> None:
    """Make, run, print, record."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("family", nargs="*", choices=[[], *study.FAMILIES])
    parser.add_argument("--only", choices=("limit", "comparison", "sign"))
    parser.add_argument("--module")
    parser.add_argument("--again", action="store_true")
    parser.add_argument("--record", action="store_true")
    asked = parser.parse_args()
    if asked.record and (asked.only or asked.module):
        parser.error("only a whole family is recorded")
    console, families = Console(), tuple(asked.family or study.FAMILIES)
    with tempfile.TemporaryDirectory() as folder:
        copy = study.Copy(Path(folder) / "copy")
        copy.enter()
        for family in families:
            if not copy.sound(family):
                raise SystemExit(f"{family}: its tests fail with nothing changed")
            _family(console, copy, family, asked)


def _family(console: Console, copy: study.Copy, family: str, asked: argparse.Namespace) -> None:
    made = [m for m in study.mutants((family,)) if m.name not in study.equivalent().get(family, {})]
    left = []
    for mutant in track([m for m in made if _wanted(m, asked)], family, console=console):
        if copy.survives(mutant):
            left.append(mutant.name)
            console.print(left[-1], highlight=False, markup=False)
    console.print(f"{family}: {len(left)} of {len(made)} survived", highlight=False)
    if asked.record:
        study.record({family: {"made": len(made), "survived": left}})


def _wanted(mutant: study.Mutant, asked: argparse.Namespace) -> bool:
    return (
        (asked.only or mutant.site.kind) == mutant.site.kind
        and (asked.module or mutant.module) == mutant.module
        and (not asked.again or mutant.name in study.survived(mutant.family))
    )


if __name__ == "__main__":
    main()
