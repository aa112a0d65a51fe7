"""Pages that are answered again as they were, for as long as nothing they show has changed."""
