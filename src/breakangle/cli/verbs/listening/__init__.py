"""Verbs that listen."""
