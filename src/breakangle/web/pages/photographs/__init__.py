"""One photograph: captioned, marked, removed."""
