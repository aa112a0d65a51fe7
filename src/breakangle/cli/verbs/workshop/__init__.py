"""Verbs about the workshop and its server."""
