"""The ledger of standing findings: what was there when gating began does not stop a change.

A plain text file, one line a finding, sorted, so that two branches merge: fingerprint, drawing,
rule, places, level, how many times the limit, the day and the revision it came in with, and the
shape of the circuit there, separated by tabs. A finding stands when a line has its fingerprint and
is as grave; what grew worse counts again. Where a place was renamed, the circuit around it says
whether it is the same. A line is *gone* when its drawing was reviewed (or is no longer there) and
no finding answers to it.
"""

from __future__ import annotations

import re
from dataclasses import field, replace
from math import isfinite
from typing import TYPE_CHECKING

from coldcheck.judge.finding import LEVELS
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.document.content import Document
    from coldcheck.verdict.ruling import Ruling

HEADING = (
    "# coldcheck ledger 2: fingerprint, drawing, rule, places, level, times the limit, day, "
    "revision, shape; written by --update-ledger"
)
WORSE = 1.1
"""So many times further beyond its limit than the ledger has it, a finding has grown worse."""

_MARK = re.compile(r"[0-9a-f]{16}")
_DAY = re.compile(r"\d{4}-\d\d-\d\d")
_FIELDS, _FORMER = 9, 4
_MOST = 1e6
_EXPECTED = (
    "expected fingerprint, drawing, rule, places, level, times the limit, day, revision and shape "
    "with tabs"
)
_MERGING = ("<<<<<<<", "=======", ">>>>>>>", "|||||||")


