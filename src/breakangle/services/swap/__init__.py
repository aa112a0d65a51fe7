"""Another set of strings or tuning on an instrument, compared with what is on it now."""
