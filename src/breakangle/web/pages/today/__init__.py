"""Today, and the first page of a new shop."""
