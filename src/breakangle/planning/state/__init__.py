"""The state of an instrument as numbers: its layout, its board, and everything that can be read off it."""
