"""The small-signal solution about the working point: gains, corners, hum, stability."""
