"""Readings and diagnosis, in their forms."""
