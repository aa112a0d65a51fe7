"""Which adjusters to move, by how much, and which have to wait."""
