"""Rules that other packages bring, held to the form of our own before any of them runs."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import field, replace
from functools import lru_cache
from itertools import islice
from types import MappingProxyType
from typing import TYPE_CHECKING

from coldcheck.circuit.entries import FAILED, OF_RULES, entries, in_words
from coldcheck.circuit.tubes_added import added_tubes
from coldcheck.judge.finding import PACKAGES, NotJudged, Unjudged
from coldcheck.judge.rule import Rule
from coldcheck.records import dataclass
from coldcheck.verdict import registry
from coldcheck.verdict.pairs import pairs_in

if TYPE_CHECKING:
    from collections.abc import Mapping

    from coldcheck.circuit.entries import Entry
    from coldcheck.circuit.tubes_added import TubesFault
    from coldcheck.verdict.pairs import Pair

PAIRS = "mistakes"
"""The folder of a package's pairs, beside the module its entry point names."""

MOST = 1_000
"""Rules taken from one entry point."""


def _nothing() -> Mapping[str, str]:
    return MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Added:
    """What other packages bring to a review.

    rules, pairs
        Rules that passed the checks of form, and their pairs.
    packages
        Identifier -> name and version of the package the rule comes with.
    remarks
        What was refused and why.
    """

    rules: tuple[Rule, ...] = ()
    pairs: tuple[Pair, ...] = ()
    packages: Mapping[str, str] = field(default_factory=_nothing)
    remarks: tuple[NotJudged, ...] = ()


NOTHING = Added()


@lru_cache(maxsize=1)
def added() -> Added:
    """What the installed packages bring; read once. Never raises for what they do."""
    found = gathered(entries(OF_RULES))
    tubes = tuple(
        NotJudged(PACKAGES, (), fault.reason, _kind_of(fault)) for fault in added_tubes().faults
    )
    return replace(found, remarks=(*found.remarks, *tubes))


def all_rules() -> tuple[Rule, ...]:
    """Our rules, then those of other packages."""
    return (*registry.RULES, *added().rules)


def with_rule(rule: Rule) -> Added:
    """The installed packages' rules and one more, which takes the place of its namesake."""
    known = added()
    if any(rule is ours for ours in registry.RULES):
        return known
    others = tuple(r for r in known.rules if r.id != rule.id)
    return replace(known, rules=(*others, rule))


def gathered(found: Iterable[Entry]) -> Added:
    """The rules of some entries; a name that is taken, or a rule out of form, is refused."""
    rules: dict[str, Rule] = {}
    pairs: list[Pair] = []
    packages: dict[str, str] = {}
    remarks: list[NotJudged] = []
    taken = {rule.id: "coldcheck" for rule in registry.RULES}
    for entry in found:
        given, fault = _given(entry)
        if fault:
            why = f"the rules of {entry.package} {fault}"
            remarks.append(NotJudged(PACKAGES, (), why, Unjudged.PACKAGE_FAILED))
        own = _pairs(entry)
        for item in given:
            name = _name(item)
            faults = _faults(item, name, own)
            if name in taken:
                faults = [f"{taken[name]} has a rule of that name"]
            if faults or not isinstance(item, Rule):
                why = f"not run, a rule of {entry.package}: {'; '.join(faults)}"
                remarks.append(NotJudged(name, (), why, Unjudged.REFUSED))
                continue
            taken[name] = packages[name] = entry.package
            rules[name] = item
            pairs += [pair for pair in own if pair.rule == name]
    return Added(tuple(rules.values()), tuple(pairs), MappingProxyType(packages), tuple(remarks))


def _kind_of(fault: TubesFault) -> Unjudged:
    return Unjudged.PACKAGE_FAILED if fault.whole else Unjudged.REFUSED


def _given(entry: Entry) -> tuple[list[object], str]:
    """What an entry gave, and what is wrong with that as a whole."""
    if entry.fault:
        return [], f"{FAILED}: {entry.fault}"
    if not isinstance(entry.found, Iterable):
        return [], "are no list of rules"
    try:
        return list(islice(entry.found, MOST)), ""
    except (Exception, SystemExit) as error:
        return [], f"{FAILED}: {in_words(error)}"


def _faults(item: object, name: str, pairs: Iterable[Pair]) -> list[str]:
    """What is out of form about a rule; without other packages there is nothing to load."""
    from coldcheck.verdict.check import faults_of, pair_faults

    return faults_of(item) or pair_faults(name, pairs)


def _name(item: object) -> str:
    name = item.id if isinstance(item, Rule) else None
    return name if isinstance(name, str) else PACKAGES


def _pairs(entry: Entry) -> tuple[Pair, ...]:
    if entry.folder is None:
        return ()
    try:
        return pairs_in(entry.folder / PAIRS)
    except OSError:
        return ()
