"""The side view of an instrument: strings over the board, moves, marks and words."""
