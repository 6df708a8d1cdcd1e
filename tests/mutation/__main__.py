"""The mutation proof: ``python -m tests.mutation [FAMILY ...]``, some ten minutes for all of them.

Changes every limit of the rules by a tenth up and down, and every comparison and sign once, in
memory, and runs the tests of the family, what its wrong drawings are told, its right ones and the
drawings on both sides of its limits. What no test notices is printed; ``--record`` keeps it.
``--only limit`` (or ``comparison``, ``sign``) for a part, which is not recorded; ``--module NAME``
for one module, of which the record is renewed; ``--again`` tries only what the record has. What no
drawing can tell apart stands in ``equivalent.toml`` with the reason, and is not tried.

The second entry of each limit (tests/rules/values.toml) is left out: it would notice every change
of a limit and say nothing of the rule.
"""

from __future__ import annotations

import argparse
import os

from tests.mutation import study
from tests.mutation.family import Family


def main() -> None:
    """Make, run, print, record: a process a family."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("family", nargs="*", choices=[[], *study.FAMILIES])
    parser.add_argument("--only", choices=("limit", "comparison", "sign"))
    parser.add_argument("--module")
    parser.add_argument("--again", action="store_true")
    parser.add_argument("--record", action="store_true")
    asked = parser.parse_args()
    if asked.record and asked.only:
        parser.error("only whole modules are recorded")
    for family in asked.family or study.FAMILIES:
        child = os.fork()
        if child == 0:
            _family(family, asked)
            os._exit(0)
        _, status = os.waitpid(child, 0)
        if status:
            raise SystemExit(f"{family}: not tried to the end")


def _family(family: str, asked: argparse.Namespace) -> None:
    known = study.equivalent().get(family, {})
    made = [m for m in study.mutants((family,)) if m.name not in known]
    family_run = Family(family, [m for m in made if _wanted(m, asked)])
    family_run.run(lambda name: print(name, flush=True))
    print(f"{family}: {len(family_run.left)} of {len(made)} survived", flush=True)
    if asked.record:
        left = [*elsewhere(family, made, asked.module), *family_run.left]
        study.record({family: {"made": len(made), "survived": left}})


def elsewhere(family: str, made: list[study.Mutant], module: str | None) -> list[str]:
    """What the record has of the modules that were not tried."""
    there = {m.name for m in made if module is not None and m.module != module}
    return [name for name in study.survived(family) if name in there]


def _wanted(mutant: study.Mutant, asked: argparse.Namespace) -> bool:
    return (
        (asked.only or mutant.site.kind) == mutant.site.kind
        and (asked.module or mutant.module) == mutant.module
        and (not asked.again or mutant.name in study.survived(mutant.family))
    )


if __name__ == "__main__":
    main()
