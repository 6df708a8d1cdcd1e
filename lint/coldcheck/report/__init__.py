"""Reports on a review: text for people, JSON for programs."""
