"""Fixtures of paper: instruments of every sort, and what a rendered page measures."""
