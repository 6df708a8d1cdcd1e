"""Waivers of a trusted revision, held against what they waived there.

A waiver names a rule and a place and not how bad it was, so it would go on covering whatever a
change makes of that place. As with a ledger, what grew worse counts again.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli.cache import digest_of
from coldcheck.cli.many import reviewed
from coldcheck.files.places import where

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import date

    from coldcheck.cli.base import Base
    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.document.content import Document


def as_waived(base: Base, documents: Iterable[Document], today: date) -> list[Document]:
    """The documents, with what is worse than the revision's waivers waived counting again.

    Only drawings that differ and have something waived are looked at: the revision's own is
    reviewed for each.
    """
    return [_as_waived(base, one, today) if _stretched(base, one) else one for one in documents]


def _stretched(base: Base, document: Document) -> bool:
    """Whether a drawing has something waived, and is not what it was."""
    waived = any(f.accepted is not None for f in document.findings)
    return waived and not all(_as_it_was(base, Path(file)) for file in document.files)


def _as_it_was(base: Base, file: Path) -> bool:
    """Whether a file is what it is in the revision, and no link on the way leads elsewhere now."""
    name = base.written(file)
    before = base.folder / (name or base.name(file))
    return base.now(where(before)) == where(file) and digest_of(before) == digest_of(file)


def _as_waived(base: Base, document: Document, today: date) -> Document:
    source = base.source(Path(document.file))
    before = () if source is None else reviewed(str(source), today).findings
    known = [f for f in before if f.accepted is not None]
    findings = tuple(_held_against(known, f, base.revision) for f in document.findings)
    return replace(document, findings=findings)


def _held_against(known: Iterable[Finding], finding: Finding, revision: str) -> Finding:
    from coldcheck.verdict.ledger import entry

    if finding.accepted is None:
        return finding
    same = [entry(k, "") for k in known if k.rule == finding.rule and set(k.at) & set(finding.at)]
    if any(one.covers(finding.level, finding.excess) for one in same):
        return finding
    worst = f"worse than what is waived in {revision}" if same else f"{revision} waives none there"
    told = f" ({same[0].severity})" if same else ""
    return replace(finding, accepted=None, message=f"{finding.message}; {worst}{told}")
