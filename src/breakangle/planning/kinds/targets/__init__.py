"""Target kinds, one file each: what is wanted, and how far off is still good."""
