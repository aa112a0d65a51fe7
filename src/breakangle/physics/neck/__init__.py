"""The neck: how it bends, alone and glued of two woods, and the gaps over its crowns."""
