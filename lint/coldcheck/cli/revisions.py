"""Files as a git repository holds them. git is asked; nothing is checked out."""

from __future__ import annotations

import subprocess
from typing import TYPE_CHECKING

from coldcheck.cli.failure import AskedWrongly

if TYPE_CHECKING:
    from pathlib import Path


def at_revision(path: Path, revision: str) -> str:
    """The text of a file at a revision; raises AskedWrongly where git has none."""
    if revision.startswith("-"):
        raise AskedWrongly(f"{revision} is not a revision")
    folder = path.resolve().parent
    shown = git(folder, "show", f"{revision}:./{path.name}")
    return shown.decode("utf-8", errors="replace")


def git(folder: Path, *arguments: str) -> bytes:
    """What a git command prints; raises AskedWrongly with git's own words when it fails."""
    command = ["git", "-c", "core.quotePath=false", *arguments]
    try:
        done = subprocess.run(command, cwd=folder, capture_output=True, check=False)
    except OSError as error:
        raise AskedWrongly(f"git cannot be run: {error.strerror or error}") from error
    if done.returncode:
        said = done.stderr.decode("utf-8", errors="replace").strip().splitlines()
        raise AskedWrongly(f"git {arguments[0]}: {said[-1] if said else 'failed'}")
    return done.stdout
