"""Readings: a box a place."""
