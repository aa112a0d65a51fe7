"""Kinds of instrument that the shop made by copying the nearest."""
