"""Verbs over many instruments at once."""
