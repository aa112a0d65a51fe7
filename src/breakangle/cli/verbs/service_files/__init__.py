"""Verbs about one service file."""
