"""Design: from what is wanted of an instrument to its geometry, its tolerance budget, and its first visit."""
