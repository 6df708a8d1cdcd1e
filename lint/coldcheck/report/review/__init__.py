"""A review as text, page, JSON, SARIF, JUnit and annotations."""
