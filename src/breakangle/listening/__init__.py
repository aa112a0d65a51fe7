"""Samples in, judged pitch readings out: the same code for a file, a live stream and a test signal."""
