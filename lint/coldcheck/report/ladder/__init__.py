"""The ladder of potentials as a picture and as text."""
