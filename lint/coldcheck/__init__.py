"""coldcheck: reviews a text transcription of a vacuum-tube schematic before the first power-up.

``coldcheck.read(path)`` and ``coldcheck.read_text(text)`` give a drawing to work with,
``coldcheck.review(path)`` and ``coldcheck.review_text(text)`` its review; see :mod:`coldcheck.api`.
"""

__version__ = "0.1.0"

__all__ = ["__version__", "read", "read_text", "review", "review_text"]

TYPE_CHECKING = False  # as typing's, without importing typing: the command line starts here
if TYPE_CHECKING:
    from coldcheck.api import read, read_text, review, review_text


def __getattr__(name: str) -> object:
    """Import the interface when it is first used; the command line does not need it."""
    if name in ("read", "read_text", "review", "review_text"):
        from coldcheck import api

        return getattr(api, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
