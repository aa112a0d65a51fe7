"""Fret work at the desk: what levelling comes to on one instrument, in figures and in words."""
