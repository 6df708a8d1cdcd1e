"""Files as a git repository holds them. git is asked; nothing is checked out.

This module runs git for the whole project, and :func:`git` is its only way to. A change under
review may have come from anybody, so nothing in it may choose a program to run.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli.failure import AskedWrongly
from coldcheck.files.places import repository_of, where
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

OFF = {
    "safe.bareRepository": "explicit",  # a folder that looks like a repository is none
    "core.fsmonitor": "false",
    "core.hooksPath": os.devnull,
    "core.attributesFile": os.devnull,
    "core.pager": "cat",
    "core.editor": "false",
    "core.askPass": "",
    "core.sshCommand": "false",
    "core.gitProxy": "",
    "core.alternateRefsCommand": "",
    "core.untrackedCache": "false",
    "credential.helper": "",
    "diff.external": "",
    "gpg.program": "false",
    "log.showSignature": "false",
    "protocol.allow": "never",
    "submodule.recurse": "false",
    "core.quotePath": "false",
}
"""Settings that would run a program, fetch, or go into another repository."""

FILTER = (("clean", ""), ("smudge", ""), ("process", ""), ("required", "false"))
_NUMBER = re.compile(r"[0-9a-f]{4,39}")
"""The beginning of a commit's number, which a branch or a tag may be called as well."""

_KEPT = frozenset(("GIT_CONFIG_GLOBAL", "GIT_CONFIG_SYSTEM", "GIT_CONFIG_NOSYSTEM"))
"""Where the user's own configuration is; every other variable could lead git elsewhere."""

_PLAIN_DIFF = ("--no-ext-diff", "--no-textconv", "--ignore-submodules=all")


def at_revision(path: Path, revision: str) -> str:
    """The text of a file at a revision; raises AskedWrongly where git has none."""
    if revision.startswith("-"):
        raise AskedWrongly(f"{revision} is not a revision")
    real = where(path)
    root = root_of(real.parent)
    name = real.relative_to(root).as_posix()
    shown = git(root, "cat-file", "blob", f"{revision}:{name}")
    return shown.decode("utf-8", errors="replace")


def differing(root: Path, revision: str) -> Iterator[Path]:
    """Files that differ from the revision, also deleted ones, and files git does not know."""
    commit = commit_of(root, revision)
    changed = git(root, "diff", *_PLAIN_DIFF, "--no-renames", "--name-only", "-z", commit, "--")
    new = git(root, "ls-files", "--others", "--exclude-standard", "-z")
    names = (changed + new).split(b"\0")
    return (root / n.decode("utf-8", errors="surrogateescape") for n in names if n)


def commit_of(root: Path, revision: str) -> str:
    """The commit a revision names, in full; raises AskedWrongly where there is none.

    Nor is one taken of two: whoever may set a tag could call it as the branch that is meant.
    """
    kinds = [f"refs/{kind}/{revision}" for kind in ("tags", "heads", "remotes")]
    named = git(root, "for-each-ref", "--format=%(refname)", "--", *kinds).decode().split("\n")
    several = [kind for kind in kinds if kind in named]
    if _NUMBER.fullmatch(revision):
        several += [f"the commit {revision}"]
    if len(several) > 1:
        raise AskedWrongly(f"{revision} may be {' or '.join(several)}: name one in full")
    asked = ("rev-parse", "--verify", "--quiet", "--end-of-options", f"{revision}^{{commit}}")
    try:
        return git(root, *asked).decode("ascii").strip()
    except AskedWrongly as error:
        raise AskedWrongly(_no_revision(root, revision)) from error


def _no_revision(root: Path, revision: str) -> str:
    """Why a revision may not be there: a clone of hosted CI has one commit unless told."""
    said = f"git has no revision {revision} here"
    shallow = (root / ".git" / "shallow").exists()
    return f"{said}: the clone is shallow; fetch all of it (fetch-depth: 0)" if shallow else said


@dataclass(frozen=True, slots=True)
class Blob:
    """A file as a commit has it; ``mode`` is git's, 120000 for a link. A folder has no number."""

    name: str
    mode: str
    number: str
    size: int


def files_at(root: Path, commit: str) -> Iterator[Blob]:
    """The files and folders of a commit."""
    for line in git(root, "ls-tree", "-r", "-t", "-l", "-z", "--full-tree", commit).split(b"\0"):
        head, _, name = line.partition(b"\t")
        if name:
            mode, kind, number, size = head.decode("ascii").split()
            text = name.decode("utf-8", errors="surrogateescape")
            yield Blob(
                text, mode, number if kind == "blob" else "", 0 if size == "-" else int(size)
            )


