"""Verbs about bench procedures."""
