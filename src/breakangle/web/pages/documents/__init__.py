"""Paper and hand-back."""
