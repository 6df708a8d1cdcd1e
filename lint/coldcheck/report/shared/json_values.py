"""Values as JSON carries them: finite numbers of six digits, text that can be encoded."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any


def number(value: float | None, digits: int = 6) -> float | None:
    """A plain float of six significant digits; ``None`` for what is not a finite number."""
    if value is None or not math.isfinite(value):
        return None
    return float(f"{float(value):.{digits}g}") + 0.0


def safe(text: str) -> str:
    """Text without lone surrogates (undecodable bytes of a file name), which JSON cannot carry."""
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def whole(value: Any, leave: tuple[str, ...] = ()) -> Any:
    """Plain data with every number and text in it fit for JSON; ``leave`` are fields left out."""
    if isinstance(value, Mapping):
        kept = ((k, v) for k, v in value.items() if k not in leave)
        return {safe(k): whole(v, leave) for k, v in kept}
    if isinstance(value, (list, tuple)):
        return [whole(inner, leave) for inner in value]
    if isinstance(value, float):
        return number(value)
    return safe(value) if isinstance(value, str) else value
