"""coldcheck: reviews a transcribed vacuum-tube schematic before power-up."""

__version__ = "0.1.0"
