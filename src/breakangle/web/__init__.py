"""The bench app: HTML over the wire, one service function behind each page."""
