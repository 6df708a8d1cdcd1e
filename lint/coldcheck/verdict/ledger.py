"""The ledger of standing findings: what was there when gating began does not stop a change.

A plain text file, one line a finding, sorted, so that two branches merge: fingerprint, file, rule
and places, separated by tabs. Fingerprints decide; the rest is for the reader, and to tell two
copies of a drawing apart. A finding is *new* when no line is left for it, a line is *gone* when its
drawing was reviewed (or is no longer there) and no finding answers to it.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.document.content import Document
    from coldcheck.verdict.ruling import Ruling

HEADING = "# coldcheck ledger 1: fingerprint, drawing, rule, places; written by --update-ledger"
_FINGERPRINT = re.compile(r"[0-9a-f]{16}")


@dataclass(frozen=True, slots=True, order=True)
class Entry:
    """One standing finding; ``file`` is as the ledger's folder sees it, with forward slashes."""

    file: str
    rule: str
    places: str
    fingerprint: str

    @property
    def line(self) -> str:
        """The entry as the file holds it."""
        return "\t".join((self.fingerprint, self.file, self.rule, self.places))


class LedgerError(ValueError):
    """A line of a ledger that cannot be read; the text says which and what is wrong."""


@dataclass(frozen=True, slots=True)
class Balance:
    """Documents against a ledger.

    documents
        The same documents, standing findings marked.
    gone
        Entries that no finding answers to any more.
    kept
        Entries of drawings that were not reviewed this time.
    """

    documents: tuple[Document, ...]
    gone: tuple[Entry, ...]
    kept: tuple[Entry, ...]


def parse(text: str) -> tuple[Entry, ...]:
    """Read a ledger. Raises LedgerError naming every bad line, not only the first."""
    entries, bad = [], []
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip() or line.startswith("#"):
            continue
        fields = line.split("\t")
        if len(fields) == 4 and _FINGERPRINT.fullmatch(fields[0]):
            entries.append(Entry(fields[1], fields[2], fields[3], fields[0]))
        else:
            bad.append(f"line {number}: expected fingerprint, drawing, rule and places with tabs")
    if bad:
        raise LedgerError("; ".join(bad))
    return tuple(entries)


def written(entries: Iterable[Entry]) -> str:
    """The text of a ledger: sorted, each entry once."""
    return "\n".join([HEADING, *(e.line for e in sorted(set(entries)))]) + "\n"


def entry(finding: Finding, file: str) -> Entry:
    """The entry that stands for a finding."""
    flat = " ".join(", ".join(finding.at).split())
    return Entry(file, finding.rule, flat, finding.fingerprint)


def balance(
    documents: Sequence[Document],
    entries: Iterable[Entry],
    named: Callable[[str], str],
    exists: Callable[[str], bool],
) -> Balance:
    """Mark what stands in the ledger.

    ``named`` turns a document's file into the ledger's name of it, ``exists`` says whether a
    drawing of the ledger still is there. An entry of a drawing that is gone may answer for one
    that was renamed.
    """
    ours = {named(r.file) for r in documents}
    left = list(entries)
    first = [_marked(r, [e for e in left if e.file == named(r.file)], left) for r in documents]
    again = [
        _marked(r, [e for e in left if e.file not in ours and not exists(e.file)], left)
        for r in first
    ]
    gone = tuple(e for e in left if e.file in ours or not exists(e.file))
    return Balance(tuple(again), gone, tuple(e for e in left if e not in gone))


def _marked(document: Document, mine: list[Entry], left: list[Entry]) -> Document:
    """Mark the findings that one of the entries answers to; what was used goes out of ``left``."""
    findings = []
    for finding in document.findings:
        hit = next((e for e in mine if e.fingerprint == finding.fingerprint), None)
        if finding.standing or finding.accepted is not None or hit is None:
            findings.append(finding)
            continue
        mine.remove(hit)
        left.remove(hit)
        findings.append(replace(finding, standing=True))
    return replace(document, findings=tuple(findings))


def current(rulings: Iterable[Ruling], named: Callable[[str], str]) -> tuple[Entry, ...]:
    """The entries an updated ledger has for these drawings: what counts at the gate today."""
    return tuple(
        entry(finding, named(ruling.document.file))
        for ruling in rulings
        if ruling.document.readable
        for finding in (*ruling.counting, *(f for f in ruling.document.findings if f.standing))
    )
