"""Values as JSON carries them: finite numbers of six digits, text that can be encoded."""

from __future__ import annotations

import math


def number(value: float | None, digits: int = 6) -> float | None:
    """A plain float of six significant digits; ``None`` for what is not a finite number."""
    if value is None or not math.isfinite(value):
        return None
    return float(f"{float(value):.{digits}g}") + 0.0


def safe(text: str) -> str:
    """Text without lone surrogates (undecodable bytes of a file name), which JSON cannot carry."""
    return text.encode("utf-8", "backslashreplace").decode("utf-8")
