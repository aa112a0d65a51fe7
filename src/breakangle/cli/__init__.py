"""The command line: one verb, one desk function."""
