"""Geometry of making: neck angle, nut, saddle, frets and bridge as functions of plain lengths."""
