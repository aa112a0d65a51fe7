"""Kinds of reading, adjustment and target, one file each, with what they share: registry and prior."""
