"""Verbs about strings."""
