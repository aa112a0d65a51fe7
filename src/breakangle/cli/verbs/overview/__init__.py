"""Verbs that list what is in the shop."""
