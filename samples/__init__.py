"""Drawings that ship with the package: clean samples, and mistakes/ with a pair for each rule."""
