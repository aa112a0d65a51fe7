"""Complaints: taken down in parts, followed by the readings that decide them, answered at hand-back."""
