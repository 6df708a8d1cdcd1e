"""Pages on rules, tubes and settings, and comparisons."""
