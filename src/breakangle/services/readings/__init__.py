"""Readings at the bench: where and how they are taken, as typed, and what each should read."""
