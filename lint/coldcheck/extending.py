"""For packages that bring rules and tube data of their own.

A package names them in entry points; ``coldcheck`` finds it once it is installed beside it::

    [project.entry-points."coldcheck.rules"]
    lamps = "house_rules.lamps:RULES"       # a list of rules, or a function that gives one

    [project.entry-points."coldcheck.tubes"]
    house = "house_rules.tubes"             # a package with files NAME.toml, or a path

A rule is made as our own are (:func:`rule`), from a :class:`Case` to :class:`Finding` and
:class:`NotJudged`; its family may be new, its identifier may not be taken. Its pairs are in the
folder ``mistakes`` beside the module that the entry point names:
``mistakes/<identifier>/{wrong,right}.tube``. A tube data file is named after its type and is of
the form of those in ``coldcheck/circuit/data``; its names may not be taken either.

What a part is, is a :class:`PartKind` (``branch.kind is PartKind.FUSE``; a comparison with a word
is never true), what it does are its traits (``branch.traits.metal``); a tube's section is of a
:class:`SectionKind`.

What is not of that form is not used, and every review says so. A rule that raises is reported
with its package; the other rules run all the same.

In the tests of such a package::

    from coldcheck.extending import check, pairs_in

    def test_rules() -> None:
        pairs = pairs_in(Path(house_rules.__file__).parent / "mistakes")
        for rule in RULES:
            assert check(rule, pairs) == []

:func:`check` wants of a rule what our own tests want of ours: its documentation complete, a pair
whose wrong drawing breaks this rule and no other at ``notice`` or above, and whose right drawing
is the same one mended and clean. The types a pair uses have to be ours or installed. Names here
do not change within a major version.
"""

from __future__ import annotations

from coldcheck.anatomy.case import Case
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.judge.finding import Finding, NotJudged, Outcome, Unjudged
from coldcheck.judge.rule import Rule, rule
from coldcheck.verdict.check import check
from coldcheck.verdict.pairs import Pair, pairs_in

__all__ = [
    "Case",
    "Finding",
    "NotJudged",
    "Outcome",
    "Pair",
    "PartKind",
    "Rule",
    "SectionKind",
    "Unjudged",
    "check",
    "pairs_in",
    "rule",
]
