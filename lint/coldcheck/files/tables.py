"""The tables of a text in TOML, whatever it does to whoever reads it."""

from __future__ import annotations

import tomllib
from typing import Any

NotToml = tomllib.TOMLDecodeError


def tables(text: str) -> dict[str, Any]:
    """The tables of a text; raises NotToml, in words, for every text that has none.

    The library gives up in other ways on values nested deeper than it can call itself, and on
    numbers of more digits than Python reads.
    """
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise NotToml("values that are nested too deep") from None
    except ValueError as error:
        if isinstance(error, NotToml):
            raise
        raise NotToml("a number of too many digits") from None
