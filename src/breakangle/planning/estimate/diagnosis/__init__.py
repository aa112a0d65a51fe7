"""Patterns over many readings: what is the matter with an instrument, how surely, and by how much."""
