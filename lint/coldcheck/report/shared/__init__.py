"""What all reports share: lines, numbers, places, signal words, the frame of a page."""
