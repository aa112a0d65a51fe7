"""A kind of instrument made by copying the nearest: its table, its boxes as they are typed, and the way into a file."""
