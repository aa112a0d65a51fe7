"""Recordings heard another way than pluck by pluck: a slide, a strum, taps, hum, old strings, how long notes ring."""
