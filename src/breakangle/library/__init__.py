"""The Python library: plain functions over arrays, on what the pages and the command line stand on too."""
