"""Take in: an instrument and its owner."""
