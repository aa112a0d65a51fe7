"""Which instrument is which: asked where two may be the same, joined by a person, and split again."""
