"""The command line: one verb, one service function."""
