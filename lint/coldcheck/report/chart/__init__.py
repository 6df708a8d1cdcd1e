"""The chart and the explanation of a point, in their forms."""
