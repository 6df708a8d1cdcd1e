"""A library of suspects as bytes, to be kept for the next evening, and read again.

Arrays in numpy's own format without objects, of a covariance the half to seven digits, the rest as
JSON in one of them. What is read is
only taken where it is of the same suspects, in the same order.
"""

from __future__ import annotations

import io
import json
from typing import TYPE_CHECKING
from zipfile import BadZipFile

import numpy as np

from coldcheck.bench.diagnosis.channels import Channel
from coldcheck.bench.diagnosis.library import Library
from coldcheck.bench.diagnosis.shelved_solved import every_shown, packed, places, unpacked, unplaced

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from coldcheck.bench.diagnosis.suspects import Suspect

    Array = NDArray[np.float64]

ARRAYS = ("owner", "size", "joined", "mean", "noise")


def to_bytes(library: Library) -> bytes:
    """All of a library but what its suspects are."""
    solved = library.solved
    said = {
        "suspects": [s.key for s in library.suspects],
        "channels": [[c.kind, c.net, c.point, c.peak, c.wait, c.other] for c in library.channels],
        "solved": None if solved is None else places(solved),
        "unsolved": library.unsolved,
        "lost": library.lost,
    }
    text = np.frombuffer(json.dumps(said).encode(), dtype=np.uint8)
    out = io.BytesIO()
    half = library.covariance[:, *np.triu_indices(len(library.channels))].astype(np.float32)
    arrays = {name: getattr(library, name) for name in ARRAYS}
    if solved is not None:
        arrays |= packed(every_shown(solved))
    np.savez(out, said=text, half=half, **arrays)
    return out.getvalue()


def from_bytes(content: bytes, suspects: Sequence[Suspect]) -> Library | None:
    """The library of these suspects; ``None`` where the bytes are another's, or damaged."""
    try:
        with np.load(io.BytesIO(content), allow_pickle=False) as kept:
            said = json.loads(kept["said"].tobytes())
            owner, size, joined, mean, noise = (kept[name] for name in ARRAYS)
            covariance = _whole(kept["half"].astype(float), mean.shape[1])
            solved = None if said["solved"] is None else unpacked(kept)
        if said["suspects"] != [s.key for s in suspects]:
            return None
        channels = tuple(Channel(*c) for c in said["channels"])
        lost = {key: tuple(nets) for key, nets in said["lost"].items()}
        return Library(
            tuple(suspects), channels, owner, size, joined, mean, covariance, noise,
            said["unsolved"], lost,
            None if solved is None else unplaced(said["solved"], solved, suspects),
        )  # fmt: skip
    except (ValueError, KeyError, TypeError, IndexError, OSError, EOFError, BadZipFile):
        return None


def _whole(half: Array, channels: int) -> Array:
    """Symmetric matrices (H, K, K) from what is on and above their diagonals."""
    out = np.zeros((len(half), channels, channels))
    rows, columns = np.triu_indices(channels)
    out[:, rows, columns] = out[:, columns, rows] = half
    return out
