"""Instruments: the list, one instrument, joining and splitting."""
