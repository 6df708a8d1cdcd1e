"""Where this copy was installed from, as the installer noted it (PEP 610): address and commit.

Nothing else knows: whoever publishes a copy does it where they like, and a fixed address would
send readers of a report to another's.
"""

from __future__ import annotations

import json
from importlib import metadata
from urllib.parse import urlsplit

from coldcheck.records import dataclass


@dataclass(frozen=True, slots=True)
class Origin:
    """The repository a copy was installed from, and the commit of it."""

    address: str
    commit: str

    def page(self, file: str) -> str:
        """The address of a file, as hosted services have it."""
        return f"{self.address}/blob/{self.commit}/{file}"


def origin() -> Origin | None:
    """Where this copy comes from; ``None`` where nobody else could go and look."""
    try:
        noted = metadata.distribution("coldcheck").read_text("direct_url.json")
    except metadata.PackageNotFoundError:
        return None
    return None if noted is None else parsed(noted)


def parsed(noted: str) -> Origin | None:
    """The origin in an installer's note; ``None`` for a folder, an archive, or anything else."""
    try:
        known = json.loads(noted)
        address, commit = str(known["url"]), str(known["vcs_info"]["commit_id"])
        parts = urlsplit(address)
    except (ValueError, KeyError, TypeError):
        return None
    if parts.scheme != "https" or not parts.hostname or "@" in parts.netloc:
        return None
    return Origin(address.removesuffix("/").removesuffix(".git"), commit)
