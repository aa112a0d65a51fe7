"""Verbs about visits."""
