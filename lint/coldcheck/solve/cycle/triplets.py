"""Matrices from (row, column, value) entries."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

PIVOT = 0.1
"""A diagonal entry of at least this share of its column's largest stays the pivot."""

DENSE_UP_TO = 100
"""Unknowns up to which dense algebra beats sparse factors (and spares importing scipy)."""


def dense_matrix(
    shape: tuple[int, int], entries: Sequence[tuple[int, int, float]]
) -> NDArray[np.float64]:
    """Sum of the entries as an array of that shape."""
    matrix = np.zeros(shape)
    if entries:
        rows, columns, values = zip(*entries, strict=True)
        np.add.at(matrix, (np.array(rows), np.array(columns)), np.array(values))
    return matrix


def sparse_matrix(shape: tuple[int, int], entries: Sequence[tuple[int, int, float]]) -> Any:
    """The same as a scipy column-compressed array."""
    from scipy.sparse import coo_array

    rows, columns, values = zip(*entries, strict=True) if entries else ((), (), ())
    place = (np.array(rows, dtype=int), np.array(columns, dtype=int))
    return coo_array((np.array(values, dtype=float), place), shape=shape).tocsc()


def sparse_factor(matrix: Any, order: Literal["MMD_AT_PLUS_A", "NATURAL"] = "MMD_AT_PLUS_A") -> Any:
    """LU factors of a square sparse matrix, with their ``solve``; raises LinAlgError.

    Minimum degree on the symmetric pattern: a network's matrix is nearly symmetric, and a supply
    rail that feeds hundreds of stages fills the factors in the default order (by columns).
    """
    from scipy.sparse.linalg import splu

    try:
        return splu(
            matrix.tocsc(),
            permc_spec=order,
            diag_pivot_thresh=PIVOT,
            options={"SymmetricMode": True},
        )
    except RuntimeError as problem:
        raise np.linalg.LinAlgError(str(problem)) from problem
