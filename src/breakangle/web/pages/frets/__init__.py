"""Frets: their map, what levelling would take and buy, and the work on them."""
