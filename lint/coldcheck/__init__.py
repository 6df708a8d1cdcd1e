"""coldcheck: reviews a transcribed vacuum-tube schematic before power-up."""

from __future__ import annotations

TYPE_CHECKING = False  # as typing's, without importing typing: --help has to start fast
if TYPE_CHECKING:
    from pathlib import Path

    from coldcheck.rules.model import Review

__all__ = ["__version__", "review"]
__version__ = "0.1.0"


def review(path: str | Path) -> Review:
    """Review one drawing; raises OSError when the file cannot be opened.

    What is wrong in the drawing, also what cannot be read, is in the review's findings.
    """
    from pathlib import Path

    from coldcheck.rules.engine import review_file

    return review_file(Path(path))
