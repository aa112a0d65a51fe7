"""Verbs that look after records."""
