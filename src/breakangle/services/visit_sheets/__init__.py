"""The sheet of a visit: everything about it in one place, and what was stored on it lately."""
