"""Readings to state: the most probable state, what is doubted, what the neck has taught, what is off."""
