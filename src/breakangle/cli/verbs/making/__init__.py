"""Verbs about frets, parts that are made, and designs."""
