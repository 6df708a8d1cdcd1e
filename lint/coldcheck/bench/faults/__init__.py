"""Every single fault of a drawing, and what it brings about."""
