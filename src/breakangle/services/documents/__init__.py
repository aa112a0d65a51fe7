"""Sheets, labels and templates of a visit, and its hand-back."""
