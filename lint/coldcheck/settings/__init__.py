"""What a project says once for all its drawings, and where it says it."""
