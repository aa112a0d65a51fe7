"""Maps of the board, note by note, and amounts across nut or saddle."""
