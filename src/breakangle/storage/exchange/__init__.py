"""A whole shop in one zip, and a zip merged into a shop."""
