"""Tube types that only this workshop has."""
