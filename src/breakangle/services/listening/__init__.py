"""Listening at the bench: recordings, live takes, settling strings, and what has been heard so far."""
