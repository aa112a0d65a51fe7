"""The shop's house targets."""
