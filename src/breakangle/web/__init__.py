"""The bench app: HTML over the wire, one desk function behind each page."""
