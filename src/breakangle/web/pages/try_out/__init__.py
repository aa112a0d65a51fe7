"""Try out: controls, and what the board answers."""
