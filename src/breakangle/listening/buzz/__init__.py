"""Buzz heard: a string that strikes something once a period, since when, until when, and where."""
