"""What is said when the tool itself fails, or was asked for something it does not have."""

from __future__ import annotations

import errno
from typing import TypeGuard

from coldcheck.report.shared.plain import clean

_FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
"""A disk or a share of it that is full: no fault of ours, and nothing to report to us."""


def full(error: Exception) -> TypeGuard[OSError]:
    """Whether it is that a disk is full."""
    return isinstance(error, OSError) and error.errno in _FULL


class AskedWrongly(Exception):  # noqa: N818 - not an error of the tool
    """The command cannot do what was asked; each argument is one plain line for the user."""


class PackageFailed(Exception):  # noqa: N818 - not an error of the tool
    """What another package brings broke down; the message names the package."""


def failure_text(error: Exception) -> str:
    """The lines for an exception that reached the top."""
    if isinstance(error, AskedWrongly):
        return "\n".join(f"coldcheck: {clean(str(line))}" for line in error.args)
    if full(error):
        return f"coldcheck: cannot write: {error.strerror}. No verdict was reported in full."
    what = clean(f"{type(error).__name__}: {error}".removesuffix(": "))
    notes = "".join(f" ({clean(n)})" for n in getattr(error, "__notes__", ()))
    if isinstance(error, PackageFailed):
        return (
            f"coldcheck: {clean(str(error))}\n"
            "What that package looks for was not judged, so no verdict was reached. This is a\n"
            "fault of the package, not of the drawing."
        )
    return (
        f"coldcheck failed: {what}{notes}\n"
        "No verdict was reached. This is a fault of coldcheck, not of the drawing: please report\n"
        "the line above together with the drawing (COLDCHECK_DEBUG=1 shows the details)."
    )
