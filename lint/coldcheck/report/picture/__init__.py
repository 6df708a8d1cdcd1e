"""Pictures as files: SVG, and a page with one in it."""
