"""Work: procedures step by step."""
