"""Work that takes long or much memory, in processes of its own: so many at once, so many waiting, no more."""
