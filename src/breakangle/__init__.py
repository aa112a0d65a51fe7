"""Breakangle: one physical model of a fretted instrument, from bench readings to a plan."""

__version__ = "0.1.0"
