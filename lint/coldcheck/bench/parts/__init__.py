"""What a drawing is built from: each part with what it must stand, and what its leads join."""
