"""Drawings as SVG: the elevation, maps of the board, charts; each with the same numbers as a table."""
