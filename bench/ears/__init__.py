"""Test sounds that share nothing with listening: strings of their own physics, and what rooms and phones do to them."""
