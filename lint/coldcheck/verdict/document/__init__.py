"""A review as one document: all that it says, worked out once, as plain data."""
