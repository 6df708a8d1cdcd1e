"""From readings to the faults that explain them."""
