"""The voltage and resistance chart, and what is said of a point."""
