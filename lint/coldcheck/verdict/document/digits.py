"""Floats of a document: six digits are more than any of them is good for."""

from __future__ import annotations

import math
from typing import overload


@overload
def rounded(value: float, digits: int = 6) -> float: ...
@overload
def rounded(value: None, digits: int = 6) -> None: ...
@overload
def rounded(value: float | None, digits: int = 6) -> float | None: ...


def rounded(value: float | None, digits: int = 6) -> float | None:
    """A plain float of so many significant digits, or infinity; ``None`` for what is no number."""
    if value is None or math.isnan(value):
        return None
    return float(f"{float(value):.{digits}g}") + 0.0
