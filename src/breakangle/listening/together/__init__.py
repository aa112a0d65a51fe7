"""Several notes in one go: all open strings strummed at once, all frets of a string in one slide."""
