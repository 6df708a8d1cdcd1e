"""The grammar of the language and the tables made from it, shipped as package data."""
