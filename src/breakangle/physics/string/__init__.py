"""The string: mass, pull, stiffness, stopping, winding, nut and intonation."""
