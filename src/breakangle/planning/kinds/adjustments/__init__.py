"""Adjustment kinds, one file each: what the hand can change, what that does, in which order, with what care."""
