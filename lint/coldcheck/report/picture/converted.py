"""A picture's SVG as PDF or PNG, by CairoSVG (an extra, imported here and nowhere else)."""

from __future__ import annotations

DPI = 200
"""Dots to an inch of A4: the smallest letters of a large circuit are still ten dots high."""


class NoConverterError(Exception):
    """What converts is not installed; the message says what to install."""


def to_pdf(svg: str) -> bytes:
    """The picture as a PDF of one page; raises NoConverterError."""
    return _converted(svg, "svg2pdf")


def to_png(svg: str) -> bytes:
    """The picture as a PNG on white; raises NoConverterError."""
    return _converted(svg, "svg2png")


def _converted(svg: str, how: str) -> bytes:
    try:
        import cairosvg
    except ImportError as error:
        words = "PDF and PNG want CairoSVG: pip install 'cairosvg>=2.7'"
        raise NoConverterError(words) from error
    except OSError as error:
        words = "PDF and PNG want the system's library cairo (libcairo2), which was not found"
        raise NoConverterError(words) from error
    made = getattr(cairosvg, how)(svg.encode(), dpi=DPI, background_color="#fff")
    assert isinstance(made, bytes)
    return made
