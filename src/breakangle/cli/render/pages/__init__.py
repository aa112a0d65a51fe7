"""Pages of text for a terminal, one for what a verb shows."""
