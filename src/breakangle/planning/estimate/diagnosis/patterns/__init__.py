"""Patterns, one file each: what it is, what of it a reading shows, from which size it matters, what is done."""