@dataclass(frozen=True, slots=True, order=True)
class Entry:
    """One standing finding; ``file`` is as the ledger's folder sees it, with forward slashes.

    ``level`` is empty, and the entry covers nothing, where the ledger is of the former form.
    """

    file: str
    rule: str
    places: str
    fingerprint: str
    level: str = ""
    excess: float = 0.0
    day: str = ""
    revision: str = "-"
    shape: str = ""

    @property
    def line(self) -> str:
        """The entry as the file holds it."""
        what = (self.fingerprint, self.file, self.rule, self.places)
        return "\t".join(
            (*what, self.level, f"{self.excess:.3g}", self.day, self.revision, self.shape)
        )

    @property
    def severity(self) -> str:
        """How bad it was, in words."""
        return f"{self.level}, {self.excess:.3g} times the limit" if self.level else "no level"

    def same(self, other: Entry) -> bool:
        """Whether both are of one finding, by every mark there is."""
        ours, theirs = (self.file, self.rule, self.fingerprint), (other.file, other.rule)
        return ours == (*theirs, other.fingerprint) and self.shape == other.shape

    def covers(self, level: str, excess: float) -> bool:
        """Whether something so grave is not worse than what is known."""
        if not self.level or LEVELS.index(level) > LEVELS.index(self.level):
            return False
        return _bounded(excess) <= WORSE * self.excess

    def within(self, other: Entry) -> bool:
        """Whether another line of the same finding covers as much as this one."""
        level = LEVELS.index(self.level) <= LEVELS.index(other.level) if other.level else False
        return self.same(other) and level and self.excess <= other.excess


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
    met
        The entry that each standing finding answers to, by drawing and fingerprint.
    """

    documents: tuple[Document, ...]
    gone: tuple[Entry, ...]
    kept: tuple[Entry, ...]
    met: dict[tuple[str, str], Entry]


def parse(text: str) -> tuple[Entry, ...]:
    """Read a ledger. Raises LedgerError naming every bad line, not only the first.

    Of lines that only differ in how grave they are, as a merge may leave them, the mildest holds.
    """
    entries: list[Entry] = []
    bad: list[str] = []
    for number, line in enumerate(text.split("\n"), 1):  # no other sign ends a line
        if not line.strip() or line.startswith("#"):
            continue
        found = _entry(line.split("\t"))
        if found is not None:
            entries.append(found)
        elif line.startswith(_MERGING):
            bad.append(f"line {number}: the mark of a merge; keep the lines of both sides")
        else:
            bad.append(f"line {number}: {_EXPECTED}")
    if bad:
        raise LedgerError("; ".join(bad))
    return _once(entries)


def refused_name(names: Iterable[str]) -> str:
    """The first name that no line could have: a tab or the end of a line in it; else nothing."""
    return next((n for n in names if set(n) & set("\t\n\r") or not _is_text(n)), "")


def _is_text(name: str) -> bool:
    try:
        name.encode("utf-8")
    except UnicodeEncodeError:  # bytes of a name that are no text
        return False
    return True


def _entry(fields: Sequence[str]) -> Entry | None:
    if len(fields) not in (_FIELDS, _FORMER) or not _MARK.fullmatch(fields[0]):
        return None
    mark, file, rule, places, *more = fields
    if not more:
        return Entry(file, rule, places, mark)
    level, excess, day, revision, shape = more
    if level not in LEVELS or not _DAY.fullmatch(day) or not _MARK.fullmatch(shape):
        return None
    try:
        number = float(excess)
    except ValueError:
        return None
    if not isfinite(number) or number < 0:
        return None
    return Entry(file, rule, places, mark, level, number, day, revision, shape)


def _once(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    """One entry a finding of a drawing, the mildest."""
    known: dict[tuple[str, str], Entry] = {}
    for one in entries:
        key = (one.file, one.fingerprint)
        if key not in known or _grave(one) < _grave(known[key]):
            known[key] = one
    return tuple(known.values())


def _grave(entry: Entry) -> tuple[int, float, Entry]:
    return (LEVELS.index(entry.level) if entry.level else -1, entry.excess, entry)


def written(entries: Iterable[Entry]) -> str:
    """The text of a ledger: sorted, each entry once; what has no level is left out."""
    kept = (e for e in _once(entries) if e.level)
    return "\n".join([HEADING, *(e.line for e in sorted(kept))]) + "\n"


def added(old: Iterable[Entry], new: Iterable[Entry]) -> tuple[Entry, ...]:
    """The entries of a ledger that another has none for, or only milder ones.

    There is no tenth here: what grows by a tenth with every change has no end.
    """
    known = list(old)
    return tuple(e for e in new if e.level and not any(e.within(k) for k in known))


def entry(finding: Finding, file: str, day: str = "", revision: str = "-") -> Entry:
    """The entry that stands for a finding."""
    flat = " ".join(", ".join(finding.at).split())
    excess = float(f"{_bounded(finding.excess):.3g}")
    return Entry(
        file, finding.rule, flat, finding.fingerprint,
        finding.level, excess, day, revision, finding.shape,
    )  # fmt: skip


def _bounded(excess: float) -> float:
    return min(excess, _MOST) if excess >= 0 else 1.0  # what is no number is beyond by nothing


def balance(
    documents: Sequence[Document],
    entries: Iterable[Entry],
    named: Callable[[str], str],
    exists: Callable[[str], bool],
) -> Balance:
    """Mark what stands in the ledger.

    ``named`` turns a document's file into the ledger's name of it, ``exists`` says whether a
    drawing of the ledger still is there. An entry of a drawing that is gone may answer for one
    that was renamed, and one without its finding for a place that was, where the circuit around
    is the same: of what else a drawing is called the ledger knows nothing.
    """
    ours = {named(r.file) for r in documents}
    book = _Book(list(entries), named)
    for by_shape in (False, True):
        documents = [book.marked(d, lambda e, f: e.file == f, by_shape) for d in documents]
        documents = [
            book.marked(d, lambda e, _: e.file not in ours and not exists(e.file), by_shape=True)
            for d in documents
        ]
    gone = tuple(e for e in book.left if e.file in ours or not exists(e.file))
    kept = tuple(e for e in book.left if e not in gone)
    return Balance(tuple(map(book.worse, documents)), gone, kept, book.met)


@dataclass(frozen=True, slots=True)
class _Book:
    """The entries that no finding has answered to yet; what was used goes out of ``left``."""

    left: list[Entry]
    named: Callable[[str], str]
    met: dict[tuple[str, str], Entry] = field(default_factory=dict)

    def marked(
        self, document: Document, meant: Callable[[Entry, str], bool], by_shape: bool
    ) -> Document:
        """Mark the findings that one of the entries meant answers to."""
        file = self.named(document.file)
        findings = []
        for finding in document.findings:
            hit = None if _settled(finding) else self._hit(finding, file, meant, by_shape)
            if hit is not None:
                self.left.remove(hit)
                self.met[file, finding.fingerprint] = hit
            findings.append(finding if hit is None else replace(finding, standing=True))
        return replace(document, findings=tuple(findings))

    def _hit(
        self, finding: Finding, file: str, meant: Callable[[Entry, str], bool], by_shape: bool
    ) -> Entry | None:
        """The mildest entry for a finding that is as grave."""
        fit = [
            e
            for e in self.left
            if meant(e, file) and _of(e, finding, by_shape)
            and e.covers(finding.level, finding.excess)
        ]  # fmt: skip
        return min(fit, key=_grave, default=None)

    def worse(self, document: Document) -> Document:
        """Say of findings that count how the ledger knows them, where it does."""
        file = self.named(document.file)
        findings = []
        for finding in document.findings:
            known = None
            if not _settled(finding):
                known = next((e for e in self.left if _known(e, finding, file)), None)
            told = finding.message if known is None else (
                f"{finding.message}; worse than the ledger has it ({known.severity})"
            )  # fmt: skip
            findings.append(replace(finding, message=told))
        return replace(document, findings=tuple(findings))


def _settled(finding: Finding) -> bool:
    return finding.standing or finding.loosens or finding.accepted is not None


def _of(entry: Entry, finding: Finding, by_shape: bool) -> bool:
    if by_shape:
        return bool(entry.shape) and (entry.rule, entry.shape) == (finding.rule, finding.shape)
    return entry.fingerprint == finding.fingerprint


def _known(entry: Entry, finding: Finding, file: str) -> bool:
    return entry.file == file and bool(entry.level) and _of(entry, finding, by_shape=False)


def current(
    rulings: Iterable[Ruling],
    named: Callable[[str], str],
    met: dict[tuple[str, str], Entry] | None = None,
    day: str = "",
    revision: str = "-",
) -> tuple[Entry, ...]:
    """The entries an updated ledger has for these drawings: what counts at the gate today.

    What stood keeps the day and revision it came in with, and how grave it was where it is as grave
    now; one that grew milder is known as milder from now on.
    """
    return tuple(
        _renewed(entry(finding, named(ruling.document.file), day, revision), met or {})
        for ruling in rulings
        if ruling.document.readable
        for finding in (*ruling.counting, *(f for f in ruling.document.findings if f.standing))
        if not finding.loosens
    )


def _renewed(new: Entry, met: dict[tuple[str, str], Entry]) -> Entry:
    old = met.get((new.file, new.fingerprint))
    if old is None:
        return new
    as_grave = new.covers(old.level, old.excess)
    excess = old.excess if as_grave else new.excess
    return replace(new, day=old.day, revision=old.revision, excess=excess)