def contents_of(root: Path, blobs: Sequence[Blob]) -> Iterator[bytes]:
    """The bytes of each file, asked for all at once."""
    asked = "".join(f"{blob.number}\n" for blob in blobs).encode("ascii")
    told = git(root, "cat-file", "--batch", told=asked) if blobs else b""
    at = 0
    for blob in blobs:
        start = told.index(b"\n", at) + 1
        if told[at:start].endswith(b" missing\n"):
            raise AskedWrongly(f"git has not all of the revision here: {blob.name} is missing")
        at = start + blob.size + 1
        yield told[start : start + blob.size]


def root_of(folder: Path) -> Path:
    """The root of a folder's repository; raises AskedWrongly where it is in none."""
    root = repository_of(folder)
    if root is None:
        raise AskedWrongly(f"{folder} is in no git repository")
    return root


def root_for(folder: Path) -> Path:
    """The root of the repository a folder is reviewed for; raises AskedWrongly where it is in none.

    That is the one we stand in where the folder lies in it: a folder that a change makes a
    repository of its own is not to say itself which revision is trusted.
    """
    ours = repository_of(Path())
    return ours if ours is not None and where(folder).is_relative_to(ours) else root_of(folder)


def git(root: Path, *arguments: str, told: bytes = b"") -> bytes:
    """What a git command prints; raises AskedWrongly with git's own words when it fails.

    ``told`` is what it reads on its standard input.

    It runs in the root of a work tree, never in a folder of it, and starts no other program:
    neither hooks nor monitors, pagers, filters or helpers.
    """
    if repository_of(root) != root:
        raise AskedWrongly(f"{root} is not the root of a git repository")
    return _run(root, [*_settings(OFF.items()), *_settings(_filters_off(root))], arguments,
                told=told)  # fmt: skip


def _filters_off(root: Path) -> Iterator[tuple[str, str]]:
    """The filters of the configuration, which a file of the change could ask for by name."""
    asked = ("config", "--name-only", "-z", "--get-regexp", r"^filter\.")
    listed = _run(root, _settings(OFF.items()), asked, fine=(0, 1))  # 1: there are none
    keys = listed.decode("utf-8", errors="surrogateescape").split("\0")
    for name in dict.fromkeys(key.rpartition(".")[0] for key in keys if key):
        yield from ((f"{name}.{what}", value) for what, value in FILTER)


def _settings(pairs: Iterable[tuple[str, str]]) -> list[str]:
    return [word for name, value in pairs for word in ("-c", f"{name}={value}")]


def _run(
    root: Path, settings: Sequence[str], arguments: Sequence[str], fine: Sequence[int] = (0,),
    told: bytes = b"",
) -> bytes:  # fmt: skip
    command = [_program(), "--no-pager", *settings, *arguments]
    try:
        done = subprocess.run(
            command, cwd=root, env=_surroundings(root), input=told,
            capture_output=True, check=False,
        )  # fmt: skip
    except OSError as error:
        raise AskedWrongly(f"git cannot be run: {error.strerror or error}") from error
    if done.returncode not in fine:
        said = done.stderr.decode("utf-8", errors="replace").strip().splitlines()
        raise AskedWrongly(f"git {arguments[0]}: {said[-1] if said else 'failed'}")
    return done.stdout


def _program() -> str:
    """Git itself, by a folder of the path that does not depend on where we stand."""
    folders = os.environ.get("PATH", os.defpath).split(os.pathsep)
    fixed = os.pathsep.join(f for f in folders if Path(f).is_absolute())
    found = shutil.which("git", path=fixed)
    if found is None:
        raise AskedWrongly("git cannot be run: it is not installed")
    return found


def _surroundings(root: Path) -> dict[str, str]:
    """The environment without what leads git elsewhere; it looks no further up than the root."""
    own = {k: v for k, v in os.environ.items() if not k.startswith("GIT_") or k in _KEPT}
    return {
        **own,
        "GIT_CEILING_DIRECTORIES": str(root.parent),
        "GIT_WORK_TREE": str(root),
        "GIT_OPTIONAL_LOCKS": "0",
        "GIT_NO_LAZY_FETCH": "1",
        "GIT_NO_REPLACE_OBJECTS": "1",
        "GIT_TERMINAL_PROMPT": "0",
        "GIT_ATTR_NOSYSTEM": "1",
    }
