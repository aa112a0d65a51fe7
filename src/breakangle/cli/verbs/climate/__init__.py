"""Verbs about the air."""
