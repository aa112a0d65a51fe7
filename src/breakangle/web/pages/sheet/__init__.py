"""Sheet: a visit with all its parts."""
