"""The interface for programs: JSON in, JSON out."""
