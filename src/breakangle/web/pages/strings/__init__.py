"""Strings: what is on, and what another set or tuning would do here; the air."""
