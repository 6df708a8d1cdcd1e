"""Two revisions of a drawing: which parts, voltages and findings changed."""
